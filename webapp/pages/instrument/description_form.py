"""Describing an instrument: choose a kind, correct what differs, save; later, correct it again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

from fastapi import APIRouter, Depends, Response

from webapp.pages.instrument.description_fields import (
    BOARDS,
    LENGTHS,
    NO_PICKUP,
    OWN_TOUCH_OPTION,
    PICKUPS_AT_MOST,
    STRINGS_AT_LEAST,
    STRINGS_AT_MOST,
    TOUCHES,
    WOUND,
    Board,
    HintedOptions,
    LengthField,
    Options,
    options,
    pickup_options,
    pickup_types,
    thread_options,
)
from webapp.pages.instrument.description_reading import gauge_unit, read_spec
from webapp.pages.instrument.description_values import form_values
from webapp.pages.instrument.string_rows import resized, row_count, second
from webapp.pages.visit.addresses import instrument_path
from webapp.pages.visit.case_loading import LoadedInstrument, load_instrument
from webapp.pages.visit.forms import FieldError, FormReader, read_form
from webapp.pages.visit.visit import UNITS, Visit, new_form_id, see, visit
from webapp.physics.lengths import Length, Unit
from webapp.store import instruments
from webapp.store.errors import AlreadyRecorded, Stale
from webapp.trade.content import Trade
from webapp.trade.kinds import Kind
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import (
    BridgeType,
    PickupAdjust,
    PickupPosition,
    RodAccess,
    RodNut,
    RodType,
    ScrewHeads,
    Turn,
    rod_nut_end,
)

router = APIRouter()

NEW = "/instruments/new"
SECTIONS = {
    "neck": ("scale", "frets", "joint", "board", "radius"),
    "strings": ("string", "note", "gauge", "wound", "spacing", "a4"),
    "rod": ("rod",),
    "bridge": ("bridge", "height", "intonation", "post", "level"),
    "pickups": ("pickup",),
}
STALE = (
    "This instrument was changed on another page after you opened this one. What you typed is still here. "
    "Look through it once more; Save keeps what this page says."
)
Visiting = Annotated[Visit, Depends(visit)]
Posted = Annotated[FormReader, Depends(read_form)]


@dataclass(frozen=True)
class KindsPage:
    """The kinds to choose from, and why the one asked for is not here."""

    kinds: tuple[Kind, ...]
    unknown: bool = False


@dataclass(frozen=True)
class FormPage:
    """The form as it stands, with what was typed and what was wrong."""

    form: FormReader
    kind: Kind
    trade: Trade
    action: str
    form_id: str = ""
    instrument_id: str = ""
    before: InstrumentSpec | None = None
    version: int = 0
    recorded_id: str = ""
    resized: bool = False

    @property
    def is_new(self) -> bool:
        return not self.instrument_id

    @property
    def lengths(self) -> Mapping[str, LengthField]:
        return LENGTHS

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
        own = self.before is not None and self.before.own_swing is not None
        return (*TOUCHES, OWN_TOUCH_OPTION) if own else TOUCHES

    @property
    def pickup_types(self) -> Options:
        return pickup_options(pickup_types(self.trade, self.kind.family))

    @property
    def threads(self) -> Options:
        return thread_options(self.trade)

    boards: ClassVar[Options] = BOARDS
    wound: ClassVar[Options] = WOUND
    rod_types: ClassVar[Options] = options(RodType)
    rod_accesses: ClassVar[Options] = options(RodAccess)
    turns: ClassVar[Options] = options(Turn)
    bridges: ClassVar[Options] = options(BridgeType)
    heads: ClassVar[Options] = options(ScrewHeads)
    positions: ClassVar[Options] = options(PickupPosition)
    adjusts: ClassVar[Options] = options(PickupAdjust)

    def value(self, name: str) -> str:
        """The text of a field, or the suggestion that was taken up in its place."""
        return self.form.raw(f"{name}_take") or self.form.raw(name)

    def unit(self, name: str) -> str:
        return self.form.unit(name, LENGTHS[name].unit).value

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
        return any(e.field.split("_")[0] in SECTIONS[section] for e in self.form.errors)

    @property
    def summary(self) -> list[FieldError]:
        """The sentences, each with the field it belongs to."""
        own = [e for e in self.form.errors if self.told_at(e.field) in ("", e.field)]
        doubt = [FieldError("gauge_unit", self.gauges_doubt)] if self.gauges_doubt else []
        return [FieldError(e.field, f"{_called(e.field)}{e.message}") for e in own] + doubt

    def said(self, section: str) -> str:
        """What a folded section holds, in one line."""
        return {
            "neck": self._neck_said, "strings": self._strings_said, "rod": self._rod_said,
            "bridge": self._bridge_said, "pickups": self._pickups_said,
        }[section]()  # fmt: skip

    def _length_said(self, name: str) -> str:
        text, unit = self.value(name), self.unit(name)
        return f"{text} {unit}" if text.replace(",", ".").replace(".", "", 1).isdecimal() else text

    def _neck_said(self) -> str:
        scale = self._length_said("scale")
        if self.value("scale_treble"):
            scale += f" to {self._length_said('scale_treble')}, fanned"
        radius = self._length_said("radius_nut")
        if self.form.raw("board") == Board.FLAT:
            board = "flat board"
        elif self.form.raw("board") == Board.COMPOUND:
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
        type_ = _chosen(self.rod_types, self.value("rod_type"))
        if self.form.raw("rod_type") == RodType.NONE:
            return type_
        return f"{type_}, {_chosen(self.rod_nuts, self.value('rod_nut')).lower()}"

    @property
    def rod_nuts(self) -> Options:
        """The ends of the neck: one without a headstock still has its nut end."""
        headless = bool(self.form.raw("headless"))
        return tuple((nut.value, f"At the {rod_nut_end(nut, headless)}") for nut in RodNut)

    def _bridge_said(self) -> str:
        return _chosen(self.bridges, self.value("bridge_type"))

    def _pickups_said(self) -> str:
        rows = [f"pickup_{n}" for n in self.pickups if self._has_pickup(n)]
        each = [
            f"{_chosen(self.positions, self.value(f'{row}_position'))}: "
            f"{_chosen(self.pickup_types, self.value(f'{row}_type')).lower()}"
            for row in rows
        ]
        return ", ".join(each) or "None"


def _chosen(choices: Options, value: str) -> str:
    return dict(choices).get(value, "not chosen yet")


def _called(name: str) -> str:
    """A length's sentence does not name its field: the summary does."""
    if name in LENGTHS:
        return f"{LENGTHS[name].label}. "
    return f"String {name.removeprefix('gauge_')}, gauge. " if name.startswith("gauge_") else ""


