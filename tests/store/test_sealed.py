"""A line that is not as it was recorded is never read as if it were, nor written over and so made sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

import pytest
from sqlalchemy import Engine, update

from webapp.store import benches, instruments, keys, lessons, seals, setups
from webapp.store.air_log import days as air
from webapp.store.air_log import imports
from webapp.store.engine import Session, writing
from webapp.store.errors import Damaged
from webapp.store.tables import Base

NOW, DAY = datetime(2026, 4, 3, 12, tzinfo=UTC), date(2026, 4, 3)
SEED = b"the links' key"


@dataclass
class Readings:
    moment_ms: tuple[int, ...]
    temperature_c: tuple[float, ...]
    humidity_percent: tuple[float, ...]


class Shelf:
    """A bench with one line of each sealed table, and what reads it."""

    def __init__(self, engine: Engine) -> None:
        with writing(engine) as session:
            self.bench = bench = benches.make(session, NOW)
            self.secret = keys.make_key(session, bench, "A phone", NOW)
            self.instrument = instruments.add(session, bench, "form", "{}")
            self.setup = setups.start(session, bench, self.instrument, "form", NOW)
            self.lesson = lessons.add(session, bench, "form", "sheet", 60, NOW, SEED)
            lessons.bind(session, bench, self.setup, self.lesson)
            lessons.hand_in(session, bench, self.setup, "Ann", "{}", NOW)
            air.type_day(session, bench, DAY, 20.0, 45.0)
            self.job = imports.create(session, bench, "log.csv", "d" * 64, 100, NOW)
            self.log(session)

    def log(self, session: Session) -> object:
        return air.keep_readings(session, self.bench, self.job, {DAY: Readings((1,), (20.0,), (45.0,))})

    def key(self, session: Session) -> object:
        return keys.find(session, self.secret, NOW)

    def unit(self, session: Session) -> object:
        return benches.unit_of(session, self.bench)

    def described(self, session: Session) -> object:
        return instruments.get(session, self.bench, self.instrument)

    def version(self, session: Session) -> object:
        return instruments.version(session, self.bench, self.instrument, 1)

    def on_bench(self, session: Session) -> object:
        return instruments.list_all(session, self.bench)

    def put_away(self, session: Session) -> None:
        instruments.archive(session, self.bench, self.instrument)

    def begun(self, session: Session) -> object:
        return setups.get(session, self.bench, self.setup)

    def whole(self, session: Session) -> object:
        return setups.get_whole(session, self.bench, self.setup)

    def passes(self, session: Session) -> object:
        return setups.list_for(session, self.bench, self.instrument)

    def finished(self, session: Session) -> object:
        return setups.finish(session, self.bench, self.setup, 1, NOW)

    def taught(self, session: Session) -> object:
        return lessons.get(session, self.bench, self.lesson)

    def lessons(self, session: Session) -> object:
        return lessons.list_for(session, self.bench)

    def sheet(self, session: Session) -> object:
        return lessons.sheet_for_setup(session, self.bench, self.setup)

    def handed(self, session: Session) -> object:
        return lessons.hand_in_of(session, self.bench, self.setup)

    def handed_again(self, session: Session) -> None:
        lessons.hand_in(session, self.bench, self.setup, "Ben", "{}", NOW)

    def class_sheet(self, session: Session) -> object:
        return lessons.hand_ins_for(session, self.bench, self.lesson)

    def days(self, session: Session) -> object:
        return air.days(session, self.bench)

    def typed_again(self, session: Session) -> None:
        air.type_day(session, self.bench, DAY, 21.0, 45.0)


Read = Callable[[Shelf, Session], object]
S = Shelf
READ_BY: dict[tuple[str, str, Any], tuple[Read, ...]] = {
    ("bench", "unit", "thou"): (S.key, S.unit),
    ("bench", "tools", "feeler"): (S.key, S.unit),
    ("instrument", "archived_at", NOW): (S.described, S.version, S.on_bench, S.put_away, S.whole),
    ("instrument_version", "spec", "[]"): (S.described, S.version, S.on_bench, S.whole),
    ("setup", "started_at", NOW.replace(hour=13)): (S.begun, S.whole, S.passes, S.finished, S.sheet),
    ("setup", "finished_version", 9): (S.begun, S.whole, S.passes, S.finished, S.handed),
    ("lesson", "students", 61): (S.taught, S.lessons, S.class_sheet, S.handed_again),
    ("lesson_version", "sheet", "another"): (S.taught, S.lessons, S.sheet, S.whole),
    ("hand_in", "name", "Bob"): (S.handed, S.handed_again, S.class_sheet),
    ("air_day", "humidity_percent", 46.0): (S.days, S.typed_again),
    ("air_log_day", "readings", air.to_bytes(air.pack(Readings((2,), (20.0,), (45.0,))))): (S.log,),
}


@pytest.mark.parametrize(
    ("damage", "read"),
    [(damage, read) for damage, some in READ_BY.items() for read in some],
    ids=lambda one: " ".join(one[:2]) if isinstance(one, tuple) else one.__name__,
)
def test_what_is_not_as_it_was_recorded_is_not_read(
    engine: Engine, damage: tuple[str, str, Any], read: Read
) -> None:
    shelf = Shelf(engine)
    with writing(engine) as session:
        read(shelf, session)
        session.rollback()
    table, column, value = damage
    with writing(engine) as session:
        session.connection().execute(update(Base.metadata.tables[table]).values({column: value}))
    with pytest.raises(Damaged) as told, writing(engine) as session:
        read(shelf, session)
    assert told.value.table == table
    with engine.connect() as connection:
        assert {one.table for one in seals.broken(seals.asked(connection))} == {table}


def test_every_line_is_given_its_sum_as_it_is_written(engine: Engine) -> None:
    shelf = Shelf(engine)
    with writing(engine) as session:
        for change in (S.put_away, S.finished, S.handed_again, S.typed_again, S.log):
            change(shelf, session)
        benches.set_tools(session, shelf.bench, ["feeler"])
        instruments.revise(session, shelf.bench, shelf.instrument, "[]", 1)
        lessons.revise(session, shelf.bench, shelf.lesson, "another", 61, 1, NOW)
        lessons.renew_link(session, shelf.bench, shelf.lesson, SEED)
    with engine.connect() as connection:
        assert list(seals.broken(seals.asked(connection))) == []
