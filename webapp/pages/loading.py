"""From the store's rows to the job's objects: an instrument, a setup with its journal and its assessment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from webapp.pages.common import Visit
from webapp.setups.assess import assess_case
from webapp.setups.case import Case
from webapp.setups.journal import Entry, EntryKind, Journal
from webapp.setups.states import Assessment
from webapp.store import entries as entry_store
from webapp.store import instruments, setups
from webapp.store.engine import Session
from webapp.store.entries import EntryRow
from webapp.store.instruments import InstrumentRow
from webapp.store.setups import SetupRow
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check


@dataclass(frozen=True)
class LoadedInstrument:
    """An instrument at one version of its description."""

    row: InstrumentRow
    spec: InstrumentSpec

    @property
    def id(self) -> str:
        return self.row.id


@dataclass(frozen=True)
class LoadedSetup:
    """A setup, its instrument (as it was when finished, else as it is now), and its journal."""

    row: SetupRow
    instrument: LoadedInstrument
    case: Case

    @property
    def id(self) -> str:
        return self.row.id

    @property
    def spec(self) -> InstrumentSpec:
        return self.instrument.spec

    @property
    def finished(self) -> bool:
        return self.row.finished_at is not None

    @property
    def journal(self) -> Journal:
        return self.case.journal

    @cached_property
    def assessment(self) -> Assessment:
        return assess_case(self.case)


def load_instrument(visit: Visit, instrument_id: str) -> LoadedInstrument:
    """The newest description of an instrument; 404 where this bench has none such."""
    with visit.reading() as session:
        return _instrument(instruments.get(session, visit.bench_id, instrument_id))


def load_instruments(visit: Visit) -> list[LoadedInstrument]:
    """The instruments on the bench, oldest first."""
    with visit.reading() as session:
        return [_instrument(row) for row in instruments.list_all(session, visit.bench_id)]


def load_setup(visit: Visit, setup_id: str) -> LoadedSetup:
    """One setup; 404 where this bench has none such."""
    with visit.reading() as session:
        row = setups.get(session, visit.bench_id, setup_id)
        by_setup = _by_setup(session, visit, row.instrument_id)
        earlier = setups.list_for(session, visit.bench_id, row.instrument_id)
        if row.finished_version is None:
            instrument = instruments.get(session, visit.bench_id, row.instrument_id)
        else:
            instrument = instruments.version(session, visit.bench_id, row.instrument_id, row.finished_version)
    return _setup(visit, row, _instrument(instrument), by_setup, earlier)


def load_setups(visit: Visit, instrument_id: str) -> list[LoadedSetup]:
    """Every setup of an instrument, newest first, each with the description it was judged by."""
    with visit.reading() as session:
        newest = instruments.get(session, visit.bench_id, instrument_id)
        rows = setups.list_for(session, visit.bench_id, instrument_id)
        by_setup = _by_setup(session, visit, instrument_id)
        versions = {
            number: instruments.version(session, visit.bench_id, instrument_id, number)
            for number in {row.finished_version for row in rows if row.finished_version is not None}
        }
    return [
        _setup(visit, row, _instrument(versions.get(row.finished_version or 0, newest)), by_setup, rows)
        for row in rows
    ]


def _by_setup(session: Session, visit: Visit, instrument_id: str) -> dict[str, Journal]:
    """Every setup's journal of one instrument, by the setup's id."""
    rows: dict[str, list[EntryRow]] = {}
    for entry in entry_store.for_instrument(session, visit.bench_id, instrument_id):
        rows.setdefault(entry.setup_id, []).append(entry)
    return {setup_id: Journal.of(map(_entry, found)) for setup_id, found in rows.items()}


def _instrument(row: InstrumentRow) -> LoadedInstrument:
    return LoadedInstrument(row, InstrumentSpec.model_validate_json(row.spec_json))


def _setup(
    visit: Visit,
    row: SetupRow,
    instrument: LoadedInstrument,
    journals: Mapping[str, Journal],
    setups_of_instrument: Sequence[SetupRow],
) -> LoadedSetup:
    """The setup with its own journal, and the journals of those that began before it."""
    before = [other for other in setups_of_instrument if other.started_at < row.started_at]
    past = [journals[other.id] for other in reversed(before) if other.id in journals]
    journal = journals.get(row.id, Journal(()))
    case = Case(instrument.spec, visit.trade, journal, visit.now, visit.say, tuple(past))
    return LoadedSetup(row, instrument, case)


def _entry(row: EntryRow) -> Entry:
    return Entry(
        id=row.id,
        at=row.at,
        kind=EntryKind(row.kind),
        check=Check(row.check),
        slot=row.slot,
        value=row.value,
        unit=row.unit,
        typed=row.typed,
        tool=row.tool,
        error=row.error,
        detail=row.detail,
        voids=row.voids,
    )
