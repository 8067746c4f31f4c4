"""From the typed texts of the form to an instrument; what is wrong gets a sentence beside its field."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from pydantic import ValidationError

from webapp.pages.instrument.description_fields import (
    LENGTHS,
    LONGEST_NAME,
    NO_PICKUP,
    OWN_TOUCH,
    PICKUPS_AT_MOST,
    STRINGS_AT_LEAST,
    STRINGS_AT_MOST,
    WOUND,
    Board,
    LengthField,
    gauge_field,
    pickup_types,
    thread_options,
)
from webapp.pages.instrument.description_values import tidy
from webapp.pages.instrument.string_rows import row_count, second, tidy_note
from webapp.pages.visit.forms import FormReader
from webapp.physics.lengths import Unit
from webapp.setups.strings.weights import keeping_weights
from webapp.trade.content import Trade
from webapp.trade.kinds import Kind
from webapp.trade.spec import NOTE, BridgeSpec, InstrumentSpec, OneString, PickupSpec, RodSpec, StringSpec
from webapp.trade.words import (
    BridgeType,
    PickupAdjust,
    PickupPosition,
    PickupType,
    RodAccess,
    RodNut,
    RodType,
    ScrewHeads,
    Touch,
    Turn,
)

FRETS_AT_LEAST, FRETS_AT_MOST = 12, 36
JOINT_AT_LEAST = 5
A4_AT_LEAST, A4_AT_MOST = 390, 470
SCALES_APART_MM = 150
SECOND_IS_THINNER = "The second string of a course is no thicker than the first."
_HERTZ = re.compile(r"(\d{3}(?:[.,]\d{1,3})?)\s*(?:hz)?", re.IGNORECASE)
# The form's field for each part of an instrument that the instrument's own rules may still refuse.
_FIELDS = {
    "kind": "name", "scale_bass_mm": "scale", "scale_treble_mm": "scale_treble", "fret_count": "frets",
    "joint_fret": "joint", "radius_nut_mm": "radius_nut", "radius_end_mm": "radius_end",
    "strings": "string_count", "spacing_nut_mm": "spacing_nut", "spacing_bridge_mm": "spacing_bridge",
    "a4_hz": "a4", "rod": "rod_type", "bridge": "bridge_type", "pickups": "pickup_1_type", "touch": "touch",
}  # fmt: skip


@dataclass
class _Reading:
    """One form being read: the texts of its lengths are kept beside their millimetres."""

    form: FormReader
    trade: Trade
    kind: Kind
    typed: dict[str, str] = field(default_factory=dict)

    def length(self, name: str, required: bool = True) -> float | None:
        if not required and not (self.form.raw(f"{name}_take") or self.form.raw(name)).strip():
            return None
        what = LENGTHS[name]
        found = self.form.length(name, what.unit, what.likely, what.widest)
        if found is None:
            return None
        self.typed |= {name: found.typed, f"{name}_unit": found.unit.value}
        return tidy(found.mm)

    def gauge(self, place: str, unit: Unit, what: LengthField) -> float | None:
        found = self.form.length(f"gauge_{place}", unit, what.likely, what.widest)
        if found is None:
            return None
        self.typed |= {f"gauge_{place}": found.typed, "gauge_unit": unit.value}
        return tidy(found.mm)

    def thread(self, name: str) -> str | None:
        known = [key for key, _ in thread_options(self.trade)]
        return self.form.choice(name, known, "a thread, or “Not known”")


def read_spec(
    form: FormReader, trade: Trade, kind: Kind, before: InstrumentSpec | None = None
) -> InstrumentSpec | None:
    """The instrument that the form describes; None, with sentences in `form.errors`, where it is none.

    `before` is the description that this one corrects: a touch found by test is kept from it, and so are
    weights from a packet.
    """
    reading = _Reading(form, trade, kind)
    name = form.text("name", LONGEST_NAME, "Give it a name, so that you know it on the bench.")
    parts = {
        "kind": kind.key,
        "name": name,
        **_touch(form, before),
        **_neck(reading),
        "strings": _strings(reading),
        "spacing_nut_mm": reading.length("spacing_nut"),
        "spacing_bridge_mm": reading.length("spacing_bridge"),
        "a4_hz": _reference_pitch(form),
        "headless": bool(form.raw("headless")),
        "rod": _rod(form),
        "bridge": _bridge(reading),
        "pickups": _pickups(reading),
    }
    if not form.ok:
        return None
    try:
        spec = InstrumentSpec.model_validate({**parts, "typed": reading.typed})
    except ValidationError as refusal:
        _explain(form, refusal)
        return None
    return spec if before is None else keeping_weights(spec, before)


def gauge_unit(form: FormReader) -> Unit:
    """The one unit of all the gauges, or the one just taken up from a suggestion."""
    try:
        return Unit(form.raw("gauge_unit_take") or form.raw("gauge_unit", Unit.inch.value))
    except ValueError:
        return Unit.inch


def _touch(form: FormReader, before: InstrumentSpec | None) -> dict[str, object]:
    """A touch by name, or the player's own as long as the strings it was found on are as many."""
    own = before.own_swing if before is not None else None
    if before is None or own is None or form.raw("touch") != OWN_TOUCH:
        return {"touch": form.word("touch", Touch, "how hard you play")}
    same = row_count(form.data) == len(before.strings)
    return {"touch": before.touch, "own_swing": own if same else None}


