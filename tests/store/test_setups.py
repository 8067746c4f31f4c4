"""What a setup goes by, and how its instrument's past is counted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import pytest
from sqlalchemy import Engine

from webapp.setups.journal import Entry, EntryKind
from webapp.store import benches, entries, instruments, lessons, setups
from webapp.store.engine import reading, writing
from webapp.store.errors import NotFound
from webapp.trade.words import Check

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
NOTE = Entry(EntryKind.NOTE, Check.START, "log", typed="hello")


@dataclass
class Room:
    """A bench with an instrument described twice, a setup of it, and a lesson of another bench."""

    engine: Engine

    def __post_init__(self) -> None:
        with writing(self.engine) as session:
            self.teacher, self.bench = benches.make(session, NOON), benches.make(session, NOON)
            self.instrument = instruments.add(session, self.bench, "make", '{"one": 1}')
            instruments.revise(session, self.bench, self.instrument, '{"two": 2}', 1)
            self.setup = setups.start(session, self.bench, self.instrument, "begin", NOON)
            self.lesson = lessons.add(session, self.teacher, "l", '{"title": "A"}', 5, NOON, b"seed")
            lessons.revise(session, self.teacher, self.lesson, '{"title": "B"}', 5, 1, NOON)

    def whole(self, bench: str = "", setup: str = "") -> tuple[str, str]:
        """The description and the lesson that the setup goes by."""
        with reading(self.engine) as session:
            mine = bench or self.bench, setup or self.setup
            found, instrument, lesson, mark = setups.get_whole(session, *mine)
            assert found == setups.get(session, *mine) and instrument.id == self.instrument
            assert setups.stands(session, self.bench, self.instrument)[1] == mark
        return instrument.spec_json, lesson

    def mark(self, bench: str = "") -> setups.PastMark:
        with reading(self.engine) as session:
            return setups.stands(session, bench or self.bench, self.instrument)[1]


@pytest.fixture
def room(engine: Engine) -> Room:
    return Room(engine)


def test_an_open_setup_goes_by_what_is_now(room: Room) -> None:
    assert room.whole() == ('{"two": 2}', "")
    with writing(room.engine, room.bench) as session:
        lessons.bind(session, room.bench, room.setup, room.lesson)
    assert room.whole() == ('{"two": 2}', '{"title": "B"}')


def test_a_finished_setup_goes_by_what_was_then(room: Room) -> None:
    with writing(room.engine, room.bench) as session:
        lessons.bind(session, room.bench, room.setup, room.lesson)
        setups.finish(session, room.bench, room.setup, 1, NOON)
        lessons.revise(session, room.teacher, room.lesson, '{"title": "C"}', 5, 2, NOON)
    assert room.whole() == ('{"one": 1}', '{"title": "B"}')


def test_the_mark_counts_what_was_begun_finished_taught_and_written(room: Room) -> None:
    assert room.mark() == (1, 0, 0, 0, None)
    with writing(room.engine, room.bench) as session:
        lessons.bind(session, room.bench, room.setup, room.lesson)
        made = entries.append(session, room.bench, room.setup, "f", {}, [NOTE, NOTE], NOON)
        setups.finish(session, room.bench, room.setup, 1, NOON)
        setups.start(session, room.bench, room.instrument, "again", NOON)
    assert room.mark() == (2, 1, 1, 2, made[-1].id)


def test_another_bench_is_told_nothing(room: Room) -> None:
    with pytest.raises(NotFound):
        room.mark(room.teacher)
    for bench, setup in ((room.teacher, room.setup), (room.bench, "nothing")):
        with pytest.raises(NotFound):
            room.whole(bench, setup)
