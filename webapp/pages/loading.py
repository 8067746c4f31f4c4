"""From the store's rows to the job's objects: an instrument, a setup with its journal and its assessment."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from webapp.pages.common import Visit
from webapp.setups.assess import assess_case
from webapp.setups.case import Case
from webapp.setups.journal import Entry, EntryKind, Journal
from webapp.setups.lesson import LessonSheet
from webapp.setups.lesson_text import notes_html
from webapp.setups.quick import is_quick, joined
from webapp.setups.states import Assessment
from webapp.store import entries as entry_store
from webapp.store import instruments, lessons, setups
from webapp.store.engine import Session
from webapp.store.instruments import InstrumentRow
from webapp.store.rows import EntryRow
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
    lesson: LessonSheet | None = None

    @property
    def id(self) -> str:
        return self.row.id

    def taught(self, check: Check) -> str:
        """What the teacher says beside a check, as HTML; empty where nobody does."""
        return notes_html(self.lesson.notes(check)) if self.lesson else ""

    @property
    def spec(self) -> InstrumentSpec:
        return self.instrument.spec

    @property
    def finished(self) -> bool:
        return self.row.finished_at is not None

    @property
    def quick(self) -> bool:
        """Whether this is a quick check between setups."""
        return is_quick(self.journal)

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
        lesson = _lesson(session, visit, row)
        if row.finished_version is None:
            instrument = instruments.get(session, visit.bench_id, row.instrument_id)
        else:
            instrument = instruments.version(session, visit.bench_id, row.instrument_id, row.finished_version)
    past = _pasts(earlier, by_setup)[row.started_at]
    return _setup(visit, row, _instrument(instrument), by_setup, past, lesson)


def load_setups(visit: Visit, instrument_id: str) -> list[LoadedSetup]:
    """Every setup of an instrument, newest first, each with the description it was judged by."""
    with visit.reading() as session:
        newest = instruments.get(session, visit.bench_id, instrument_id)
        rows = setups.list_for(session, visit.bench_id, instrument_id)
        taught = {row.id: _lesson(session, visit, row) for row in rows}
        by_setup = _by_setup(session, visit, instrument_id)
        versions = {
            number: instruments.version(session, visit.bench_id, instrument_id, number)
            for number in {row.finished_version for row in rows if row.finished_version is not None}
        }
    specs = {row.id: _instrument(versions.get(row.finished_version or 0, newest)) for row in rows}
    pasts = _pasts(rows, by_setup)
    return [
        _setup(visit, row, specs[row.id], by_setup, pasts[row.started_at], taught[row.id]) for row in rows
    ]


def standing_case(visit: Visit, instrument: LoadedInstrument, passes: Sequence[LoadedSetup]) -> Case:
    """The instrument as it stands: all that was ever read and turned on it, judged by its newest description.

    Readings of a board with other frets or strings say nothing about this one. Where it was last set up for
    a lesson, the lesson's bands count.
    """
    alike = [setup.journal for setup in passes if _alike(setup.spec, instrument.spec)]
    lesson = next((setup.case.lesson for setup in passes if not setup.quick), None)
    return Case(instrument.spec, visit.trade, joined(alike), visit.now, visit.say, lesson=lesson)


def _alike(then: InstrumentSpec, now: InstrumentSpec) -> bool:
    return then.fret_count == now.fret_count and len(then.strings) == len(now.strings)


def _by_setup(session: Session, visit: Visit, instrument_id: str) -> dict[str, Journal]:
    """Every setup's journal of one instrument, by the setup's id."""
    rows: dict[str, list[EntryRow]] = {}
    for entry in entry_store.for_instrument(session, visit.bench_id, instrument_id):
        rows.setdefault(entry.setup_id, []).append(entry)
    return {setup_id: Journal.of(map(_entry, found)) for setup_id, found in rows.items()}


def _pasts(rows: Sequence[SetupRow], journals: Mapping[str, Journal]) -> dict[datetime, tuple[Journal, ...]]:
    """For each time that a setup began, the journals of those that began before it, oldest first."""
    oldest_first = rows[::-1]
    journalled = [row for row in oldest_first if row.id in journals]
    begun, written = [row.started_at for row in journalled], tuple(journals[row.id] for row in journalled)
    return {row.started_at: written[: bisect_left(begun, row.started_at)] for row in rows}


def _instrument(row: InstrumentRow) -> LoadedInstrument:
    return LoadedInstrument(row, InstrumentSpec.model_validate_json(row.spec_json))


def _setup(
    visit: Visit,
    row: SetupRow,
    instrument: LoadedInstrument,
    journals: Mapping[str, Journal],
    past: tuple[Journal, ...],
    lesson: LessonSheet | None,
) -> LoadedSetup:
    """The setup with its own journal, and the journals of those that began before it."""
    journal = journals.get(row.id, Journal(()))
    targets = lesson.targets if lesson else None
    case = Case(instrument.spec, visit.trade, journal, visit.now, visit.say, past, targets)
    return LoadedSetup(row, instrument, case, lesson)


def _lesson(session: Session, visit: Visit, row: SetupRow) -> LessonSheet | None:
    """The lesson that a setup is done for."""
    if row.lesson_id is None:
        return None
    kept = lessons.sheet_for_setup(session, visit.bench_id, row.id)
    return None if kept is None else LessonSheet.model_validate_json(kept)


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
