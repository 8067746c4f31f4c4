"""A whole bench into the store: nothing doubled, nothing overwritten, all of it or nothing.

While one writes, SQLite lets nobody else write. So what is to be added is found out, numbered and sealed
before that (webapp/store/bench_file/arrival.py), and then written in one go, unless the bench is another one
by now.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from sqlalchemy import Engine, bindparam, delete, insert, update
from sqlalchemy import select as select_columns
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, func, select

from webapp.setups.bench_file.schema import AirDay, BenchFile
from webapp.store.air_log import days as air
from webapp.store.bench_file.arrival import SOME, Arrival, Came, Opened, arrival
from webapp.store.engine import ask, reading, writing
from webapp.store.entries import ADD, take_numbers
from webapp.store.errors import NotFound
from webapp.store.tables import Base, Bench, EntryRecord, Instrument, InstrumentVersion, Setup, columns

_BENCH, _INSTRUMENT, _VERSION = columns(Bench), columns(Instrument), columns(InstrumentVersion)
_SETUP, _ENTRY = columns(Setup), columns(EntryRecord)
_MINE = _INSTRUMENT.bench_id == bindparam("bench")
# Descriptions and entries are only ever added, a setup is finished once, and the air has a mark of its own.
_STATE: tuple[Any, ...] = (
    select_columns(_BENCH.unit, _BENCH.tools, _BENCH.air_mark).where(_BENCH.id == bindparam("bench")),
    select_columns(func.count(), func.max(_VERSION.id)).where(
        _VERSION.instrument_id == _INSTRUMENT.id, _MINE
    ),
    select_columns(func.count(), func.count(_SETUP.finished_at)).where(
        _SETUP.instrument_id == _INSTRUMENT.id, _MINE
    ),
    select_columns(func.count(), func.max(_ENTRY.id)).where(
        _ENTRY.setup_id == _SETUP.id, _SETUP.instrument_id == _INSTRUMENT.id, _MINE
    ),
)
_TABLES = Base.metadata.tables
_FINISH = update(_TABLES["setup"]).where(_SETUP.id == bindparam("key"))


def load(engine: Engine, bench_id: str, new: BenchFile) -> Came:
    """Takes in what is not on the bench yet; raises NotFound, Damaged.

    An empty bench takes over the file's unit and tools.
    """
    plan = _plan(partial(reading, engine), bench_id, new)
    if plan.is_empty:
        return plan.came
    with writing(engine) as session:
        numbers = take_numbers(session, plan.count)
    plan.number(numbers)
    try:
        with writing(engine, bench_id) as session:
            if _state(session, bench_id) == plan.state:
                plan.write(session)
                return plan.came
    except IntegrityError:
        # Another bench was given one of the ids meanwhile.
        pass
    with writing(engine, bench_id) as session:
        plan = _plan(lambda: nullcontext(session), bench_id, new)
        plan.number(take_numbers(session, plan.count))
        plan.write(session)
        return plan.came


@dataclass
class _Plan:
    """What is to be written on a bench, as long as its state is this."""

    bench_id: str
    state: Sequence[Any]
    came: Came = field(default_factory=Came)
    settings: dict[str, str] = field(default_factory=dict)
    arrivals: list[Arrival] = field(default_factory=list)
    days: list[AirDay] = field(default_factory=list)
    entries: list[dict[str, Any]] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        came = (self.came.instruments, self.came.descriptions, self.came.setups, self.came.entries)
        finished = any(one.finished for one in self.arrivals)
        return not (any(count.added for count in came) or finished or self.days or self.settings)

    @property
    def count(self) -> int:
        """How many entries are written."""
        return sum(len(one.entries) for one in self.arrivals)

    def number(self, numbers: Sequence[int]) -> None:
        """Gives the entries their numbers, and so their lines."""
        free = iter(numbers)
        self.entries = [line for one in self.arrivals for line in one.entry_lines(free)]

    def write(self, session: Session) -> None:
        connection = session.connection()
        if connection.dialect.name == "sqlite":
            # Otherwise who only reads would have to wait from the moment that the lines fill the cache.
            connection.exec_driver_sql("PRAGMA cache_spill = 0")
        if self.settings:
            session.get_one(Bench, self.bench_id).sqlmodel_update(self.settings)
            session.flush()
        self._put(session, "instrument", [line for one in self.arrivals for line in one.instruments])
        self._put(session, "instrument_version", [line for one in self.arrivals for line in one.versions])
        self._put(session, "setup", [line for one in self.arrivals for line in one.setups])
        for one in self.arrivals:
            _take_up(session, one.gone)
        if self.entries:
            connection.execute(ADD, self.entries)
        finished = [
            {"key": line["id"], **{name: line[name] for name in ("finished_at", "finished_version", "seal")}}
            for one in self.arrivals
            for line in one.finished
        ]
        if finished:
            connection.execute(_FINISH, finished)
        if self.days:
            air.add_days(session, self.bench_id, self.days)

    def _put(self, session: Session, table: str, lines: Sequence[Mapping[str, Any]]) -> None:
        if lines:
            session.connection().execute(insert(_TABLES[table]), lines)


def _plan(opened: Opened, bench_id: str, new: BenchFile) -> _Plan:
    with opened() as session:
        plan = _Plan(bench_id, _state(session, bench_id))
        filled = session.exec(select(Instrument.id).where(Instrument.bench_id == bench_id)).first()
        there = {(one.day, one.source) for one in air.kept_days(session, bench_id)}
    if filled is None and not there:
        plan.settings = {"unit": new.unit} | ({} if new.tools is None else {"tools": " ".join(new.tools)})
    given: set[str] = set()
    plan.arrivals = [arrival(opened, bench_id, one, plan.came, given) for one in new.instruments]
    plan.days = [one for one in new.air if (one.day, one.source) not in there]
    plan.came.air.added = len(plan.days)
    plan.came.air.there = len(new.air) - len(plan.days)
    return plan


def _state(session: Session, bench_id: str) -> Sequence[Any]:
    found = [ask(session, question, bench=bench_id) for question in _STATE]
    if not found[0]:
        raise NotFound
    return [tuple(lines[0]) for lines in found]


def _take_up(session: Session, numbers: Sequence[int]) -> None:
    """Takes the last entries of an instrument up, the newest first: an older one is named by a newer one."""
    for end in range(len(numbers), 0, -SOME):
        some = numbers[max(0, end - SOME) : end]
        session.execute(delete(EntryRecord).where(col(EntryRecord.id).in_(some)))
