"""Setups: one pass through the checks on one instrument."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, FromClause, Select, bindparam, true
from sqlalchemy import select as select_columns
from sqlmodel import Session, func, select

from webapp.store import instruments
from webapp.store.engine import HELD, ask, ask_one
from webapp.store.errors import AlreadyRecorded, Damaged, Finished, NotFound
from webapp.store.instruments import InstrumentRow
from webapp.store.sealed import sealed, sound
from webapp.store.tables import (
    Base,
    EntryRecord,
    Instrument,
    InstrumentVersion,
    LessonVersion,
    Setup,
    columns,
)


@dataclass(frozen=True)
class SetupRow:
    """`finished_version` is the version of the instrument's description that the report speaks of."""

    id: str
    instrument_id: str
    started_at: datetime
    finished_at: datetime | None
    finished_version: int | None
    lesson_id: str | None = None


# Made once: to put a question together takes as long as to answer it.
_SETUP, _ENTRY, _INSTRUMENT = columns(Setup), columns(EntryRecord), columns(Instrument)
_ROW = select_columns(*sealed(Setup))
_TOLD = tuple(field.name for field in fields(SetupRow))
_ON_BENCH = (_SETUP.instrument_id == _INSTRUMENT.id, _INSTRUMENT.bench_id == bindparam("bench"))
_MINE = (*_ON_BENCH, _INSTRUMENT.id == bindparam("instrument"))
OF_INSTRUMENT = (_ENTRY.setup_id == _SETUP.id, *_MINE)
"""Entries of one instrument of one bench: parameters `instrument` and `bench`."""
_ONE = _ROW.where(_SETUP.id == bindparam("setup"), *_ON_BENCH)
_VERSION, _LESSON = columns(InstrumentVersion), columns(LessonVersion)
_TABLES = Base.metadata.tables


def _counted(instrument: ColumnElement[Any]) -> FromClause:
    """What `PastMark` says of an instrument, as the one line of a table to be joined to others."""
    passes = select_columns(
        func.count().label("all"),
        func.count(_SETUP.finished_at).label("finished"),
        func.count(_SETUP.lesson_id).label("taught"),
    ).where(_SETUP.instrument_id == instrument)
    written = select_columns(func.count().label("count"), func.max(_ENTRY.id).label("newest")).where(
        _ENTRY.setup_id == _SETUP.id, _SETUP.instrument_id == instrument
    )
    one, other = passes.subquery(), written.subquery()
    return select_columns(*one.c, *other.c).select_from(one.join(other, true())).subquery()


_THIS = _TABLES["setup"].alias()
_OF_SETUP = _counted(
    select_columns(_THIS.c.instrument_id).where(_THIS.c.id == bindparam("setup")).scalar_subquery()
)
_OF_ONE = _counted(bindparam("instrument"))
# A setup with all that it goes by: a finished one by what was then, another by what is now.
_WHOLE = (
    select_columns(*sealed(Setup, Instrument, InstrumentVersion, LessonVersion), *_OF_SETUP.c)
    .select_from(
        _TABLES["setup"]
        .join(_TABLES["instrument"], _INSTRUMENT.id == _SETUP.instrument_id)
        .join(
            _TABLES["instrument_version"],
            (_VERSION.instrument_id == _INSTRUMENT.id)
            & (_SETUP.finished_version.is_(None) | (_VERSION.number == _SETUP.finished_version)),
        )
        .outerjoin(
            _TABLES["lesson_version"],
            (_LESSON.lesson_id == _SETUP.lesson_id)
            & (_SETUP.lesson_version.is_(None) | (_LESSON.number == _SETUP.lesson_version)),
        )
        .join(_OF_SETUP, true())
    )
    .where(_SETUP.id == bindparam("setup"), _INSTRUMENT.bench_id == bindparam("bench"))
    .order_by(_VERSION.number.desc(), _LESSON.number.desc())
    .limit(1)
)
# An instrument as it is now, and how far its setups and journals go.
_STANDS = (
    select_columns(*sealed(Instrument, InstrumentVersion), *_OF_ONE.c)
    .select_from(
        _TABLES["instrument"]
        .join(_TABLES["instrument_version"], _VERSION.instrument_id == _INSTRUMENT.id)
        .join(_OF_ONE, true())
    )
    .where(_INSTRUMENT.id == bindparam("instrument"), _INSTRUMENT.bench_id == bindparam("bench"))
    .order_by(_VERSION.number.desc())
    .limit(1)
)
_HELD = _ONE.with_for_update(of=_TABLES["setup"], **HELD)
_NEWEST_FIRST = _ROW.where(*_MINE).order_by(_SETUP.started_at.desc(), _SETUP.id)