def _neck(reading: _Reading) -> dict[str, float | int | None]:
    form = reading.form
    bass, treble = reading.length("scale"), reading.length("scale_treble", required=False)
    if bass is not None and treble is not None and abs(bass - treble) > SCALES_APART_MM:
        form.fault("scale_treble", f"The two sides differ by more than {SCALES_APART_MM} mm. Measure again.")
    frets = form.whole("frets", FRETS_AT_LEAST, FRETS_AT_MOST, "Number of frets")
    joint = form.whole("joint", JOINT_AT_LEAST, FRETS_AT_MOST, "The fret where neck and body meet")
    if frets is not None and joint is not None and joint > frets:
        form.fault("joint", f"There are only {frets} frets: the neck cannot meet the body at fret {joint}.")
    return {
        "scale_bass_mm": bass,
        "scale_treble_mm": bass if treble is None else treble,
        "fret_count": frets,
        "joint_fret": joint,
        **_radii(reading),
    }


def _radii(reading: _Reading) -> dict[str, float | None]:
    board = reading.form.word("board", Board, "the shape of the board")
    if board is None or board is Board.FLAT:
        return {"radius_nut_mm": None, "radius_end_mm": None}
    nut = reading.length("radius_nut")
    end = nut if board is Board.SINGLE else reading.length("radius_end")
    return {"radius_nut_mm": nut, "radius_end_mm": end}


def _strings(reading: _Reading) -> list[StringSpec]:
    form = reading.form
    rows = row_count(form.data)
    count = form.whole("string_count", STRINGS_AT_LEAST, STRINGS_AT_MOST, "Number of strings")
    if count is not None and count != rows:
        form.fault("string_count", f"The list has {rows} strings. Press Change to make it {count}.")
    unit, what = gauge_unit(form), gauge_field(reading.kind.family)
    found = [_string(reading, number, unit, what) for number in range(rows, 0, -1)]
    return [string for string in found if string is not None]


def _string(reading: _Reading, number: int, unit: Unit, what: LengthField) -> StringSpec | None:
    """One row of the form, and the second string of its course where one was typed."""
    one, place = _one_string(reading, str(number), unit, what), second(number)
    paired = any(reading.form.raw(f"{name}_{place}").strip() for name in ("note", "gauge"))
    partner = _one_string(reading, place, unit, what) if paired else None
    if one is None or (paired and partner is None):
        return None
    if partner is not None and partner.gauge_mm > one.gauge_mm:
        reading.form.fault(f"gauge_{place}", SECOND_IS_THINNER)
        return None
    return StringSpec(**one.model_dump(), partner=partner)


