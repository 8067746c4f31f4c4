"""What the bench said of an instrument is good for one state of it, and for no words but its own."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from sqlalchemy import Engine, text

from tests.conftest import on_sqlite
from webapp.setups.journal import Entry, EntryKind
from webapp.store import bench_lines, benches, entries, instruments, lessons, setups
from webapp.store.bench_lines import KeptLine
from webapp.store.engine import Session, reading, writing
from webapp.trade.words import Check

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
NOTE = Entry(EntryKind.NOTE, Check.START, "log", typed="hello")


class Shop:
    """A bench with an instrument, one setup of it done for another bench's lesson and one finished."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        with writing(engine) as session:
            self.teacher, self.bench = benches.make(session, NOON), benches.make(session, NOON)
            self.instrument = instruments.add(session, self.bench, "make", '{"one": 1}')
            done = setups.start(session, self.bench, self.instrument, "done", NOON)
            setups.finish(session, self.bench, done, 1, NOON)
            self.setup = setups.start(session, self.bench, self.instrument, "begin", NOON)
            self.lesson = lessons.add(session, self.teacher, "l", '{"title": "A"}', 5, NOON, b"seed")
            lessons.bind(session, self.bench, self.setup, self.lesson)

    def line(self, by: str = "mm", bench: str = "") -> KeptLine:
        with reading(self.engine) as session:
            (found,) = bench_lines.of_bench(session, bench or self.bench, by)
        return found

    def keep(self, said: str, bench: str = "") -> None:
        line = self.line()
        with writing(self.engine, self.bench) as session:
            bench_lines.keep(session, bench or self.bench, [(line, said)])


@pytest.fixture
def shop(engine: Engine) -> Shop:
    return Shop(engine)


def test_what_was_said_is_there_while_nothing_changes_and_the_newest_words_count(shop: Shop) -> None:
    assert shop.line().said == ""
    shop.keep("first")
    shop.keep("zweitens: 2 ½ — “gut”")
    assert shop.line().said == "zweitens: 2 ½ — “gut”"


CHANGES: dict[str, Callable[[Session, Shop], object]] = {
    "an entry": lambda s, shop: entries.append(s, shop.bench, shop.setup, "f", {}, [NOTE], NOON),
    "a setup begun": lambda s, shop: setups.start(s, shop.bench, shop.instrument, "again", NOON),
    "a setup finished": lambda s, shop: setups.finish(s, shop.bench, shop.setup, 1, NOON),
    "another description": lambda s, shop: instruments.revise(s, shop.bench, shop.instrument, "{}", 1),
    "its lesson changed": lambda s, shop: lessons.revise(
        s, shop.teacher, shop.lesson, '{"title": "B"}', 5, 1, NOON
    ),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_it_is_not_said_of_any_other_state(shop: Shop, change: Callable[[Session, Shop], object]) -> None:
    shop.keep("before")
    state = shop.line().state
    with writing(shop.engine, shop.bench) as session:
        change(session, shop)
    assert shop.line().said == "" and shop.line().state != state


def test_it_is_not_said_in_another_unit(shop: Shop) -> None:
    shop.keep("0.3 mm")
    assert shop.line("in").said == "" and shop.line("mm").said == "0.3 mm"


@pytest.mark.parametrize("hurt", ["said = 'food'", "seal = '0123456789abcdef'"])
def test_words_on_which_a_bit_flipped_are_not_said(shop: Shop, hurt: str) -> None:
    shop.keep("good")
    with writing(shop.engine) as session:
        session.connection().execute(text(f"UPDATE bench_line SET {hurt}"))
    assert shop.line().said == ""


@on_sqlite
def test_words_that_are_no_text_any_more_are_said_anew(shop: Shop) -> None:
    shop.keep("good")
    with writing(shop.engine) as session:
        session.connection().execute(text("UPDATE bench_line SET said = CAST(x'ff30' AS TEXT)"))
    assert shop.line().said == ""
    shop.keep("anew")
    assert shop.line().said == "anew"


def test_nobody_keeps_words_for_another_bench(shop: Shop) -> None:
    shop.keep("theirs", bench=shop.teacher)
    assert shop.line().said == ""
    with reading(shop.engine) as session:
        assert bench_lines.of_bench(session, shop.teacher, "mm") == []


def test_an_instrument_that_was_taken_off_is_told_with_its_day(shop: Shop) -> None:
    with writing(shop.engine, shop.bench) as session:
        instruments.archive(session, shop.bench, shop.instrument)
    assert shop.line().row.archived_at is not None
