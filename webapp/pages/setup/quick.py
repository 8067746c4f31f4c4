"""The quick check: two minutes between setups, one screen."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.bands.before_after import Change, before_after
from webapp.drawings.bands.strip import Read, Value
from webapp.drawings.portrait.portrait import PlaceMark, lying, portrait
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.air.fields import AirFields, air_fields, air_of_today, keep_air, read_air
from webapp.pages.history.season import daily_air, drift
from webapp.pages.setup.pictures import as_read, now_of, place_of, units_of
from webapp.pages.setup.reading_form import Ask, ask_of, read_entries
from webapp.pages.setup.reading_help import (
    ReadingRow,
    check_name,
    drawing_for,
    lines_for,
    rows_for,
    value_words,
)
from webapp.pages.visit.addresses import instrument_path, read_path
from webapp.pages.visit.answering import answer
from webapp.pages.visit.case_loading import (
    LoadedInstrument,
    LoadedSetup,
    load_all,
    load_setup,
    standing_assessment,
    standing_case,
)
from webapp.pages.visit.forms import FormReader, Posted, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, new_form_id, see
from webapp.setups.case import Case
from webapp.setups.checks.intonation import Intonation
from webapp.setups.dates import short_day
from webapp.setups.journal import (
    DRIFT_PLACE,
    OF_NO_CHECK,
    QUICK,
    START_PLACE,
    Entry,
    EntryKind,
    Journal,
    quick_slots,
)
from webapp.setups.seasons.drift import by_the_air
from webapp.setups.seasons.due import strings_age
from webapp.setups.slots import string_label, string_numbers
from webapp.setups.states import Act, Assessment, SlotState, Word, worst
from webapp.store import entries, setups

router = APIRouter()

# The portrait leaves room for all fields of a small screen.
PORTRAIT_HIGH = 100.0


@dataclass(frozen=True)
class QuickAsk:
    """One check's readings on the screen, what they were, and how they are taken."""

    ask: Ask
    rows: tuple[ReadingRow, ...]
    title: str
    was: str
    lines: tuple[str, str]
    drawing: Drawing | None


@dataclass(frozen=True)
class QuickPage:
    """The one screen of a quick check."""

    instrument: LoadedInstrument
    picture: Drawing
    asks: tuple[QuickAsk, ...]
    strings: tuple[tuple[str, str], ...]
    ages: tuple[tuple[str, str], ...]
    age: str
    air: AirFields
    unit: str
    form: FormReader
    form_id: str

    @property
    def action(self) -> str:
        return f"{instrument_path(self.instrument.id)}/quick"

    @property
    def age_said(self) -> str:
        """How old the strings are by what was told before; empty where nothing was."""
        return dict(self.ages).get(self.age, "")

    @property
    def drift_faulty(self) -> bool:
        return any(self.form.error(f"drift_{number}") for number, _ in self.strings)

    def tool_link(self, ask: Ask) -> Callable[[str], str]:
        """The address of this page with another tool for one check, the others as they are."""

        def link(method: str) -> str:
            tools = {one.ask.prefix: one.ask.method.key for one in self.asks} | {ask.prefix: method}
            return f"{self.action}?" + "&".join(f"{prefix}tool={key}" for prefix, key in tools.items())

        return link


@dataclass(frozen=True)
class Stands:
    """The instrument as it stands after all that was ever read of it."""

    instrument: LoadedInstrument
    case: Case
    assessment: Assessment


@router.get("/instruments/{instrument_id}/quick")
def show(
    instrument_id: str,
    visit: Visiting,
    relief_tool: str = "",
    height_tool: str = "",
) -> Response:
    form = FormReader({"relief_tool": relief_tool, "height_tool": height_tool})
    return visit.render("pages/setup/quick.html", build(visit, _load(visit, instrument_id), form))


@router.post("/instruments/{instrument_id}/quick")
def send(
    instrument_id: str,
    visit: Visiting,
    form: Posted,
) -> Response:
    how = _load(visit, instrument_id)
    visit.remember_unit(form.unit("value", visit.unit))
    return answer(
        form,
        read_quick(visit, how.case, form),
        lambda made: see(_result_path(instrument_id, _keep(visit, how.instrument, form, made))),
        lambda status: visit.render("pages/setup/quick.html", build(visit, how, form), status),
        lambda setup_id: _result_path(instrument_id, setup_id),
    )


def _result_path(instrument_id: str, setup_id: str) -> str:
    return f"{instrument_path(instrument_id)}/quick/{setup_id}"


def _load(visit: Visit, instrument_id: str) -> Stands:
    instrument, passes = load_all(visit, instrument_id)
    case = standing_case(visit, instrument, passes)
    return Stands(instrument, case, standing_assessment(visit, instrument, passes, case))


