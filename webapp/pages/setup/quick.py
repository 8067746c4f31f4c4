"""The quick check: two minutes between setups, one screen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.setup.reading_form import Ask, ask_of, read_entries
from webapp.pages.setup.reading_help import ReadingRow, check_name, lines_for, rows_for, value_words
from webapp.pages.visit.addresses import instrument_path
from webapp.pages.visit.answering import answer
from webapp.pages.visit.case_loading import (
    LoadedInstrument,
    LoadedSetup,
    load_all,
    load_instrument,
    load_setup,
    standing_case,
)
from webapp.pages.visit.forms import FormReader, Posted, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.assess import assess_case
from webapp.setups.case import Case
from webapp.setups.checks.intonation import Intonation
from webapp.setups.journal import DRIFT_PLACE, OF_NO_CHECK, QUICK, START_PLACE, Entry, EntryKind, quick_slots
from webapp.setups.slots import string_label, string_numbers
from webapp.setups.states import Assessment, SlotState
from webapp.store import entries, setups
from webapp.trade.ranges import Band

router = APIRouter()

TEMPERATURE_C = Band(low=-20, high=50)
HUMIDITY_PERCENT = Band(low=1, high=100)
DEGREES = (("c", "°C"), ("f", "°F"))


@dataclass(frozen=True)
class QuickAsk:
    """One check's readings on the screen, and how they are taken."""

    ask: Ask
    rows: tuple[ReadingRow, ...]
    title: str
    hint: str


@dataclass(frozen=True)
class QuickPage:
    """The one screen of a quick check."""

    instrument: LoadedInstrument
    asks: tuple[QuickAsk, ...]
    strings: tuple[tuple[str, str], ...]
    ages: tuple[tuple[str, str], ...]
    degrees: tuple[tuple[str, str], ...]
    unit: str
    form: FormReader
    form_id: str

    @property
    def action(self) -> str:
        return f"{instrument_path(self.instrument.id)}/quick"

    def with_tool(self, ask: Ask, method: str) -> str:
        """The address of this page with another tool for one check, the others as they are."""
        tools = {one.ask.prefix: one.ask.method.key for one in self.asks} | {ask.prefix: method}
        return f"{self.action}?" + "&".join(f"{prefix}tool={key}" for prefix, key in tools.items())


@router.get("/instruments/{instrument_id}/quick")
def show(
    instrument_id: str,
    visit: Visiting,
    relief_tool: str = "",
    height_tool: str = "",
) -> Response:
    instrument, case = _load(visit, instrument_id)
    form = FormReader({"relief_tool": relief_tool, "height_tool": height_tool})
    return visit.render("pages/setup/quick.html", build(visit, instrument, case, form))


@router.post("/instruments/{instrument_id}/quick")
def send(
    instrument_id: str,
    visit: Visiting,
    form: Posted,
) -> Response:
    instrument, case = _load(visit, instrument_id)
    return answer(
        form,
        read_quick(visit, case, form),
        lambda made: see(_result_path(instrument_id, _keep(visit, instrument, form, made))),
        lambda status: visit.render("pages/setup/quick.html", build(visit, instrument, case, form), status),
        lambda setup_id: _result_path(instrument_id, setup_id),
    )


def _result_path(instrument_id: str, setup_id: str) -> str:
    return f"{instrument_path(instrument_id)}/quick/{setup_id}"


def _load(visit: Visit, instrument_id: str) -> tuple[LoadedInstrument, Case]:
    """The instrument, and how it stands after all that was ever read of it."""
    instrument, passes = load_all(visit, instrument_id)
    return instrument, standing_case(visit, instrument, passes)


def _keep(visit: Visit, instrument: LoadedInstrument, form: FormReader, made: list[Entry]) -> str:
    """A quick check is whole or not at all: begun, written and closed in one go."""
    form_id = form_id_of(form)
    with visit.writing() as session:
        setup_id = setups.start(session, visit.bench_id, instrument.id, form_id, visit.now)
        entries.append(session, visit.bench_id, setup_id, form_id, {}, made, visit.now)
        setups.finish(session, visit.bench_id, setup_id, instrument.row.version, visit.now)
    return setup_id


