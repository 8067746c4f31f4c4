"""The quick check: two minutes between setups, one screen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import Response

from webapp.pages.common import Visit, new_form_id, see, visit
from webapp.pages.flash import value_words
from webapp.pages.forms import FormReader, form_id_of, read_form
from webapp.pages.loading import LoadedInstrument, LoadedSetup, load_instrument, load_setup
from webapp.pages.places import instrument_path
from webapp.pages.reading_form import WIDEST_CENTS, WIDEST_MM
from webapp.physics.lengths import Unit
from webapp.setups.convert import standard_relief
from webapp.setups.journal import QUICK, START_PLACE
from webapp.setups.quick import DRIFT_PLACE, quick_slots
from webapp.setups.slots import Slot, string_label, string_numbers
from webapp.setups.states import SlotState
from webapp.store import entries, setups
from webapp.store.entries import NewEntry
from webapp.store.errors import AlreadyRecorded
from webapp.trade.ranges import Band
from webapp.trade.words import Check

router = APIRouter()

TEMPERATURE_C = Band(low=-20, high=50)
HUMIDITY_PERCENT = Band(low=1, high=100)
DEGREES = (("c", "°C"), ("f", "°F"))
TWICE = "This quick check was recorded already; nothing was recorded twice."


@dataclass(frozen=True)
class QuickField:
    """One length on the screen."""

    name: str
    label: str
    hint: str
    signed: bool


@dataclass(frozen=True)
class QuickPage:
    """The one screen of a quick check."""

    instrument: LoadedInstrument
    fields: tuple[QuickField, ...]
    strings: tuple[tuple[str, str], ...]
    ages: tuple[tuple[str, str], ...]
    tools: tuple[tuple[str, str], ...]
    degrees: tuple[tuple[str, str], ...]
    unit: str
    form: FormReader
    form_id: str

    @property
    def action(self) -> str:
        return f"{instrument_path(self.instrument.id)}/quick"


@router.get("/instruments/{instrument_id}/quick")
def show(instrument_id: str, visit: Annotated[Visit, Depends(visit)]) -> Response:
    instrument = load_instrument(visit, instrument_id)
    return visit.render("pages/quick.html", build(visit, instrument, FormReader({})))


@router.post("/instruments/{instrument_id}/quick")
def send(
    instrument_id: str,
    visit: Annotated[Visit, Depends(visit)],
    form: Annotated[FormReader, Depends(read_form)],
) -> Response:
    instrument = load_instrument(visit, instrument_id)
    visit.remember_unit(form.unit("relief", visit.unit))
    made = read_quick(visit, instrument, form)
    if not form.ok:
        return visit.render("pages/quick.html", build(visit, instrument, form), 422)
    try:
        setup_id = _keep(visit, instrument, form, made)
    except AlreadyRecorded:
        form.fault("", TWICE)
        return visit.render("pages/quick.html", build(visit, instrument, form), 409)
    return see(f"{instrument_path(instrument_id)}/quick/{setup_id}")


def _keep(visit: Visit, instrument: LoadedInstrument, form: FormReader, made: list[NewEntry]) -> str:
    """A quick check is whole or not at all: begun, written and closed in one go."""
    form_id = form.raw("form_id")[:64] or new_form_id()
    with visit.writing() as session:
        setup_id = setups.start(session, visit.bench_id, instrument.id, form_id, visit.now)
        entries.append(session, visit.bench_id, setup_id, form_id, {}, made, visit.now)
        setups.finish(session, visit.bench_id, setup_id, instrument.row.version, visit.now)
    return setup_id


def read_quick(visit: Visit, instrument: LoadedInstrument, form: FormReader) -> list[NewEntry]:
    """Every entry of the quick check; faults stand beside the fields."""
    conditions = _conditions(form)
    age = form.choice("age", [a.key for a in visit.trade.start.ages], "how old the strings are")
    started: dict[str, Any] = {QUICK: True, "age": age, "done": [], "stoppers": [], **conditions}
    readings = _lengths(visit, instrument, form, conditions)
    drift = _drift(instrument, form)
    if form.ok and not readings and not drift:
        form.fault("relief", "Read at least one thing.")
    found = [NewEntry("observation", Check.START.value, START_PLACE, detail=started), *readings]
    if drift:
        detail = {"cents": drift, **conditions}
        found.append(NewEntry("observation", Check.START.value, DRIFT_PLACE, detail=detail))
    note = form.text("note", 2000)
    if note:
        found.append(NewEntry("note", Check.START.value, "log", typed=note))
    return found


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


def _lengths(
    visit: Visit, instrument: LoadedInstrument, form: FormReader, conditions: dict[str, float]
) -> list[NewEntry]:
    spec = instrument.spec
    family = visit.trade.kinds[spec.kind].family
    way = standard_relief(spec, visit.trade.ranges.families[family])
    tool = form.choice("tool", dict(_tools(visit)), "what you measured the heights with") or "ruler"
    found = []
    for slot in quick_slots(spec):
        name = _name(slot)
        if not form.raw(name).strip() and not form.raw(f"{name}_take"):
            continue
        relief = slot.check is Check.RELIEF
        plausible = visit.trade.ranges.plausible
        likely = plausible.relief if relief else plausible.height
        length = form.length(name, visit.unit, likely, WIDEST_MM[slot.check])
        if length is None:
            continue
        method = visit.trade.method(slot.check, "feeler" if relief else tool)
        detail: dict[str, Any] = {"method": method.key, **conditions}
        detail |= {"hold": way.hold, "press": way.press, "gap": way.gap} if relief else {"hold": 1, "gap": 12}
        error = visit.trade.tools[method.tool].error_mm
        unit, typed = length.unit.value, length.typed
        found.append(
            NewEntry(
                "reading", slot.check.value, slot.key, length.mm, unit, typed, method.tool, error, detail
            )
        )
    return found


def _drift(instrument: LoadedInstrument, form: FormReader) -> dict[str, float]:
    """How far each open string has drifted since it was last tuned, cents, by string number."""
    found = {}
    for number in string_numbers(instrument.spec):
        if form.raw(f"drift_{number}").strip():
            cents = form.cents(f"drift_{number}", WIDEST_CENTS)
            if cents is not None:
                found[str(number)] = cents
    return found


def _name(slot: Slot) -> str:
    return slot.key.replace(".", "_")


def _tools(visit: Visit) -> tuple[tuple[str, str], ...]:
    methods = visit.trade.methods_for(Check.HEIGHT)
    return tuple((m.key, m.label) for m in methods if m.input == "length")


def build(visit: Visit, instrument: LoadedInstrument, form: FormReader) -> QuickPage:
    """The page's context."""
    spec = instrument.spec
    family = visit.trade.kinds[spec.kind].family
    way = standard_relief(spec, visit.trade.ranges.families[family])
    fields = tuple(
        QuickField(_name(slot), _label(instrument, slot), _hint(slot, way.text), slot.check is Check.RELIEF)
        for slot in quick_slots(spec)
    )
    return QuickPage(
        instrument=instrument,
        fields=fields,
        strings=tuple((str(n), string_label(spec, n)) for n in string_numbers(spec)),
        ages=tuple((a.key, a.label) for a in visit.trade.start.ages),
        tools=_tools(visit),
        degrees=DEGREES,
        unit=Unit(visit.unit).value,
        form=form,
        form_id=form_id_of(form),
    )