@router.get(NEW)
def new(visit: Visiting, kind: str = "") -> Response:
    """The kinds to choose from, or the form as the chosen kind fills it in."""
    chosen = visit.trade.kinds.get(kind)
    if chosen is None:
        return _kinds(visit, unknown=bool(kind))
    form = FormReader(form_values(chosen.spec))
    return _show(visit, FormPage(form, chosen, visit.trade, NEW, form_id=new_form_id()))


@router.post(NEW)
def create(visit: Visiting, form: Posted) -> Response:
    """Keep a new instrument, once."""
    kind = visit.trade.kinds.get(form.raw("kind"))
    if kind is None:
        return _kinds(visit, unknown=True)
    page = FormPage(form, kind, visit.trade, NEW, form_id=form.raw("form_id")[:64] or new_form_id())
    if form.raw("resize"):
        return _resize(visit, page)
    spec = read_spec(form, visit.trade, kind)
    if spec is None:
        return _show(visit, page, 422)
    try:
        with visit.writing() as session:
            made = instruments.add(session, visit.bench_id, page.form_id, spec.model_dump_json())
    except AlreadyRecorded as earlier:
        return _show(visit, replace(page, recorded_id=str(earlier.recorded_id)), 409)
    return see(instrument_path(made))


@router.get("/instruments/{instrument_id}/edit")
def edit(visit: Visiting, instrument_id: str) -> Response:
    """The form as the instrument was last described."""
    instrument = load_instrument(visit, instrument_id)
    page = _edit_page(visit, instrument, FormReader(form_values(instrument.spec)), instrument.row.version)
    return _show(visit, page)


@router.post("/instruments/{instrument_id}/edit")
def revise(visit: Visiting, instrument_id: str, form: Posted) -> Response:
    """Keep the description as a new version, unless another page was quicker."""
    instrument = load_instrument(visit, instrument_id)
    text = form.raw("version")
    version = int(text) if text.isdecimal() and len(text) < 10 else 0
    page = _edit_page(visit, instrument, form, version)
    if form.raw("resize"):
        return _resize(visit, page)
    spec = read_spec(form, visit.trade, page.kind, instrument.spec)
    if spec is None:
        return _show(visit, page, 422)
    try:
        with visit.writing() as session:
            instruments.revise(session, visit.bench_id, instrument_id, spec.model_dump_json(), version)
    except Stale:
        form.fault("", STALE)
        # The page now knows the newest version: pressing Save again is the player's decision.
        newest = load_instrument(visit, instrument_id).row.version
        return _show(visit, replace(page, version=newest), 409)
    return see(instrument_path(instrument_id))


def _edit_page(visit: Visit, instrument: LoadedInstrument, form: FormReader, version: int) -> FormPage:
    return FormPage(
        form,
        visit.trade.kinds[instrument.spec.kind],
        visit.trade,
        f"{instrument_path(instrument.id)}/edit",
        instrument_id=instrument.id,
        before=instrument.spec,
        version=version,
    )


def _resize(visit: Visit, page: FormPage) -> Response:
    """The same form with more or fewer strings; nothing is kept yet."""
    form = page.form
    count = form.whole("string_count", STRINGS_AT_LEAST, STRINGS_AT_MOST, "Number of strings")
    if count is None:
        return _show(visit, page, 422)
    changed = FormReader(resized(form.data, count, page.kind.family))
    answer = _show(visit, replace(page, form=changed, resized=True))
    answer.headers["HX-Push-Url"] = "false"
    return answer


def _kinds(visit: Visit, unknown: bool) -> Response:
    page = KindsPage(tuple(visit.trade.kinds.values()), unknown)
    return visit.render("pages/instrument/kind.html", page, 404 if unknown else 200)


def _show(visit: Visit, page: FormPage, status: int = 200) -> Response:
    return visit.render("pages/instrument/description.html", page, status)
