"""An instrument's description: from the form's texts to the description, and back to texts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from operator import attrgetter
from typing import Any

from pydantic import ValidationError

from webapp.pages.instrument.description_fields import (
    KIND,
    LEFT_HANDED,
    NAME,
    NEW_FIELDS,
    NO_PICKUP,
    OWN_TOUCH,
    PICKUPS_AT_MOST,
    PLAIN_FIELDS,
    SECTIONS,
    STRINGS_AT_LEAST,
    STRINGS_AT_MOST,
    TOUCH,
    WOUND,
    BoardShape,
    gauge_field,
    new_options,
    offered,
    pickup_fields,
    pickup_types,
)
from webapp.pages.instrument.string_rows import row_count, second, tidy_note
from webapp.pages.visit.forms import Field, FormReader, LengthField
from webapp.physics.numbers import MM_PER_INCH, Length, Unit, write_number
from webapp.setups.description import inches, is_round_inches, millimetres, tidy, typed_length
from webapp.setups.say import capital
from webapp.setups.strings.weights import keeping_weights
from webapp.trade.content import Trade
from webapp.trade.spec import NOTE, UNKNOWN, InstrumentSpec, Kind, OneString, StringSpec
from webapp.trade.words import (
    PickupAdjust,
    PickupPosition,
    Touch,
)

# What the fields of a pickup that is not there say.
_NO_PICKUP = {
    "type": NO_PICKUP,
    "position": PickupPosition.BRIDGE,
    "adjust": PickupAdjust.RING,
    "thread": UNKNOWN,
}


def form_values(spec: InstrumentSpec) -> dict[str, str]:
    """Every field of the form, filled from an instrument."""
    board = _board(spec)
    own: dict[str, Any] = {
        "board": board.value,
        "scale_treble": spec.scale_treble_mm if spec.is_multiscale else None,
        "radius_end": spec.radius_end_mm if board is BoardShape.COMPOUND else None,
    }
    values = {TOUCH.name: OWN_TOUCH if spec.own_swing else spec.touch.value}
    for name, one in PLAIN_FIELDS.items():
        value = own[name] if name in own else attrgetter(one.part)(spec)
        if isinstance(one, LengthField):
            values[name], unit = _text(spec, name, value, one.unit)
            values[f"{name}_unit"] = unit.value
        else:
            values[name] = one.text(value)
    return values | _string_values(spec) | _pickup_values(spec)


def _board(spec: InstrumentSpec) -> BoardShape:
    if spec.radius_nut_mm is None:
        return BoardShape.FLAT
    return BoardShape.SINGLE if spec.radius_nut_mm == spec.radius_end_mm else BoardShape.COMPOUND


def _text(spec: InstrumentSpec, name: str, mm: float | None, usual: Unit) -> tuple[str, Unit]:
    """The text and its unit: as typed where that still says the same length."""
    if mm is None:
        return "", usual
    typed = typed_length(spec, name, f"{name}_unit")
    if typed is not None and typed[2] == mm:
        return typed[0], typed[1]
    if usual is Unit.inch and is_round_inches(mm):
        return inches(mm), usual
    return millimetres(mm), Unit.mm


def _string_values(spec: InstrumentSpec) -> dict[str, str]:
    unit = _gauge_unit(spec)
    values = {"string_count": str(spec.string_count), "gauge_unit": unit.value}
    for place, string in _by_place(spec).items():
        values |= {f"note_{place}": "", f"gauge_{place}": "", f"wound_{place}": "plain"}
        if string is None:
            continue
        typed = typed_length(spec, f"gauge_{place}", "gauge_unit")
        same = typed is not None and typed[1] is unit and typed[2] == string.gauge_mm
        plain = (
            write_number(string.gauge_mm / MM_PER_INCH, 3)
            if unit is Unit.inch
            else millimetres(string.gauge_mm)
        )
        values[f"note_{place}"] = string.note
        values[f"gauge_{place}"] = typed[0] if typed is not None and same else plain
        values[f"wound_{place}"] = "wound" if string.wound else "plain"
    return values


def _by_place(spec: InstrumentSpec) -> dict[str, OneString | None]:
    """The strings by their places on the form, each followed by the second one of its course."""
    found: dict[str, OneString | None] = {}
    for number in range(spec.string_count, 0, -1):
        string = spec.string(number)
        found |= {str(number): string, second(number): string.partner}
    return found


def _gauge_unit(spec: InstrumentSpec) -> Unit:
    """The one unit in which all gauges of the set are shown."""
    strings = {place: string for place, string in _by_place(spec).items() if string is not None}
    typed = {place: typed_length(spec, f"gauge_{place}", "gauge_unit") for place in strings}
    if all(t is not None and t[2] == strings[place].gauge_mm for place, t in typed.items()):
        return Unit(spec.typed["gauge_unit"])
    return Unit.inch if all(is_round_inches(s.gauge_mm) for s in strings.values()) else Unit.mm


def _pickup_values(spec: InstrumentSpec) -> dict[str, str]:
    values: dict[str, str] = {}
    for number in range(1, PICKUPS_AT_MOST + 1):
        pickup = spec.pickups[number - 1] if number <= len(spec.pickups) else None
        for one in pickup_fields(number):
            values[one.name] = one.text(getattr(pickup, one.part) if pickup else _NO_PICKUP[one.part])
    return values


SCALES_APART_MM = 150
SECOND_IS_THINNER = "The second string of a course is no thicker than the first."
# The fields of parts that the instrument's own rules may still refuse as a whole.
_WHOLE_PARTS = {"strings": "string_count", "pickups": "pickup_1_type"}


@dataclass
class _Reading:
    """One form being read: the texts of its lengths are kept beside their millimetres."""

    form: FormReader
    trade: Trade
    kind: Kind
    typed: dict[str, str] = field(default_factory=dict)

    def parts(self, fields: Iterable[Field]) -> dict[str, Any]:
        """What some fields say, by the part that each is."""
        return {one.part: self._value(one) for one in fields if one.when(self.form)}

    def _value(self, one: Field) -> Any:
        found = one.read(self.form, offered(one, self.trade, self.kind.family))
        if not isinstance(found, Length):
            return found
        self.typed |= {one.name: found.typed, f"{one.name}_unit": found.unit.value}
        return tidy(found.mm)

    def gauge(self, place: str, unit: Unit) -> float | None:
        name = f"gauge_{place}"
        found = gauge_field(place, unit, self.kind.family).read(self.form)
        if found is None:
            return None
        self.typed |= {name: found.typed, "gauge_unit": unit.value}
        return tidy(found.mm)


def read_spec(
    form: FormReader, trade: Trade, kind: Kind, before: InstrumentSpec | None = None
) -> InstrumentSpec | None:
    """The instrument that the form describes; None, with sentences in `form.errors`, where it is none.

    Saving it confirms it: nothing of it is assumed any more. `before` is the description that this one
    corrects: a touch found by test is kept from it, and so are weights from a packet.
    """
    reading = _Reading(form, trade, kind)
    parts = {
        **reading.parts([NAME, LEFT_HANDED]),
        **_touch(form, before),
        **_neck(reading),
        "strings": _strings(reading),
        **reading.parts(SECTIONS["strings"]),
        **reading.parts(SECTIONS["rod"]),
        **reading.parts(SECTIONS["bridge"]),
        "pickups": _pickups(reading),
    }
    if not form.ok:
        return None
    try:
        spec = InstrumentSpec.model_validate({**_whole(parts), "kind": kind.key, "typed": reading.typed})
    except ValidationError as refusal:
        _explain(form, refusal)
        return None
    return spec if before is None else keeping_weights(spec, before)


def read_new(form: FormReader, trade: Trade) -> InstrumentSpec | None:
    """A new instrument by its kind, of which only the name, the touch and the hand were told; None, with
    sentences in `form.errors`, where the kind is none.
    """
    fields = NEW_FIELDS.values()
    told = {f.part: f.read(form, tuple((o[0], o[1]) for o in new_options(f, trade))) for f in fields}
    if not form.ok:
        return None
    kind = trade.kinds[told.pop(KIND.part)]
    told |= {"name": told["name"] or kind.name, "touch": Touch(told["touch"]), "assumed": True}
    return kind.spec.model_copy(update=told)


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
        return {"touch": form.word(TOUCH.name, Touch, TOUCH.what)}
    same = row_count(form.data) == len(before.strings)
    return {"touch": before.touch, "own_swing": own if same else None}


def _whole(parts: Mapping[str, Any]) -> dict[str, Any]:
    """'rod.type' as the type of the rod."""
    found: dict[str, Any] = {}
    for part, value in parts.items():
        thing, _, name = part.rpartition(".")
        (found.setdefault(thing, {}) if thing else found)[name] = value
    return found


def _neck(reading: _Reading) -> dict[str, Any]:
    form, parts = reading.form, reading.parts(SECTIONS["neck"])
    bass, treble = parts["scale_bass_mm"], parts["scale_treble_mm"]
    frets, joint = parts["fret_count"], parts["joint_fret"]
    if bass is not None and treble is not None and abs(bass - treble) > SCALES_APART_MM:
        form.fault("scale_treble", f"The two sides differ by more than {SCALES_APART_MM} mm. Measure again.")
    if frets is not None and joint is not None and joint > frets:
        form.fault("joint", f"There are only {frets} frets: the neck cannot meet the body at fret {joint}.")
    if treble is None:
        parts["scale_treble_mm"] = bass
    if parts.pop("") == BoardShape.SINGLE:
        parts["radius_end_mm"] = parts["radius_nut_mm"]
    return parts


def _strings(reading: _Reading) -> list[StringSpec]:
    form = reading.form
    rows = row_count(form.data)
    count = form.whole("string_count", STRINGS_AT_LEAST, STRINGS_AT_MOST, "Number of strings")
    if count is not None and count != rows:
        form.fault("string_count", f"The list has {rows} strings. Press Change to make it {count}.")
    unit = gauge_unit(form)
    found = [_string(reading, number, unit) for number in range(rows, 0, -1)]
    return [string for string in found if string is not None]


def _string(reading: _Reading, number: int, unit: Unit) -> StringSpec | None:
    """One row of the form, and the second string of its course where one was typed."""
    one, place = _one_string(reading, str(number), unit), second(number)
    paired = any(reading.form.raw(f"{name}_{place}").strip() for name in ("note", "gauge"))
    partner = _one_string(reading, place, unit) if paired else None
    if one is None or (paired and partner is None):
        return None
    if partner is not None and partner.gauge_mm > one.gauge_mm:
        reading.form.fault(f"gauge_{place}", SECOND_IS_THINNER)
        return None
    return StringSpec(**one.model_dump(), partner=partner)


def _one_string(reading: _Reading, place: str, unit: Unit) -> OneString | None:
    form = reading.form
    note = tidy_note(form.raw(f"note_{place}"))
    if not NOTE.fullmatch(note):
        form.fault(f"note_{place}", f"String {place}: type its note and octave, such as E1, C#3 or Bb0.")
    gauge = reading.gauge(place, unit)
    wound = form.choice(f"wound_{place}", dict(WOUND), f"whether string {place} is wound or plain")
    if gauge is None or wound is None or not NOTE.fullmatch(note):
        return None
    return OneString(note=note, gauge_mm=gauge, wound=wound == "wound")


def _pickups(reading: _Reading) -> list[dict[str, Any]]:
    """The pickups there are, as the family has any."""
    if not pickup_types(reading.trade, reading.kind.family):
        return []
    types = {n: reading.form.raw(f"pickup_{n}_type", NO_PICKUP) for n in range(1, PICKUPS_AT_MOST + 1)}
    return [reading.parts(pickup_fields(n)) for n, type_ in types.items() if type_ != NO_PICKUP]


def _explain(form: FormReader, refusal: ValidationError) -> None:
    """What the fields taken one by one could not show."""
    names = {field.part: field.name for field in PLAIN_FIELDS.values()} | _WHOLE_PARTS
    for error in refusal.errors():
        place = [str(step) for step in error["loc"]]
        name = names.get(".".join(place)) or names.get(next(iter(place), ""), NAME.name)
        said = str(error.get("ctx", {}).get("error", "")) or "this is outside what an instrument can have"
        form.fault(name, f"{capital(said)}.")