def _keep(visit: Visit, instrument: LoadedInstrument, form: FormReader, made: list[Entry]) -> str:
    """A quick check is whole or not at all: begun, written and closed in one go. The air goes to the bench,
    unless it was only what the bench had told."""
    form_id = form_id_of(form)
    typed = read_air(form, required=False)
    known = air_fields(visit, form, air_of_today(visit))
    with visit.writing() as session:
        setup_id = setups.start(session, visit.bench_id, instrument.id, form_id, visit.now)
        entries.append(session, visit.bench_id, setup_id, form_id, {}, made, visit.now)
        setups.finish(session, visit.bench_id, setup_id, instrument.row.version, visit.now)
        if typed is not None and not known.is_as_known:
            keep_air(session, visit, typed)
    return setup_id


def read_quick(visit: Visit, case: Case, form: FormReader) -> list[Entry]:
    """Every entry of the quick check; faults stand beside the fields."""
    air = read_air(form, required=False)
    conditions = air._asdict() if air else {}
    age = form.choice("age", [a.key for a in visit.trade.start.ages], "how old the strings are")
    started: dict[str, Any] = {QUICK: True, "age": age, "done": [], "stoppers": [], **conditions}
    readings = [
        replace(entry, detail={**entry.detail, **conditions})
        for ask in asks_of(visit, case, form)
        for entry in read_entries(ask, form)
    ]
    drifted = _drift(case, form)
    if form.ok and not readings and not drifted:
        form.fault("relief", "Read at least one thing.")
    found = [Entry(EntryKind.OBSERVATION, OF_NO_CHECK, START_PLACE, detail=started), *readings]
    if drifted:
        detail = {"cents": drifted, **conditions}
        found.append(Entry(EntryKind.OBSERVATION, OF_NO_CHECK, DRIFT_PLACE, detail=detail))
    note = form.text("note", 2000)
    if note:
        found.append(Entry(EntryKind.NOTE, OF_NO_CHECK, "log", typed=note))
    return found


def asks_of(visit: Visit, case: Case, form: FormReader) -> tuple[Ask, ...]:
    """What a quick check reads, check by check."""
    slots = quick_slots(case.spec)
    by_check = groupby(slots, key=lambda slot: slot.check)
    return tuple(
        ask_of(case, tuple(some), form, visit.unit, visit.at_hand, prefix=f"{check.value}_")
        for check, some in by_check
    )


def _drift(case: Case, form: FormReader) -> dict[str, float]:
    """How far each open string has drifted since it was last tuned, cents, by string number."""
    found = {}
    for number in string_numbers(case.spec):
        if form.raw(f"drift_{number}").strip():
            cents = form.cents(f"drift_{number}", Intonation.widest)
            if cents is not None:
                found[str(number)] = cents
    return found


def build(visit: Visit, how: Stands, form: FormReader) -> QuickPage:
    """The page's context."""
    spec, case = how.case.spec, how.case
    asks = tuple(_quick_ask(how, ask) for ask in asks_of(visit, case, form))
    whole = lying(spec)
    return QuickPage(
        instrument=how.instrument,
        picture=portrait(
            spec,
            tuple(_marks(how, asks)),
            max(1.0, whole.height / PORTRAIT_HIGH) / whole.view.per_mm,
            units=units_for(visit.unit.value),
        ),
        asks=asks,
        strings=tuple((str(n), string_label(spec, n)) for n in string_numbers(spec)),
        ages=tuple((a.key, a.label) for a in visit.trade.start.ages),
        age=strings_age(case),
        air=air_fields(visit, form, air_of_today(visit)),
        unit=form.unit("value", visit.unit).value,
        form=form,
        form_id=form_id_of(form),
    )


def _quick_ask(how: Stands, ask: Ask) -> QuickAsk:
    """One check; a lone row is called by its tool, as its check stands above it."""
    states = [how.assessment.slot(slot.key) for slot in ask.slots]
    rows = tuple(replace(row, before="", expected="") for row in rows_for(ask, states))
    if len(rows) == 1:
        rows = (replace(rows[0], label=ask.method.label),)
    was = _was_words(how.case, states)
    return QuickAsk(ask, rows, check_name(ask.check.check), was, lines_for(ask), drawing_for(ask))


def _was_words(case: Case, states: Sequence[SlotState]) -> str:
    """'was 2.50 and 1.90 mm, 3 Mar 2026', or what is expected where something was turned since; empty where
    one of them was never read."""
    read = [state.reading for state in states if state.reading is not None]
    if len(read) < len(states):
        return ""
    if any(state.moved_by for state in states):
        return f"expected about {_together([case.say.length(state.value) for state in states])}"
    values = _together([case.say.reading(reading) for reading in read])
    return f"was {values}, {short_day(max(reading.at for reading in read))}"


