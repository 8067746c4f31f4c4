"""From the store's rows to the job's objects: an instrument, a setup with its journal and its assessment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property, lru_cache

from webapp.pages.visit.addresses import instrument_path
from webapp.pages.visit.visit import Onlooker
from webapp.setups.assess import assess_case
from webapp.setups.belief.fold import SAME_SITTING_HOURS
from webapp.setups.case import Case
from webapp.setups.dates import day
from webapp.setups.journal import EntryKind, Journal, Part, joined
from webapp.setups.lesson import LessonSheet, LessonTargets
from webapp.setups.say import capital
from webapp.setups.slots import string_label, string_numbers
from webapp.setups.states import Assessment
from webapp.setups.tryout.clearance_map import touch_keys, touch_label
from webapp.store import instruments, lessons, setups
from webapp.store.engine import Session
from webapp.store.instruments import InstrumentRow
from webapp.store.setups import SetupRow
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check
from webapp.web.kept import Past


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
    visit: Onlooker
    past: Past
    lesson_json: str = ""

    @property
    def id(self) -> str:
        return self.row.id

    @property
    def started_at(self) -> datetime:
        return self.row.started_at

    @property
    def finished_at(self) -> datetime | None:
        return self.row.finished_at

    @property
    def lesson(self) -> LessonSheet | None:
        """The lesson that this setup is done for."""
        return _sheet(self.lesson_json) if self.lesson_json else None

    def taught(self, check: Check) -> str:
        """What the teacher says beside a check, as HTML; empty where nobody does."""
        if self.lesson is None:
            return ""
        from webapp.setups.lessons.notes import notes_html

        return notes_html(self.lesson.notes(check))

    @property
    def spec(self) -> InstrumentSpec:
        return self.instrument.spec

    @property
    def finished(self) -> bool:
        return self.row.finished_at is not None

    @property
    def quick(self) -> bool:
        """Whether this is a quick check between setups."""
        return self.journal.is_quick

    @property
    def new_strings(self) -> str:
        """What was put on between setups, where this is no more than that."""
        put_on = self.journal.last_turn(Part.STRINGS) if self.quick else None
        return put_on.typed if put_on else ""

    @property
    def journal(self) -> Journal:
        return self.past.journals.get(self.id, _EMPTY)

    @cached_property
    def case(self) -> Case:
        """With the journals of the setups that began before this one, oldest first. What was done just before
        a setup, in a quick check, belongs to it. A finished one stays as it was when it was finished, however
        unsure the seasons make of it since.
        """
        visit, targets = self.visit, _targets(self.lesson_json) if self.lesson_json else None
        earlier, journal = self.past.before(self.row), self.journal
        if earlier and earlier[-1].is_quick and not self.quick and self._follows(earlier[-1]):
            earlier, journal = earlier[:-1], joined((earlier[-1], journal))
        at = self.finished_at or visit.minute
        return Case(self.spec, visit.trade, journal, at, visit.say, earlier, targets)

    def _follows(self, quick: Journal) -> bool:
        """Whether this was begun in the same sitting as what is in that journal."""
        since = self.started_at - max(entry.at for entry in quick.entries)
        return since < timedelta(hours=SAME_SITTING_HOURS)

    @cached_property
    def assessment(self) -> Assessment:
        what = ("setup", self.id, self.instrument.row.spec_json, self.lesson_json)
        return self.visit.once(self.past, what, lambda: assess_case(self.case))


_EMPTY = Journal(())


def load_instrument(visit: Onlooker, instrument_id: str) -> LoadedInstrument:
    """The newest description of an instrument; 404 where this bench has none such."""
    with visit.reading() as session:
        return _instrument(instruments.get(session, visit.bench_id, instrument_id))


def load_setup(visit: Onlooker, setup_id: str) -> LoadedSetup:
    """One setup; 404 where this bench has none such."""
    with visit.reading() as session:
        row, instrument, lesson, mark = setups.get_whole(session, visit.bench_id, setup_id)
        past = visit.app.kept.of(session, visit.bench_id, row.instrument_id, mark)
    return LoadedSetup(row, _instrument(instrument), visit, past, lesson)


def load_setups(visit: Onlooker, instrument_id: str) -> list[LoadedSetup]:
    """Every setup of an instrument, newest first, each with the description it was judged by."""
    return load_all(visit, instrument_id)[1]


def load_all(visit: Onlooker, instrument_id: str) -> tuple[LoadedInstrument, list[LoadedSetup]]:
    """The instrument as it is now, and every setup of it as by `load_setups`."""
    now, past, taught = load_past(visit, instrument_id)
    return now, passes_of(visit, now, past, taught)


def load_past(visit: Onlooker, instrument_id: str) -> tuple[LoadedInstrument, Past, Mapping[str, str]]:
    """The instrument as it is now, its past, and the lessons that setups of it are done for, by their ids."""
    with visit.reading() as session:
        row, mark = setups.stands(session, visit.bench_id, instrument_id)
        past = visit.app.kept.of(session, visit.bench_id, instrument_id, mark)
        bound = past.rows if mark.taught else ()
        taught = {one.id: _lesson(session, visit, one) for one in bound if one.lesson_id is not None}
    return _instrument(row), past, taught


def passes_of(
    visit: Onlooker, now: LoadedInstrument, past: Past, taught: Mapping[str, str]
) -> list[LoadedSetup]:
    """Every setup of a past, newest first, each with the description it was judged by."""
    numbers = {row.finished_version for row in past.rows if row.finished_version is not None}
    numbers.discard(now.row.version)
    described = {}
    if numbers:
        with visit.reading() as session:
            for number in numbers:
                described[number] = _instrument(instruments.version(session, visit.bench_id, now.id, number))
    return [
        LoadedSetup(row, described.get(row.finished_version or 0, now), visit, past, taught.get(row.id, ""))
        for row in past.rows
    ]


def standing_case(visit: Onlooker, instrument: LoadedInstrument, passes: Sequence[LoadedSetup]) -> Case:
    """The instrument as it stands: all that was ever read and turned on it, judged by its newest description.

    Readings of a board with other frets or strings say nothing about this one. Where it was last set up for
    a lesson, the lesson's bands count.
    """
    alike = tuple(setup.journal for setup in passes if _alike(setup.spec, instrument.spec))
    taught = _newest_lesson(passes)
    targets = _targets(taught) if taught else None
    what = ("joined", instrument.row.version)
    journal = passes[0].past.once(what, lambda: joined(alike)) if passes else _EMPTY
    return Case(instrument.spec, visit.trade, journal, visit.minute, visit.say, lesson=targets)


def standing_assessment(
    visit: Onlooker, instrument: LoadedInstrument, passes: Sequence[LoadedSetup], case: Case
) -> Assessment:
    """The judged `standing_case`."""
    if not passes:
        return assess_case(case)
    if len(passes) == 1 and not passes[0].finished:
        # There is nothing but this one setup, which is judged by the same.
        return passes[0].assessment
    what = ("standing", instrument.row.spec_json, _newest_lesson(passes))
    return visit.once(passes[0].past, what, lambda: assess_case(case))


def _newest_lesson(passes: Sequence[LoadedSetup]) -> str:
    return next((setup.lesson_json for setup in passes if not setup.quick), "")


def _alike(then: InstrumentSpec, now: InstrumentSpec) -> bool:
    return then.fret_count == now.fret_count and len(then.strings) == len(now.strings)


def _instrument(row: InstrumentRow) -> LoadedInstrument:
    return LoadedInstrument(row, described(row.spec_json))


@lru_cache(maxsize=512)
def described(spec_json: str) -> InstrumentSpec:
    """A description as it is kept."""
    return InstrumentSpec.model_validate_json(spec_json)


def _lesson(session: Session, visit: Onlooker, row: SetupRow) -> str:
    """The lesson that a setup is done for, as it is kept."""
    return lessons.sheet_for_setup(session, visit.bench_id, row.id) or ""


@lru_cache(maxsize=64)
def _targets(sheet_json: str) -> LessonTargets:
    return _sheet(sheet_json).targets


@lru_cache(maxsize=64)
def _sheet(sheet_json: str) -> LessonSheet:
    return LessonSheet.model_validate_json(sheet_json)


@dataclass(frozen=True)
class Closer:
    """The newest description, and all that was ever read of it."""

    instrument: LoadedInstrument
    case: Case

    @property
    def id(self) -> str:
        return self.instrument.id

    @property
    def name(self) -> str:
        return self.instrument.spec.name

    @property
    def path(self) -> str:
        return instrument_path(self.id)

    @property
    def read_on(self) -> str:
        """The day of the newest reading; empty where nothing was read."""
        read = [entry.at for entry in self.case.journal.live if entry.kind is EntryKind.READING]
        return day(max(read)) if read else ""

    @property
    def strings(self) -> tuple[tuple[str, str], ...]:
        """Strings to choose from, bass side first."""
        spec = self.case.spec
        return tuple((str(n), string_label(spec, n)) for n in string_numbers(spec))

    @property
    def touches(self) -> tuple[tuple[str, str], ...]:
        """Touches to choose from."""
        return tuple((key, capital(touch_label(key))) for key in touch_keys(self.case))


def load_closer(visit: Onlooker, instrument_id: str) -> Closer:
    """The instrument with its newest readings; 404 where this bench has none such.

    A finished setup was judged by the description of its day; here the newest one counts, so that a touch
    found since is used. Readings of a board with other frets or strings say nothing about this one.
    """
    instrument = load_instrument(visit, instrument_id)
    return Closer(instrument, standing_case(visit, instrument, load_setups(visit, instrument_id)))