def read_quick(visit: Visit, case: Case, form: FormReader) -> list[Entry]:
    """Every entry of the quick check; faults stand beside the fields."""
    conditions = _conditions(form)
    age = form.choice("age", [a.key for a in visit.trade.start.ages], "how old the strings are")
    started: dict[str, Any] = {QUICK: True, "age": age, "done": [], "stoppers": [], **conditions}
    readings = [
        replace(entry, detail={**entry.detail, **conditions})
        for ask in asks_of(visit, case, form)
        for entry in read_entries(ask, form)
    ]
    drift = _drift(case, form)
    if form.ok and not readings and not drift:
        form.fault("relief", "Read at least one thing.")
    found = [Entry(EntryKind.OBSERVATION, OF_NO_CHECK, START_PLACE, detail=started), *readings]
    if drift:
        detail = {"cents": drift, **conditions}
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


def _conditions(form: FormReader) -> dict[str, float]:
    """Temperature in Celsius and relative humidity, where they were typed."""
    found: dict[str, float] = {}
    fahrenheit = form.raw("degrees") == "f"
    temperature = form.number("temperature", "the temperature, such as 21", Band(low=-40, high=130))
    if temperature is not None:
        celsius = (temperature - 32) * 5 / 9 if fahrenheit else temperature
        if TEMPERATURE_C.contains(celsius):
            found["temperature_c"] = celsius
        else:
            form.fault("temperature", "No room is that warm or that cold. Check the number and the unit.")
    humidity = form.number("humidity", "the relative humidity in percent, such as 45", HUMIDITY_PERCENT)
    if humidity is not None:
        found["humidity_percent"] = humidity
    return found


def _drift(case: Case, form: FormReader) -> dict[str, float]:
    """How far each open string has drifted since it was last tuned, cents, by string number."""
    found = {}
    for number in string_numbers(case.spec):
        if form.raw(f"drift_{number}").strip():
            cents = form.cents(f"drift_{number}", Intonation.widest)
            if cents is not None:
                found[str(number)] = cents
    return found


def build(visit: Visit, instrument: LoadedInstrument, case: Case, form: FormReader) -> QuickPage:
    """The page's context."""
    spec, stands = instrument.spec, assess_case(case)
    asks = tuple(
        QuickAsk(ask, _rows(ask, stands), check_name(ask.check.check), " ".join(lines_for(ask)))
        for ask in asks_of(visit, case, form)
    )
    return QuickPage(
        instrument=instrument,
        asks=asks,
        strings=tuple((str(n), string_label(spec, n)) for n in string_numbers(spec)),
        ages=tuple((a.key, a.label) for a in visit.trade.start.ages),
        degrees=DEGREES,
        unit=form.unit("value", visit.unit).value,
        form=form,
        form_id=form_id_of(form),
    )


def _rows(ask: Ask, stands: Assessment) -> tuple[ReadingRow, ...]:
    """The rows of one check; a lone one is called by its tool, as its check stands above it."""
    rows = rows_for(ask, [stands.slot(slot.key) for slot in ask.slots])
    return rows if len(rows) > 1 else tuple(replace(row, label=ask.method.label) for row in rows)


@dataclass(frozen=True)
class QuickResult:
    """What the quick check says."""

    setup: LoadedSetup
    rows: tuple[tuple[SlotState, str], ...]
    said: tuple[str, ...]
    needs_setup: bool


@router.get("/instruments/{instrument_id}/quick/{setup_id}")
def result(instrument_id: str, setup_id: str, visit: Visiting) -> Response:
    instrument = load_instrument(visit, instrument_id)
    setup = load_setup(visit, setup_id)
    states = [setup.assessment.slot(slot.key) for slot in quick_slots(instrument.spec)]
    read = [state for state in states if state.reading is not None]
    off = [state for state in read if state.open or not state.verdict.settled]
    said = tuple(f"{state.label}: {state.advice.means}" for state in off if state.advice is not None)
    rows = tuple((state, value_words(setup, state)) for state in read)
    return visit.render("pages/setup/quick_result.html", QuickResult(setup, rows, said, bool(off)))