def _together(values: Sequence[str]) -> str:
    """'2.50 and 1.90 mm': a unit that all have is said once."""
    unit = values[0].rpartition(" ")[2]
    if all(value.endswith(f" {unit}") for value in values):
        values = [*(value.removesuffix(f" {unit}") for value in values[:-1]), values[-1]]
    return " and ".join(values)


def _marks(how: Stands, asks: Sequence[QuickAsk]) -> Iterator[PlaceMark]:
    """How the places that are asked for stand by what is known."""
    for one in asks:
        states = [how.assessment.slot(slot.key) for slot in one.ask.slots]
        word = worst([state.verdict.word for state in states])
        said = next(state.said for state in states if state.verdict.word is word)
        yield PlaceMark(place_of(how.case.spec, one.ask.check.check), word, f"{one.title}: {said}")


@dataclass(frozen=True)
class QuickResult:
    """What the quick check says; `value` is there where one place was read alone.

    `again` asks for another reading, `right` for a setup that puts it right; `right_path` is the way into the
    one that is under way, empty where one is to be begun.
    """

    setup: LoadedSetup
    heading: str
    value: str
    word: Word
    picture: Drawing | None
    means: tuple[str, ...]
    air: str
    again: bool
    right: bool
    right_path: str
    form_id: str

    @property
    def home(self) -> str:
        return instrument_path(self.setup.instrument.id)


@router.get("/instruments/{instrument_id}/quick/{setup_id}")
def result(instrument_id: str, setup_id: str, visit: Visiting) -> Response:
    instrument, passes = load_all(visit, instrument_id)
    setup = load_setup(visit, setup_id)
    every = (setup.assessment.slot(slot.key) for slot in quick_slots(setup.spec))
    read = [state for state in every if state.reading is not None]
    # What was done since says more than this check.
    newest = passes[0].id == setup_id
    turned = [state for state in read if newest and state.wants is Act.DECIDE]
    word = worst([state.verdict.word for state in read])
    again = newest and word is Word.MEASURE_AGAIN
    under_way = next((one.id for one in passes if not one.finished), "")
    page = QuickResult(
        setup=setup,
        heading=_heading(read, word),
        value=value_words(setup, read[0]) if len(read) == 1 else "",
        word=word,
        picture=before_after([_change(setup.case, state) for state in read]) if read else None,
        means=() if again else tuple(dict.fromkeys(s.advice.means for s in turned if s.advice is not None)),
        air=_explained(visit, instrument, standing_case(visit, instrument, passes), read),
        again=again,
        right=bool(turned),
        right_path=read_path(under_way, turned[0].slot.key) if turned and under_way else "",
        form_id=new_form_id(),
    )
    return visit.render("pages/setup/quick_result.html", page)


def _heading(read: Sequence[SlotState], word: Word) -> str:
    """The whole in a few words; `word` is that of the place that most needs a hand."""
    if not read:
        return "Recorded"
    alike = [state for state in read if state.verdict.word is word]
    off = [state for state in read if state.verdict.word.is_off]
    if word is not Word.MEASURE_AGAIN and len(off) > 1:
        return f"{len(off)} of {len(read)} places are off target"
    if word is not Word.GOOD:
        return f"{alike[0].label}: {alike[0].said}"
    return "All is well"


def _change(case: Case, state: SlotState) -> Change:
    """What it was before this check, and what it is now."""
    usual, target = state.bands.usual, state.bands.target
    return Change(
        state.label,
        units_of(case, state.slot),
        (usual.low, usual.high),
        (target.low, target.high),
        _was(replace(case, journal=Journal(())), state),
        now_of(case, state),
        state.verdict.word,
        state.said,
    )


def _was(before: Case, state: SlotState) -> Read | None:
    """As it was last read; as it was believed where something was turned since, or that was a slip."""
    key = state.slot.key
    read = [entry for journal in before.past for entry in journal.readings(key)]
    if not read:
        return None
    unsure = key in before.belief.moved or key in before.belief.doubted
    last = None if unsure else as_read(before, state.slot, read[-1])
    stands = before.standing(state.slot)
    return last or Value(stands.mean, stands.give)


def _explained(visit: Visit, instrument: LoadedInstrument, case: Case, read: Sequence[SlotState]) -> str:
    """What the air has to do with it, of the first place that can be told of: heights follow the relief."""
    daily = daily_air(visit)
    there = quick_slots(instrument.spec)
    readings = [(s.slot, s.reading) for s in read if s.slot in there and s.reading is not None]
    told = (by_the_air(case, drift(visit, instrument, case, slot, daily), one) for slot, one in readings)
    return next(filter(None, told), "")