def _one_string(reading: _Reading, place: str, unit: Unit, what: LengthField) -> OneString | None:
    form = reading.form
    note = tidy_note(form.raw(f"note_{place}"))
    if not NOTE.fullmatch(note):
        form.fault(f"note_{place}", f"String {place}: type its note and octave, such as E1, C#3 or Bb0.")
    gauge = reading.gauge(place, unit, what)
    wound = form.choice(f"wound_{place}", dict(WOUND), f"whether string {place} is wound or plain")
    if gauge is None or wound is None or not NOTE.fullmatch(note):
        return None
    return OneString(note=note, gauge_mm=gauge, wound=wound == "wound")


def _reference_pitch(form: FormReader) -> float | None:
    match = _HERTZ.fullmatch(form.raw("a4").strip())
    value = float(match[1].replace(",", ".")) if match else None
    if value is None or not A4_AT_LEAST <= value <= A4_AT_MOST:
        form.fault("a4", f"Reference pitch: from {A4_AT_LEAST} to {A4_AT_MOST} Hz; 440 is usual.")
        return None
    return value


def _rod(form: FormReader) -> RodSpec | None:
    type_ = form.word("rod_type", RodType, "the kind of truss rod")
    nut = form.word("rod_nut", RodNut, "where the rod's nut is")
    access = form.word("rod_access", RodAccess, "what is in the way of the rod's nut")
    tightens = form.word("rod_tightens", Turn, "which way the rod tightens")
    key = form.text("rod_key", 40)
    if type_ is None or nut is None or access is None or tightens is None:
        return None
    return RodSpec(type=type_, nut_at=nut, access=access, tightens=tightens, key_size=key)


def _bridge(reading: _Reading) -> BridgeSpec | None:
    type_ = reading.form.word("bridge_type", BridgeType, "the kind of bridge")
    height, intonation = reading.thread("height_thread"), reading.thread("intonation_thread")
    heads = reading.form.word("intonation_heads", ScrewHeads, "the side on which the screws' heads are")
    on_posts = type_ in (BridgeType.TWO_POST, BridgeType.FLOATING)
    posts = reading.length("post_spacing", required=False) if on_posts else None
    level = reading.length("level", required=False) if type_ is BridgeType.FLOATING else None
    if type_ is None or height is None or intonation is None or heads is None:
        return None
    return BridgeSpec(
        type=type_, height_thread=height, intonation_thread=intonation, intonation_heads=heads,
        post_spacing_mm=posts, level_mm=level,
    )  # fmt: skip


def _pickups(reading: _Reading) -> list[PickupSpec]:
    known = pickup_types(reading.trade, reading.kind.family)
    if not known:
        return []
    found = [_pickup(reading, number, known) for number in range(1, PICKUPS_AT_MOST + 1)]
    return [pickup for pickup in found if pickup is not None]


def _pickup(reading: _Reading, number: int, known: tuple[PickupType, ...]) -> PickupSpec | None:
    form, row = reading.form, f"pickup_{number}"
    if form.raw(f"{row}_type", NO_PICKUP) == NO_PICKUP:
        return None
    type_ = form.choice(f"{row}_type", [t.value for t in known], f"what pickup {number} is, or “None”")
    position = form.word(f"{row}_position", PickupPosition, f"where pickup {number} sits")
    adjust = form.word(f"{row}_adjust", PickupAdjust, f"how pickup {number} is raised and lowered")
    thread = reading.thread(f"{row}_thread")
    if type_ is None or position is None or adjust is None or thread is None:
        return None
    return PickupSpec(position=position, type=PickupType(type_), adjust=adjust, thread=thread)


def _explain(form: FormReader, refusal: ValidationError) -> None:
    """What the fields taken one by one could not show."""
    for error in refusal.errors():
        place = str(error["loc"][0]) if error["loc"] else ""
        said = str(error.get("ctx", {}).get("error", "")) or "this is outside what an instrument can have"
        form.fault(_FIELDS.get(place, "name"), f"{said[:1].upper()}{said[1:]}.")
