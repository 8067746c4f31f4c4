"""A whole bench out of the store, everything named by its origin: the name of the form that made it.

An instrument's origin is its own within its bench, a setup's within its instrument, an entry's (with its
part) within its setup. Numbers that only this database knows stay here. store/bench_file/merge.py takes
such a bench in again.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from webapp.store.air_log import days as air
from webapp.store.air_log.days import AirDay
from webapp.store.errors import NotFound
from webapp.store.tables import Bench, Entry, Instrument, InstrumentVersion, Setup

EntryName = tuple[str, str, int]
"""An entry's setup (its origin), form and part."""


@dataclass(frozen=True)
class KeptVersion:
    """One description of an instrument."""

    number: int
    created_at: datetime
    spec_json: str


@dataclass(frozen=True)
class KeptSetup:
    """One setup; `finished_version` is the number of a description."""

    id: str
    origin: str
    started_at: datetime
    finished_at: datetime | None
    finished_version: int | None


@dataclass(frozen=True)
class KeptEntry:
    """One line of a journal, naming others by their origin."""

    setup: str
    origin: str
    part: int
    at: datetime
    kind: str
    check: str
    slot: str
    value: float | None
    unit: str
    typed: str
    tool: str
    error: float | None
    detail: dict[str, Any]
    voids: EntryName | None

    @property
    def name(self) -> EntryName:
        return self.setup, self.origin, self.part


@dataclass(frozen=True)
class KeptInstrument:
    """One instrument whole; the entries of all its setups in the order they were recorded."""

    id: str
    origin: str
    created_at: datetime
    archived_at: datetime | None
    versions: tuple[KeptVersion, ...]
    setups: tuple[KeptSetup, ...]
    entries: tuple[KeptEntry, ...]


@dataclass(frozen=True)
class KeptBench:
    """Everything on a bench but the keys to it."""

    unit: str
    instruments: tuple[KeptInstrument, ...]
    air: tuple[AirDay, ...]


def dump(session: Session, bench_id: str) -> KeptBench:
    """Everything on a bench, instruments oldest first; raises NotFound."""
    bench = session.get(Bench, bench_id)
    if bench is None:
        raise NotFound
    found = session.exec(
        select(Instrument)
        .where(Instrument.bench_id == bench_id)
        .order_by(col(Instrument.created_at), col(Instrument.form_id))
    )
    kept = tuple(instrument_whole(session, row) for row in found.all())
    return KeptBench(bench.unit, kept, tuple(air.kept_days(session, bench_id)))


def instrument_whole(session: Session, row: Instrument) -> KeptInstrument:
    """One instrument with everything recorded about it."""
    versions = session.exec(
        select(InstrumentVersion)
        .where(InstrumentVersion.instrument_id == row.id)
        .order_by(col(InstrumentVersion.number))
    )
    setups = session.exec(
        select(Setup).where(Setup.instrument_id == row.id).order_by(col(Setup.started_at), col(Setup.form_id))
    ).all()
    entries = entry_rows(session, row.id)
    origins = {setup.id: setup.form_id for setup in setups}
    names = {entry.id: entry_name(entry, origins) for entry in entries}
    return KeptInstrument(
        row.id,
        row.form_id,
        row.created_at,
        row.archived_at,
        tuple(KeptVersion(v.number, v.created_at, v.spec) for v in versions),
        tuple(KeptSetup(s.id, s.form_id, s.started_at, s.finished_at, s.finished_version) for s in setups),
        tuple(_kept(e, names) for e in entries),
    )


def entry_rows(session: Session, instrument_id: str) -> Sequence[Entry]:
    """An instrument's entries in the order they were recorded."""
    return session.exec(
        select(Entry)
        .join(Setup, col(Setup.id) == col(Entry.setup_id))
        .where(Setup.instrument_id == instrument_id)
        .order_by(col(Entry.id))
    ).all()


def entry_name(entry: Entry, origins: dict[str, str]) -> EntryName:
    """What an entry is known by, given the origins of the setups by their ids."""
    return origins[entry.setup_id], entry.form_id, entry.part


def _kept(entry: Entry, names: dict[int | None, EntryName]) -> KeptEntry:
    setup, origin, part = names[entry.id]
    voids = names[entry.voids] if entry.voids is not None else None
    return KeptEntry(
        setup, origin, part, entry.at, entry.kind, entry.check, entry.slot, entry.value, entry.unit,
        entry.typed, entry.tool, entry.error, json.loads(entry.detail), voids,
    )  # fmt: skip
