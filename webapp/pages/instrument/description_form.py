"""Describing an instrument: its name and kind at first; what the kind filled in is corrected when needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

from fastapi import APIRouter, Response

from webapp.drawings.portrait.portrait import portrait
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.instrument.description_fields import (
    FIELDS,
    KIND,
    NEW_FIELDS,
    NO_PICKUP,
    OWN_TOUCH_OPTION,
    PICKUPS_AT_MOST,
    SECTIONS,
    STRINGS_AT_LEAST,
    STRINGS_AT_MOST,
    TOUCH,
    TOUCHES,
    WOUND,
    BoardShape,
    HintedOptions,
    new_options,
    offered,
    pickup_types,
)
from webapp.pages.instrument.description_reading import form_values, gauge_unit, read_new, read_spec
from webapp.pages.instrument.string_rows import resized, row_count, second
from webapp.pages.visit.addresses import instrument_path
from webapp.pages.visit.answering import answer
from webapp.pages.visit.case_loading import LoadedInstrument, load_instrument
from webapp.pages.visit.forms import Field, FieldError, FormReader, LengthField, Options, Posted, form_id_of
from webapp.pages.visit.visit import UNITS, Visit, Visiting, new_form_id, see
from webapp.physics.numbers import Length, Unit, on_screen
from webapp.setups.description import Fact, facts
from webapp.store import instruments
from webapp.trade.content import Trade
from webapp.trade.spec import InstrumentSpec, Kind
from webapp.trade.words import RodType, Touch

router = APIRouter()

NEW = "/instruments/new"
# The fields that stand in rows, by how their names begin.
ROWS = {"string": "strings", "note": "strings", "gauge": "strings", "wound": "strings", "pickup": "pickups"}


@dataclass(frozen=True)
class NewPage:
    """What a new instrument is asked for."""

    form: FormReader
    form_id: str
    trade: Trade

    fields: ClassVar[Mapping[str, Field]] = NEW_FIELDS

    def value(self, name: str) -> str:
        return self.form.raw(name, Touch.MEDIUM.value if name == TOUCH.name else "")

    def error(self, name: str) -> str | None:
        return self.form.error(name)

    def options(self, name: str) -> Options | HintedOptions:
        """What may be chosen in a field; a kind is never guessed."""
        found = new_options(self.fields[name], self.trade)
        return (("", "Choose"), *found) if name == KIND.name else found


@dataclass(frozen=True)
class AssumedPage:
    """A new instrument as its kind filled it in."""

    id: str
    name: str
    portrait: Drawing
    facts: tuple[Fact, ...]
    form_id: str


@dataclass(frozen=True)
class FormPage:
    """The form as it stands, with what was typed and what was wrong."""

    form: FormReader
    kind: Kind
    trade: Trade
    instrument_id: str
    before: InstrumentSpec
    version: int
    resized: bool = False

    @property
    def action(self) -> str:
        return f"{instrument_path(self.instrument_id)}/edit"

    @property
    def strings(self) -> tuple[int, ...]:
        """String numbers from the bass side: 4, 3, 2, 1."""
        return tuple(range(row_count(self.form.data), 0, -1))

    @property
    def seconds_open(self) -> bool:
        """Whether the fold of second strings has something in it, or a mistake."""
        places = {second(n) for n in self.strings}
        wrong = {e.field.partition("_")[2] for e in self.form.errors}
        return bool(places & wrong) or any(self.value(f"note_{place}") for place in places)

    @property
    def pickups(self) -> tuple[int, ...]:
        return tuple(range(1, PICKUPS_AT_MOST + 1)) if pickup_types(self.trade, self.kind.family) else ()

    @property
    def shown_pickups(self) -> tuple[int, ...]:
        """The pickups there are, and any with a mistake in it."""
        wrong = {e.field.rpartition("_")[0] for e in self.form.errors}
        return tuple(n for n in self.pickups if self._has_pickup(n) or f"pickup_{n}" in wrong)

    @property
    def spare_pickups(self) -> tuple[int, ...]:
        return tuple(n for n in self.pickups if n not in self.shown_pickups)

    def _has_pickup(self, number: int) -> bool:
        return self.value(f"pickup_{number}_type") not in ("", NO_PICKUP)

    @property
    def touches(self) -> HintedOptions:
        return (*TOUCHES, OWN_TOUCH_OPTION) if self.before.own_swing else TOUCHES

    def options(self, name: str) -> Options | HintedOptions:
        """What may be chosen in a field."""
        if name == TOUCH.name:
            return self.touches
        return offered(FIELDS[name], self.trade, self.kind.family, bool(self.form.raw("headless")))

    fields: ClassVar[Mapping[str, Field]] = FIELDS
    wound: ClassVar[Options] = WOUND

    def value(self, name: str) -> str:
        """The text of a field, or the suggestion that was taken up in its place."""
        return self.form.raw(f"{name}_take") or self.form.raw(name)

    def unit(self, name: str) -> str:
        field = FIELDS[name]
        assert isinstance(field, LengthField)
        return self.form.unit(name, field.unit).value

    @property
    def gauge_unit(self) -> str:
        return gauge_unit(self.form).value

    @property
    def gauge_unit_suggestion(self) -> str:
        """The unit that two or more gauges at once seem to be meant in."""
        asked = [texts for name, texts in self.form.suggestions.items() if name.startswith("gauge_")]
        if len(asked) < 2:
            return ""
        common = set.intersection(*({one.unit for one in texts} for texts in asked))
        return next((unit.value for unit in (Unit.inch, Unit.mm, Unit.thou) if unit in common), "")

    @property
    def gauges_doubt(self) -> str:
        """One sentence for a whole set typed in another unit; empty otherwise."""
        words = dict(UNITS)
        meant = words.get(self.gauge_unit_suggestion)
        return f"These gauges cannot be in {words[self.gauge_unit]}. Are they in {meant}?" if meant else ""

    def told_at(self, name: str) -> str:
        """The field beside which the sentence for `name` stands; empty where nothing is wrong with it."""
        if self.gauges_doubt and name.startswith("gauge_") and name in self.form.suggestions:
            return "gauge_unit"
        return name if self.error(name) else ""

    def error(self, name: str) -> str | None:
        return self.form.error(name)

    def suggestions(self, name: str) -> tuple[Length, ...]:
        return self.form.suggestions.get(name, ())

    def is_open(self, section: str) -> bool:
        """Whether a folded section holds a mistake, or what was just asked for."""
        if self.resized and section == "strings":
            return True
        return any(_section_of(e.field) == section for e in self.form.errors)

    @property
    def summary(self) -> list[FieldError]:
        """The sentences, each with the field it belongs to."""
        own = [e for e in self.form.errors if self.told_at(e.field) in ("", e.field)]
        doubt = [FieldError("gauge_unit", self.gauges_doubt)] if self.gauges_doubt else []
        return [replace(e, message=f"{_called(e.field)}{e.message}") for e in own] + doubt

    def said(self, section: str) -> str:
        """What a folded section holds, in one line."""
        said = {
            "neck": self._neck_said, "strings": self._strings_said, "rod": self._rod_said,
            "bridge": self._bridge_said, "pickups": self._pickups_said,
        }  # fmt: skip
        return on_screen(said[section]())

    def _length_said(self, name: str) -> str:
        text, unit = self.value(name), self.unit(name)
        return f"{text} {unit}" if text.replace(",", ".").replace(".", "", 1).isdecimal() else text

    def _neck_said(self) -> str:
        scale = self._length_said("scale")
        if self.value("scale_treble"):
            scale += f" to {self._length_said('scale_treble')}, fanned"
        radius = self._length_said("radius_nut")
        if self.form.raw("board") == BoardShape.FLAT:
            board = "flat board"
        elif self.form.raw("board") == BoardShape.COMPOUND:
            board = f"radius {radius} to {self._length_said('radius_end')}"
        else:
            board = f"radius {radius}"
        return f"{scale}, {self.value('frets')} frets, joins the body at {self.value('joint')}, {board}"

    def _strings_said(self) -> str:
        notes = " ".join(self.value(f"note_{n}") for n in self.strings)
        ends = [self.value(f"gauge_{n}") for n in (self.strings[:1] + self.strings[-1:])]
        pairs = ", in pairs" if any(self.value(f"note_{second(n)}") for n in self.strings) else ""
        return f"{notes}{pairs}, {' to '.join(ends)} {self.gauge_unit}"

    def _rod_said(self) -> str:
        type_ = self._chosen("rod_type")
        if self.form.raw("rod_type") == RodType.NONE:
            return type_
        return f"{type_}, {self._chosen('rod_nut').lower()}"

    def _bridge_said(self) -> str:
        return self._chosen("bridge_type")

    def _pickups_said(self) -> str:
        rows = [f"pickup_{n}" for n in self.pickups if self._has_pickup(n)]
        each = [f"{self._chosen(f'{row}_position')}: {self._chosen(f'{row}_type').lower()}" for row in rows]
        return ", ".join(each) or "None"

    def _chosen(self, name: str) -> str:
        words = {option[0]: option[1] for option in self.options(name)}
        return words.get(self.value(name), "not chosen yet")


def _section_of(name: str) -> str:
    """The folded section that a field stands in."""
    plain = (key for key, fields in SECTIONS.items() if any(field.name == name for field in fields))
    return next(plain, ROWS.get(name.partition("_")[0], ""))


def _called(name: str) -> str:
    """A length's sentence does not name its field: the summary does."""
    field = FIELDS.get(name)
    if isinstance(field, LengthField):
        return f"{field.label}. "
    return f"String {name.removeprefix('gauge_')}, gauge. " if name.startswith("gauge_") else ""


