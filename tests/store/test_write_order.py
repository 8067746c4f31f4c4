"""Several writers at once: what one looked at stays true until it has written. On both databases."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import TypeVar

import pytest
from sqlalchemy import Engine

from tests.forked import PATIENCE_S
from tests.store.kept_entries import kept_entries
from webapp.setups.journal import Entry, EntryKind
from webapp.store import benches, entries, instruments, rates, setups
from webapp.store.engine import reading, writing
from webapp.store.errors import AlreadyRecorded, Finished, Stale
from webapp.trade.words import Check

T = TypeVar("T")
NOW = datetime(2026, 3, 10, 12, tzinfo=UTC)
NOTE = Entry(EntryKind.NOTE, Check.RELIEF, "relief", typed="x")


def at_once(deeds: list[Callable[[], T]]) -> list[T | Exception]:
    """What came of each, when all begin at the same moment."""
    together = threading.Barrier(len(deeds))
    found: list[T | Exception] = [RuntimeError("never ran")] * len(deeds)

    def do(place: int) -> None:
        together.wait()
        try:
            found[place] = deeds[place]()
        except Exception as problem:
            found[place] = problem

    threads = [threading.Thread(target=do, args=(place,)) for place in range(len(deeds))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return found


@pytest.fixture
def bench(engine: Engine) -> str:
    with writing(engine) as session:
        return benches.make(session, NOW)


@pytest.fixture
def instrument(engine: Engine, bench: str) -> str:
    with writing(engine) as session:
        return instruments.add(session, bench, "f", "{}")


@pytest.fixture
def setup(engine: Engine, bench: str, instrument: str) -> str:
    with writing(engine) as session:
        return setups.start(session, bench, instrument, "s", NOW)


def kept(found: list[T | Exception]) -> list[T]:
    return [one for one in found if not isinstance(one, Exception)]


def test_a_form_sent_six_times_at_once_is_recorded_once(engine: Engine, bench: str, setup: str) -> None:
    def send() -> list[int]:
        with writing(engine) as session:
            made = entries.append(session, bench, setup, "form", {"relief": 0}, [NOTE, NOTE], NOW)
            return [one.id for one in made]

    found = at_once([send] * 6)
    (ids,) = kept(found)
    assert all(isinstance(one, AlreadyRecorded) and one.recorded_id == ids[0] for one in found if one != ids)
    with reading(engine) as session:
        assert [row.id for row in kept_entries(session, bench, setup)] == ids


def test_of_six_forms_that_saw_the_same_one_wins(engine: Engine, bench: str, setup: str) -> None:
    def send(form: str) -> list[int]:
        with writing(engine) as session:
            return [one.id for one in entries.append(session, bench, setup, form, {"relief": 0}, [NOTE], NOW)]

    found = at_once([lambda form=f"f{n}": send(form) for n in range(6)])
    ((first,),) = kept(found)
    newest = [one.newest for one in found if isinstance(one, Stale)]
    assert len(newest) == 5 and all(row is not None and row.id == first for row in newest)


def test_nothing_is_written_into_a_setup_that_is_being_finished(
    engine: Engine, bench: str, setup: str
) -> None:
    def finish() -> None:
        with writing(engine) as session:
            setups.finish(session, bench, setup, 1, NOW)
            time.sleep(0.2)

    def send(form: str) -> None:
        with writing(engine) as session:
            entries.append(session, bench, setup, form, {}, [NOTE], NOW)

    found = at_once([finish, finish, *(lambda form=f"f{n}": send(form) for n in range(4))])
    with reading(engine) as session:
        written = len(kept_entries(session, bench, setup))
    assert sum(isinstance(one, Finished) for one in found[:2]) == 1
    assert [type(one) for one in found[2:] if one is not None] == [Finished] * (4 - written)


@pytest.mark.parametrize("what", ["instrument", "setup"])
def test_a_thing_is_made_once(engine: Engine, bench: str, instrument: str, what: str) -> None:
    def make() -> str:
        with writing(engine) as session:
            if what == "instrument":
                return instruments.add(session, bench, "new", "{}")
            return setups.start(session, bench, instrument, "new", NOW)

    found = at_once([make] * 5)
    (made,) = kept(found)
    assert {one.recorded_id for one in found if isinstance(one, AlreadyRecorded)} == {made}


def test_of_two_descriptions_that_build_on_the_same_one_wins(
    engine: Engine, bench: str, instrument: str
) -> None:
    def revise(words: str) -> int:
        with writing(engine) as session:
            return instruments.revise(session, bench, instrument, words, 1)

    found = at_once([lambda words=f'{{"n": {n}}}': revise(words) for n in range(4)])
    assert kept(found) == [2] and sum(isinstance(one, Stale) for one in found) == 3


def test_a_limit_holds_in_a_rush(engine: Engine) -> None:
    limit = rates.Limit("test", 5, 100, timedelta(minutes=1))

    def take() -> bool:
        with writing(engine) as session:
            return rates.take(session, limit, "127.0.0.1", NOW)

    assert sorted(map(repr, at_once([take] * 12))) == ["False"] * 7 + ["True"] * 5


def test_several_first_starts_give_one_name(engine: Engine) -> None:
    def name() -> str:
        with writing(engine, "instance") as session:
            return benches.get_or_make(session).id

    found = at_once([name] * 5)
    assert len(kept(found)) == 5 and len(set(kept(found))) == 1


def test_those_of_one_turn_wait_and_others_do_not(engine: Engine, bench: str) -> None:
    """On SQLite there is one writer at a time, whatever turn it takes."""
    order: list[str] = []
    begun, others_done = threading.Event(), threading.Event()

    def slow() -> None:
        with writing(engine, "one"):
            begun.set()
            if engine.dialect.name == "postgresql":
                assert others_done.wait(PATIENCE_S)
            time.sleep(0.2)
            order.append("slow")

    def next_one(turn: str) -> None:
        begun.wait()
        with writing(engine, turn):
            order.append(turn)
        if turn == "other":
            others_done.set()

    assert at_once([slow, lambda: next_one("one"), lambda: next_one("other")]) == [None] * 3
    if engine.dialect.name == "postgresql":
        assert order == ["other", "slow", "one"]
    else:
        assert order[0] == "slow"


def test_a_reader_sees_one_state_and_keeps_nobody_waiting(engine: Engine, bench: str) -> None:
    """While one writes, others read what was kept before; while one reads, another may prepare a write."""
    with writing(engine) as session:
        benches.set_unit(session, bench, "thou")
        session.flush()
        # (One that waited for the writer would wait for itself.)
        with reading(engine) as other:
            assert benches.unit_of(other, bench) == "mm"
    seen: list[str] = []

    def slow_reader() -> None:
        with reading(engine) as session:
            seen.append(benches.unit_of(session, bench))
            time.sleep(0.5)
            session.expire_all()
            seen.append(benches.unit_of(session, bench))

    def writer() -> float:
        time.sleep(0.1)
        began = time.monotonic()
        with writing(engine) as session:
            benches.set_unit(session, bench, "64ths")
        return time.monotonic() - began

    _, waited = at_once([slow_reader, writer])
    assert seen == ["thou", "thou"]
    # With a rollback journal the last moment of a write waits for readers: never longer than they read.
    assert isinstance(waited, float) and waited < 10
