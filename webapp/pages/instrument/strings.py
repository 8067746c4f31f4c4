"""Choosing strings: what a set pulls, putting it on, and the unit weights on a packet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.bands.pull import Pull, pull_bars
from webapp.drawings.shapes import Drawing
from webapp.pages.instrument.description_fields import WOUND
from webapp.pages.instrument.string_choice import (
    OWN,
    SET,
    TUNING,
    Chosen,
    filled,
    gauge_words,
    read_choice,
    restrung,
    set_options,
    tuning_options,
    worn,
)
from webapp.pages.instrument.string_rows import places_of
from webapp.pages.visit.addresses import instrument_path, setup_path
from webapp.pages.visit.answering import answer
from webapp.pages.visit.case_loading import LoadedInstrument, LoadedSetup, load_instrument, load_setups
from webapp.pages.visit.forms import FormReader, Posted, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.physics.numbers import Length, say_number
from webapp.setups.case import Case
from webapp.setups.journal import QUICK, Entry, EntryKind, Journal, Part, Turn, turn_detail
from webapp.setups.slots import string_label, string_numbers
from webapp.setups.strings.relief_pull import (
    LOAD_AFTER,
    LOAD_BEFORE,
    SAME_STRINGS,
    ReliefForecast,
    relief_forecast,
)
from webapp.setups.strings.tension import (
    Comparison,
    Load,
    compare,
    estimated_kg_m,
    kgf,
    lbf,
    load_on,
    weight_by_gauge,
)
from webapp.setups.strings.weights import (
    WEIGHT_UNIT,
    WeightError,
    WeightUnit,
    format_weight,
    parse_weight,
    weight_field,
    weight_number,
)
from webapp.store import entries, instruments, setups
from webapp.store.engine import Session
from webapp.trade.content import Trade
from webapp.trade.spec import InstrumentSpec, StringSpec
from webapp.trade.words import Family

router = APIRouter()

PLACE = "log"


@dataclass(frozen=True)
class Tried:
    """Another set or tuning beside the present one."""

    chosen: Chosen
    comparison: Comparison
    relief: ReliefForecast

    @property
    def changes(self) -> bool:
        """Whether anything would change at all."""
        before = [s.string for s in self.comparison.before.strings]
        return before != [s.string for s in self.comparison.after.strings]


@dataclass(frozen=True)
class StringsPage:
    """Everything the page shows."""

    instrument: LoadedInstrument
    family: Family
    load: Load
    tried: Tried | None
    sets: tuple[tuple[str, str], ...]
    tunings: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    under_way: bool
    put_on: bool
    form: FormReader
    form_id: str
    version: int

    wound = WOUND

    @property
    def path(self) -> str:
        return strings_path(self.instrument.id)

    @property
    def places(self) -> tuple[str, ...]:
        return places_of(self.instrument.spec)

    @property
    def picture(self) -> Drawing:
        """What each string pulls with; where others are tried, theirs, and a ring for what is on now."""
        if self.tried is None:
            now = [Pull(_notes(s.string), s.pull_n, self.newton(s.pull_n)) for s in self.load.strings]
            return pull_bars(now, "The pull of each string")
        both = self.tried.comparison.strings
        pulls = [
            Pull(_notes(s.after.string), s.after.pull_n, self.newton(s.after.pull_n), s.before.pull_n)
            for s in both
        ]
        return pull_bars(pulls, "The pull of each string, tried and now")

    @property
    def own_open(self) -> bool:
        """Whether the fold with own gauges and notes is open."""
        return OWN in (self.form.raw(SET), self.form.raw(TUNING))

    def gauge(self, gauge_mm: float) -> str:
        return gauge_words(gauge_mm, self.family)

    def newton(self, newton: float) -> str:
        return f"{say_number(newton, 0)} N"

    def lbf(self, newton: float) -> str:
        return f"{say_number(lbf(newton), 1)} lbf"

    def kgf(self, newton: float) -> str:
        return f"{say_number(kgf(newton), 1)} kgf"

    def suggestions(self, name: str) -> tuple[Length, ...]:
        return self.form.suggestions.get(name, ())


def _notes(string: StringSpec) -> str:
    return "/".join(one.note for one in string.course)


def strings_path(instrument_id: str) -> str:
    return f"{instrument_path(instrument_id)}/strings"


@router.get("/instruments/{instrument_id}/strings")
def show(instrument_id: str, visit: Visiting) -> Response:
    """The strings as they are; beside them another set or tuning, where one was asked for."""
    instrument = load_instrument(visit, instrument_id)
    asked = dict(visit.request.query_params)
    form = filled(instrument.spec, asked)
    page = build(visit, instrument, form, bool({SET, TUNING} & set(asked)))
    return visit.render("pages/instrument/strings.html", page, form.status)


@router.post("/instruments/{instrument_id}/strings")
def put_on(instrument_id: str, visit: Visiting, sent: Posted) -> Response:
    """The strings that were tried are on: the description changes, and the journal says when."""
    instrument = load_instrument(visit, instrument_id)
    form = filled(instrument.spec, dict(sent.data))
    version = form.shown_with("version")

    def keep(chosen: Chosen) -> Response:
        # Sent twice, they are on already.
        if version == instrument.row.version or chosen.strings != instrument.spec.strings:
            with visit.writing() as session:
                spec = restrung(instrument.spec, chosen).model_dump_json()
                new = instruments.revise(session, visit.bench_id, instrument_id, spec, version)
                _write_down(session, visit, instrument, chosen, form_id_of(form), new)
        return _after(visit, instrument_id)

    def shown(status: int) -> Response:
        page = build(visit, load_instrument(visit, instrument_id), form, compared=status == 409)
        return visit.render("pages/instrument/strings.html", page, status)

    return answer(form, read_choice(form, instrument.spec, visit.trade), keep, shown)


def _after(visit: Visit, instrument_id: str) -> Response:
    """On with the setup under way, which asks everything again; else the strings as they are now."""
    with visit.reading() as session:
        setup_id = _under_way(session, visit, instrument_id)
    return see(setup_path(setup_id) if setup_id else f"{strings_path(instrument_id)}?put_on=1")


def _under_way(session: Session, visit: Visit, instrument_id: str) -> str | None:
    passes = setups.list_for(session, visit.bench_id, instrument_id)
    return next((row.id for row in passes if row.finished_at is None), None)


def _write_down(
    session: Session, visit: Visit, instrument: LoadedInstrument, chosen: Chosen, form_id: str, version: int
) -> None:
    """The change goes into the setup under way, else into a journal of its own, begun and closed in one go.

    Either way what was read before is only expected from then on, on the instrument's card as well.
    """
    bench_id, setup_id = visit.bench_id, _under_way(session, visit, instrument.id)
    entry = strings_entry(visit, instrument, chosen, between=setup_id is None)
    if setup_id is not None:
        entries.append(session, bench_id, setup_id, form_id, {}, [entry], visit.now)
        return
    own = setups.start(session, bench_id, instrument.id, form_id, visit.now)
    entries.append(session, bench_id, own, form_id, {}, [entry], visit.now)
    setups.finish(session, bench_id, own, version, visit.now)


def strings_entry(visit: Visit, instrument: LoadedInstrument, chosen: Chosen, *, between: bool) -> Entry:
    """The journal's line: what was put on, and the pull before and after; `between` setups or in one."""
    spec = instrument.spec
    compared = compare(spec, visit.trade, chosen.strings)
    notes = " ".join(string.note for string in chosen.strings)
    others = list(map(worn, chosen.strings)) != list(map(worn, spec.strings))
    what = f"Strings changed: {chosen.set_words}, tuned to {notes}" if others else f"Tuned to {notes}"
    detail = turn_detail(Turn(Part.STRINGS)) | {
        LOAD_BEFORE: round(compared.before.total_n, 2),
        LOAD_AFTER: round(compared.after.total_n, 2),
    }
    detail |= ({} if others else {SAME_STRINGS: True}) | ({QUICK: True} if between else {})
    return Entry(EntryKind.ADJUSTMENT, Part.STRINGS.check, PLACE, typed=what, detail=detail)