@router.get(NEW)
def new(visit: Visiting, kind: str = "") -> Response:
    """The few questions; `kind` is the one to begin with."""
    return _new(visit, FormReader({"kind": kind} if kind in visit.trade.kinds else {}))


@router.post(NEW)
def create(visit: Visiting, form: Posted) -> Response:
    """Keep a new instrument, once, and show what was assumed of it."""

    def keep(spec: InstrumentSpec) -> Response:
        with visit.writing() as session:
            made = instruments.add(session, visit.bench_id, form_id_of(form), spec.model_dump_json())
        return see(_assumed_path(made))

    return answer(
        form, read_new(form, visit.trade), keep, lambda status: _new(visit, form, status), _assumed_path
    )


def _new(visit: Visit, form: FormReader, status: int = 200) -> Response:
    page = NewPage(form, form_id_of(form), visit.trade)
    return visit.render("pages/instrument/new.html", page, status)


def _assumed_path(instrument_id: str) -> str:
    return f"{instrument_path(instrument_id)}/assumed"


@router.get("/instruments/{instrument_id}/assumed")
def assumed(visit: Visiting, instrument_id: str) -> Response:
    """What nobody has confirmed yet; where nothing is so, the instrument's own page."""
    spec = load_instrument(visit, instrument_id).spec
    found = facts(spec, visit.trade)
    if not any(fact.assumed for fact in found):
        return see(instrument_path(instrument_id))
    drawn = portrait(spec, units=units_for(visit.unit.value))
    page = AssumedPage(instrument_id, spec.name, drawn, found, new_form_id())
    return visit.render("pages/instrument/assumed.html", page)


