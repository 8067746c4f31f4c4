"""A whole bench out of the store, everything named by its origin: the name of the form that made it.

An instrument's origin is its own within its bench, a setup's within its instrument, an entry's (with its
part) within its setup. Numbers that only this database knows stay here. store/bench_file/merge.py takes
such a bench in again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from sqlalchemy import bindparam
from sqlalchemy import select as select_columns
from sqlmodel import Session, col, func, select

from webapp.setups.bench_file.schema import (
    FORMAT,
    VERSION,
    BenchFile,
    FileEntry,
    FileInstrument,
    FileSetup,
    FileVersion,
    Name,
)
from webapp.store.air_log import days as air
from webapp.store.engine import Line, ask
from webapp.store.entries import SEALED_BY, TOLD, entry_of, sound
from webapp.store.errors import NotFound
from webapp.store.tables import Bench, EntryRecord, Instrument, InstrumentVersion, Setup, columns

_ENTRY, _SETUP = columns(EntryRecord), columns(Setup)
_NAMED = (
    select_columns(*SEALED_BY, *TOLD)
    .where(_ENTRY.setup_id == _SETUP.id, _SETUP.instrument_id == bindparam("instrument"))
    .order_by(_ENTRY.id)
)


class Size(NamedTuple):
    """How much there is on a bench."""

    instruments: int
    setups: int
    entries: int
    days_of_air: int


def size(session: Session, bench_id: str) -> Size:
    """How much `dump` would give."""
    mine = Instrument.bench_id == bench_id
    entries = select(func.count(col(EntryRecord.id))).join(Setup).join(Instrument).where(mine)
    return Size(
        session.exec(select(func.count(col(Instrument.id))).where(mine)).one(),
        session.exec(select(func.count(col(Setup.id))).join(Instrument).where(mine)).one(),
        session.exec(entries).one(),
        len(air.kept_days(session, bench_id)),
    )


def dump(session: Session, bench_id: str) -> BenchFile:
    """Everything on a bench but the keys to it, instruments oldest first; raises NotFound."""
    bench = session.get(Bench, bench_id)
    if bench is None:
        raise NotFound
    found = session.exec(
        select(Instrument)
        .where(Instrument.bench_id == bench_id)
        .order_by(col(Instrument.created_at), col(Instrument.form_id))
    )
    instruments = tuple(_instrument(session, row) for row in found.all())
    days = tuple(air.kept_days(session, bench_id))
    return BenchFile.model_validate(
        {
            "format": FORMAT,
            "version": VERSION,
            "unit": bench.unit,
            "tools": None if bench.tools is None else bench.tools.split(),
            "instruments": instruments,
            "air": days,
        }
    )


def _instrument(session: Session, row: Instrument) -> FileInstrument:
    found = setups(session, row.id)
    origins = {setup.id: setup.form_id for setup in found}
    return FileInstrument(
        id=row.id,
        origin=row.form_id,
        created_at=row.created_at,
        archived_at=row.archived_at,
        versions=tuple(FileVersion.of(v.number, v.created_at, v.spec) for v in versions(session, row.id)),
        setups=tuple(
            FileSetup(
                id=setup.id,
                origin=setup.form_id,
                started_at=setup.started_at,
                finished_at=setup.finished_at,
                finished_version=setup.finished_version,
            )
            for setup in found
        ),
        entries=tuple(entries(entry_lines(session, row.id), origins).values()),
    )


def versions(session: Session, instrument_id: str) -> Sequence[InstrumentVersion]:
    """An instrument's descriptions, the first one first."""
    return session.exec(
        select(InstrumentVersion)
        .where(InstrumentVersion.instrument_id == instrument_id)
        .order_by(col(InstrumentVersion.number))
    ).all()


def setups(session: Session, instrument_id: str) -> Sequence[Setup]:
    """An instrument's setups, the oldest first."""
    return session.exec(
        select(Setup)
        .where(Setup.instrument_id == instrument_id)
        .order_by(col(Setup.started_at), col(Setup.form_id))
    ).all()


def entry_lines(session: Session, instrument_id: str) -> Sequence[Line]:
    """The lines of all an instrument's entries, in the order they were recorded: `entries` reads them."""
    return ask(session, _NAMED, instrument=instrument_id)


def entries(lines: Sequence[Line], origins: Mapping[str, str]) -> Mapping[int, FileEntry]:
    """An instrument's entries by their numbers here, of their lines and its setups' origins, by their ids.

    Raises Damaged.
    """
    found: dict[int, FileEntry] = {}
    for setup_id, origin, part, told in sound(lines):
        entry = entry_of(told)
        name: Name = origins[setup_id], origin, part
        found[entry.id] = FileEntry.of(entry, name, found[entry.voids].name if entry.voids else None)
    return found
