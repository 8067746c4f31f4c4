"""The form for the unit weights on a packet of strings."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.instrument.string_choice import gauge_words
from webapp.pages.visit.addresses import instrument_path
from webapp.pages.visit.answering import answer
from webapp.pages.visit.case_loading import LoadedInstrument, load_instrument
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.slots import string_label, string_numbers
from webapp.setups.strings.tension import estimated_kg_m, weight_by_gauge
from webapp.setups.strings.weights import (
    WEIGHT_UNIT,
    WeightError,
    WeightUnit,
    format_weight,
    parse_weight,
    weight_field,
    weight_number,
)
from webapp.store import instruments
from webapp.trade.content import Trade
from webapp.trade.spec import InstrumentSpec

router = APIRouter()


@dataclass(frozen=True)
class WeightRow:
    """One string's field."""

    name: str
    label: str
    value: str
    error: str | None
    hint: str


@dataclass(frozen=True)
class WeightsPage:
    """The form, bass side first."""

    instrument: LoadedInstrument
    rows: tuple[WeightRow, ...]
    unit: str
    form: FormReader
    version: int

    units = tuple((unit.value, unit.value) for unit in WeightUnit)

    @property
    def path(self) -> str:
        return f"{instrument_path(self.instrument.id)}/strings/weights"


@router.get("/instruments/{instrument_id}/strings/weights")
def show(instrument_id: str, visit: Visiting) -> Response:
    """What is known from a packet, to type over."""
    instrument = load_instrument(visit, instrument_id)
    return _render(visit, instrument, FormReader(_values(instrument.spec)))


@router.post("/instruments/{instrument_id}/strings/weights")
def keep(instrument_id: str, visit: Visiting, form: Posted) -> Response:
    """Keep the weights as a new version of the description; an empty field forgets one."""
    instrument = load_instrument(visit, instrument_id)

    def keep(spec: InstrumentSpec) -> Response:
        with visit.writing() as session:
            text, version = spec.model_dump_json(), form.shown_with("version")
            instruments.revise(session, visit.bench_id, instrument_id, text, version)
        return see(f"{instrument_path(instrument_id)}/strings")

    def shown(status: int) -> Response:
        return _render(visit, load_instrument(visit, instrument_id), form, status)

    return answer(form, read_weights(form, instrument.spec, visit.trade), keep, shown)


def read_weights(form: FormReader, spec: InstrumentSpec, trade: Trade) -> InstrumentSpec:
    """The instrument with the weights of the form; mistakes get a sentence in the form."""
    unit = _unit(form.raw(WEIGHT_UNIT))
    strings = list(spec.strings)
    names = {WEIGHT_UNIT, *map(weight_field, string_numbers(spec))}
    typed = {name: text for name, text in spec.typed.items() if name not in names}
    for number in string_numbers(spec):
        name, index = weight_field(number), spec.index_of(number)
        text = form.text(name, 40)
        found = _weight(form, name, text, unit, _expected(spec, trade, number)) if text else None
        strings[index] = strings[index].model_copy(update={"unit_weight_kg_m": found})
        if found is not None:
            typed |= {name: text, WEIGHT_UNIT: unit.value}
    return spec.model_copy(update={"strings": tuple(strings), "typed": typed})


def _weight(
    form: FormReader, name: str, text: str, unit: WeightUnit, expected: tuple[float, float]
) -> float | None:
    try:
        return parse_weight(text, unit, *expected)
    except WeightError as wrong:
        form.fault(name, wrong.sentence)
        return None


def _expected(spec: InstrumentSpec, trade: Trade, number: int) -> tuple[float, float]:
    """A string's gauge in mm, and the weight that its gauge alone leads one to expect, kg/m."""
    string = spec.string(number)
    material = trade.string_stock.material(trade.kinds[spec.kind].family, string.wound)
    return string.gauge_mm, estimated_kg_m(material, string.gauge_mm)


def _unit(text: str) -> WeightUnit:
    try:
        return WeightUnit(text)
    except ValueError:
        return WeightUnit.POUND_PER_INCH


def _values(spec: InstrumentSpec) -> dict[str, str]:
    """The fields as typed where that still says the same weight, else as a packet prints it."""
    unit = _unit(spec.typed.get(WEIGHT_UNIT, ""))
    values = {WEIGHT_UNIT: unit.value}
    for number in string_numbers(spec):
        name, kg_m = weight_field(number), spec.string(number).unit_weight_kg_m
        if kg_m is not None:
            typed = spec.typed.get(name, "")
            values[name] = typed if _says(typed, unit, kg_m) else weight_number(kg_m, unit)
    return values


def _says(typed: str, unit: WeightUnit, kg_m: float) -> bool:
    try:
        return parse_weight(typed, unit, 1.0, kg_m) == kg_m
    except WeightError:
        return False


def _render(visit: Visit, instrument: LoadedInstrument, form: FormReader, status: int = 200) -> Response:
    unit = _unit(form.raw(WEIGHT_UNIT))
    rows = tuple(_row(visit.trade, instrument.spec, form, n, unit) for n in string_numbers(instrument.spec))
    page = WeightsPage(instrument, rows, unit.value, form, form.show_with("version", instrument.row.version))
    return visit.render("pages/instrument/string_weights.html", page, status)


def _row(trade: Trade, spec: InstrumentSpec, form: FormReader, number: int, unit: WeightUnit) -> WeightRow:
    string, name = spec.string(number), weight_field(number)
    family = trade.kinds[spec.kind].family
    used = weight_by_gauge(trade, family, string)
    return WeightRow(
        name=name,
        label=f"{string_label(spec, number)}, {gauge_words(string.gauge_mm, family)}",
        value=form.raw(name),
        error=form.error(name),
        hint=f"Without it: {format_weight(used.kg_m, unit)}, {used.basis.value}.",
    )
