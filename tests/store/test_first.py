"""The one question of a setup's page is answered as the several would be."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine

from webapp.store import benches, entries, instruments, keys, lessons, setups
from webapp.store.engine import asking, reading, writing
from webapp.store.entries import NewEntry
from webapp.store.first import First, ask_first

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
NOTE = NewEntry("note", "start", "log", typed="hello")


@dataclass
class Room:
    """A bench with a key, an instrument described twice, and a setup for a lesson of another bench."""

    engine: Engine
    secret: str = ""
    bench: str = ""
    instrument: str = ""
    setup: str = ""
    lesson: str = ""
    teacher: str = field(default="")

    def __post_init__(self) -> None:
        with writing(self.engine) as session:
            self.teacher = benches.make(session, NOON)
            self.bench = benches.make(session, NOON, "in")
            self.secret = keys.make_key(session, self.bench, "Phone", NOON)
            self.instrument = instruments.add(session, self.bench, "make", '{"one": 1}')
            instruments.revise(session, self.bench, self.instrument, '{"two": 2}', 1)
            self.setup = setups.start(session, self.bench, self.instrument, "begin", NOON)
            self.lesson = lessons.add(session, self.teacher, "l", '{"title": "A"}', 5, NOON, b"seed")
            lessons.revise(session, self.teacher, self.lesson, '{"title": "B"}', 5, 1, NOON)

    def first(self, secret: str = "", setup: str = "", at: datetime = NOON) -> First | None:
        with asking(self.engine) as session:
            return ask_first(session, secret or self.secret, setup or self.setup, at)

    def one_by_one(self) -> First:
        with reading(self.engine) as session:
            key = keys.find(session, self.secret, NOON)
            assert key is not None
            setup, instrument, lesson = setups.get_whole(session, key.bench_id, self.setup)
            mark = setups.mark(session, key.bench_id, setup.instrument_id)
        return First(key, setup, instrument, lesson, mark)


@pytest.fixture
def room(engine: Engine) -> Room:
    return Room(engine)


def test_one_question_says_the_same_as_several(room: Room) -> None:
    first = room.first()
    assert first == room.one_by_one()
    assert first is not None and first.key.unit == "in" and first.instrument.spec_json == '{"two": 2}'
    assert first.mark == (1, 0, 0, 0, None) and first.lesson_json == ""
    with writing(room.engine, room.bench) as session:
        lessons.bind(session, room.bench, room.setup, room.lesson)
        entries.append(session, room.bench, room.setup, "f", {}, [NOTE, NOTE], NOON)
    taught = room.first()
    assert taught == room.one_by_one() and taught is not None
    assert taught.lesson_json == '{"title": "B"}' and taught.mark[:4] == (1, 0, 1, 2)


def test_a_finished_setup_goes_by_what_was_then(room: Room) -> None:
    with writing(room.engine, room.bench) as session:
        lessons.bind(session, room.bench, room.setup, room.lesson)
        setups.finish(session, room.bench, room.setup, 1, NOON)
        lessons.revise(session, room.teacher, room.lesson, '{"title": "C"}', 5, 2, NOON)
        setups.start(session, room.bench, room.instrument, "again", NOON)
    first = room.first()
    assert first == room.one_by_one() and first is not None
    assert (first.instrument.spec_json, first.lesson_json) == ('{"one": 1}', '{"title": "B"}')
    assert first.mark[:3] == (2, 1, 1)


def test_a_key_that_is_not_good_or_not_this_benchs_is_told_nothing(room: Room) -> None:
    with writing(room.engine) as session:
        others = keys.make_key(session, room.teacher, "Laptop", NOON)
    assert room.first(secret=others) is None
    assert room.first(secret="nothing") is None
    assert room.first(setup="nothing") is None
    assert room.first(at=NOON + timedelta(days=401)) is None
    mine = room.first()
    assert mine is not None
    with writing(room.engine) as session:
        keys.revoke(session, room.bench, mine.key.id, NOON)
    assert room.first() is None