def build(visit: Visit, instrument: LoadedInstrument, form: FormReader, compared: bool) -> StringsPage:
    """The page's context; `compared` asks for the form's set beside the present one."""
    spec, trade = instrument.spec, visit.trade
    passes = load_setups(visit, instrument.id)
    chosen = read_choice(form, spec, trade) if compared else None
    tried = None
    if chosen is not None:
        comparison = compare(spec, trade, chosen.strings)
        case = _newest_case(visit, instrument, passes)
        tried = Tried(chosen, comparison, relief_forecast(case, comparison.change))
    return StringsPage(
        instrument=instrument,
        family=trade.kinds[spec.kind].family,
        load=load_on(spec, trade),
        tried=tried,
        sets=set_options(spec, trade),
        tunings=tuning_options(spec, trade),
        cautions=tuple(c.text for c in trade.cautions_for(spec, "strings")),
        under_way=any(not one.finished for one in passes),
        put_on=bool(form.raw("put_on")),
        form=form,
        form_id=form_id_of(form),
        version=form.show_with("version", instrument.row.version),
    )


def _newest_case(visit: Visit, instrument: LoadedInstrument, passes: Sequence[LoadedSetup]) -> Case:
    """The newest setup's case, which knows the journals before it; an empty one where there is none."""
    if passes:
        return passes[0].case
    return Case(instrument.spec, visit.trade, Journal(()), visit.now, visit.say)


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
def show_weights(instrument_id: str, visit: Visiting) -> Response:
    """What is known from a packet, to type over."""
    instrument = load_instrument(visit, instrument_id)
    return _render(visit, instrument, FormReader(_values(instrument.spec)))


@router.post("/instruments/{instrument_id}/strings/weights")
def keep_weights(instrument_id: str, visit: Visiting, form: Posted) -> Response:
    """Keep the weights as a new version of the description; an empty field forgets one."""
    instrument = load_instrument(visit, instrument_id)

    def keep_weights(spec: InstrumentSpec) -> Response:
        with visit.writing() as session:
            text, version = spec.model_dump_json(), form.shown_with("version")
            instruments.revise(session, visit.bench_id, instrument_id, text, version)
        return see(f"{instrument_path(instrument_id)}/strings")

    def shown(status: int) -> Response:
        return _render(visit, load_instrument(visit, instrument_id), form, status)

    return answer(form, read_weights(form, instrument.spec, visit.trade), keep_weights, shown)


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