def _label(instrument: LoadedInstrument, slot: Slot) -> str:
    return "Relief" if slot.string is None else f"Height, {string_label(instrument.spec, slot.string)}"


def _hint(slot: Slot, relief_way: str) -> str:
    return f"Feeler gauge, {relief_way}." if slot.check is Check.RELIEF else "At fret 12, held at 1."


@dataclass(frozen=True)
class QuickResult:
    """What the quick check says."""

    setup: LoadedSetup
    rows: tuple[tuple[SlotState, str], ...]
    said: tuple[str, ...]
    needs_setup: bool


@router.get("/instruments/{instrument_id}/quick/{setup_id}")
def result(instrument_id: str, setup_id: str, visit: Annotated[Visit, Depends(visit)]) -> Response:
    instrument = load_instrument(visit, instrument_id)
    setup = load_setup(visit, setup_id)
    states = [setup.assessment.slot(slot.key) for slot in quick_slots(instrument.spec)]
    read = [state for state in states if state.reading is not None]
    off = [state for state in read if not state.verdict.settled]
    said = tuple(f"{state.label}: {state.advice.means}" for state in off if state.advice is not None)
    rows = tuple((state, value_words(setup, state)) for state in read)
    return visit.render("pages/quick_result.html", QuickResult(setup, rows, said, bool(off)))