class PastMark(NamedTuple):
    """An instrument's setups and journals, counted. A setup is begun, finished and bound to a lesson once,
    and entries are only ever added (under new numbers where a copy of the bench is merged in), so equal
    marks mean that nothing changed."""

    setups: int
    finished: int
    taught: int
    entries: int
    newest: int | None


def start(
    session: Session, bench_id: str, instrument_id: str, form_id: str, at: datetime | None = None
) -> str:
    """Starts a setup and returns its id; the same form again raises AlreadyRecorded with that id."""
    instruments.hold(session, bench_id, instrument_id)
    earlier = session.exec(
        select(Setup.id).where(Setup.instrument_id == instrument_id, Setup.form_id == form_id)
    ).first()
    if earlier is not None:
        raise AlreadyRecorded(earlier)
    setup = Setup(instrument_id=instrument_id, form_id=form_id, started_at=at or datetime.now(UTC))
    session.add(setup)
    session.flush()
    return setup.id


def get(session: Session, bench_id: str, setup_id: str) -> SetupRow:
    """The setup; raises NotFound, Damaged."""
    return _one(session, _ONE, bench_id, setup_id)


def get_whole(
    session: Session, bench_id: str, setup_id: str
) -> tuple[SetupRow, InstrumentRow, str, PastMark]:
    """The setup, its instrument as the setup goes by it (at its end, else now), the lesson that it is done
    for, as it is kept (as at its end, else now; empty where there is none), and the mark of the instrument's
    past. Raises NotFound, Damaged."""
    found = ask_one(session, _WHOLE, bench=bench_id, setup=setup_id)
    if found is None:
        get(session, bench_id, setup_id)
        # It is there, and speaks of a description that is not.
        raise Damaged("instrument_version")
    row, instrument, version, lesson = sound(found, Setup, Instrument, InstrumentVersion, LessonVersion)
    mark = PastMark(*found[-len(PastMark._fields) :])
    return _row(row), InstrumentRow.of(instrument, version), lesson.get("sheet", ""), mark


def hold(session: Session, bench_id: str, setup_id: str) -> SetupRow:
    """The setup, which no other writer goes on with until this one is done; raises NotFound, Damaged."""
    return _one(session, _HELD, bench_id, setup_id)


def _one(session: Session, wanted: Select[Any], bench_id: str, setup_id: str) -> SetupRow:
    found = ask_one(session, wanted, bench=bench_id, setup=setup_id)
    if found is None:
        raise NotFound
    return _row(*sound(found, Setup))


def _row(told: Mapping[str, Any]) -> SetupRow:
    return SetupRow(*(told[name] for name in _TOLD))


def list_for(session: Session, bench_id: str, instrument_id: str) -> Sequence[SetupRow]:
    """The instrument's setups, the newest first; raises Damaged."""
    found = ask(session, _NEWEST_FIRST, bench=bench_id, instrument=instrument_id)
    return [_row(*sound(line, Setup)) for line in found]


def stands(session: Session, bench_id: str, instrument_id: str) -> tuple[InstrumentRow, PastMark]:
    """The instrument at its newest version, and what tells whether anything was written on it since; raises
    NotFound, Damaged."""
    found = ask_one(session, _STANDS, bench=bench_id, instrument=instrument_id)
    if found is None:
        raise NotFound
    row = InstrumentRow.of(*sound(found, Instrument, InstrumentVersion))
    return row, PastMark(*found[-len(PastMark._fields) :])


def finish(session: Session, bench_id: str, setup_id: str, version_number: int, at: datetime) -> SetupRow:
    """Closes the setup's journal for good; raises Finished if it was closed before."""
    hold(session, bench_id, setup_id)
    setup = session.get_one(Setup, setup_id, populate_existing=True)
    if setup.finished_at is not None:
        raise Finished
    instruments.version(session, bench_id, setup.instrument_id, version_number)
    setup.finished_at = at
    setup.finished_version = version_number
    if setup.lesson_id is not None:
        setup.lesson_version = _newest_lesson(session, setup.lesson_id)
    session.flush()
    return get(session, bench_id, setup_id)


def _newest_lesson(session: Session, lesson_id: str) -> int:
    """What the report goes by, however the teacher changes the lesson afterwards."""
    numbers = select(func.max(LessonVersion.number)).where(LessonVersion.lesson_id == lesson_id)
    return int(session.exec(numbers).one())