@router.get("/instruments/{instrument_id}/edit")
def edit(visit: Visiting, instrument_id: str) -> Response:
    """The form as the instrument was last described."""
    instrument = load_instrument(visit, instrument_id)
    return _show(visit, _edit_page(visit, instrument, FormReader(form_values(instrument.spec))))


@router.post("/instruments/{instrument_id}/edit")
def revise(visit: Visiting, instrument_id: str, form: Posted) -> Response:
    """Keep the description as a new version, unless another page was quicker."""
    instrument = load_instrument(visit, instrument_id)
    page = _edit_page(visit, instrument, form)
    if form.raw("resize"):
        return _resize(visit, page)

    def keep(spec: InstrumentSpec) -> Response:
        with visit.writing() as session:
            text, version = spec.model_dump_json(), form.shown_with("version")
            instruments.revise(session, visit.bench_id, instrument_id, text, version)
        return see(instrument_path(instrument_id))

    def shown(status: int) -> Response:
        return _show(visit, _edit_page(visit, load_instrument(visit, instrument_id), form), status)

    return answer(form, read_spec(form, visit.trade, page.kind, instrument.spec), keep, shown)


def _edit_page(visit: Visit, instrument: LoadedInstrument, form: FormReader) -> FormPage:
    return FormPage(
        form,
        visit.trade.kinds[instrument.spec.kind],
        visit.trade,
        instrument_id=instrument.id,
        before=instrument.spec,
        version=form.show_with("version", instrument.row.version),
    )


def _resize(visit: Visit, page: FormPage) -> Response:
    """The same form with more or fewer strings; nothing is kept yet."""
    form = page.form
    count = form.whole("string_count", STRINGS_AT_LEAST, STRINGS_AT_MOST, "Number of strings")
    if count is None:
        return _show(visit, page, form.status)
    changed = FormReader(resized(form.data, count, page.kind.family))
    answer = _show(visit, replace(page, form=changed, resized=True))
    answer.headers["HX-Push-Url"] = "false"
    return answer


def _show(visit: Visit, page: FormPage, status: int = 200) -> Response:
    return visit.render("pages/instrument/description.html", page, status)
