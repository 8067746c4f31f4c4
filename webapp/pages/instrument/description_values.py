"""From an instrument to the texts of its form: as the player typed them, else as the trade writes them."""

from __future__ import annotations

from operator import attrgetter
from typing import Any

from webapp.pages.instrument.description_fields import (
    NO_PICKUP,
    OWN_TOUCH,
    PICKUPS_AT_MOST,
    PLAIN_FIELDS,
    TOUCH,
    BoardShape,
    pickup_fields,
)
from webapp.pages.instrument.string_rows import second
from webapp.pages.visit.fields import LengthField
from webapp.physics.lengths import MM_PER_INCH, LengthError, Unit, parse_length
from webapp.physics.numbers import write_number
from webapp.trade.spec import UNKNOWN, InstrumentSpec, OneString
from webapp.trade.words import PickupAdjust, PickupPosition

# What the fields of a pickup that is not there say.
_NO_PICKUP = {
    "type": NO_PICKUP,
    "position": PickupPosition.BRIDGE,
    "adjust": PickupAdjust.RING,
    "thread": UNKNOWN,
}
TENTH_OF_A_MICRON = 4  # decimals of a mm; finer is the noise of turning inches into mm


def form_values(spec: InstrumentSpec) -> dict[str, str]:
    """Every field of the form, filled from an instrument."""
    board = _board(spec)
    own: dict[str, Any] = {
        "board": board.value,
        "scale_treble": spec.scale_treble_mm if spec.is_multiscale else None,
        "radius_end": spec.radius_end_mm if board is BoardShape.COMPOUND else None,
    }
    values = {TOUCH.name: OWN_TOUCH if spec.own_swing else spec.touch.value}
    for name, field in PLAIN_FIELDS.items():
        value = own[name] if name in own else attrgetter(field.part)(spec)
        if isinstance(field, LengthField):
            values[name], unit = _text(spec, name, value, field.unit)
            values[f"{name}_unit"] = unit.value
        else:
            values[name] = field.text(value)
    return values | _strings(spec) | _pickups(spec)


def tidy(mm: float) -> float:
    """A length as it is kept: 34 in is 863.6 mm, not 863.5999999999999."""
    return round(mm, TENTH_OF_A_MICRON)


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


def typed_length(spec: InstrumentSpec, name: str, unit_name: str) -> tuple[str, Unit, float] | None:
    """What was typed into a field, its unit, and the mm it says; None where nothing usable was kept."""
    text = spec.typed.get(name)
    if text is None:
        return None
    try:
        unit = Unit(spec.typed.get(unit_name, Unit.mm.value))
        return text, unit, tidy(parse_length(text, unit, 0.0, 1e6).mm)
    except (LengthError, ValueError):
        return None


def is_round_inches(mm: float) -> bool:
    """Whether the length is a whole number of thous, as lengths meant in inches are."""
    return tidy(float(inches(mm)) * MM_PER_INCH) == tidy(mm)


def inches(mm: float) -> str:
    """Inches to the thou, without needless zeros: 34, 25.5, 0.045."""
    return _short(mm / MM_PER_INCH, 3)


def millimetres(mm: float) -> str:
    """Millimetres without needless zeros: 650, 1.09."""
    return _short(mm, TENTH_OF_A_MICRON)


def _short(value: float, places: int) -> str:
    return write_number(value, places).rstrip("0").rstrip(".")


def _strings(spec: InstrumentSpec) -> dict[str, str]:
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


def _pickups(spec: InstrumentSpec) -> dict[str, str]:
    values: dict[str, str] = {}
    for number in range(1, PICKUPS_AT_MOST + 1):
        pickup = spec.pickups[number - 1] if number <= len(spec.pickups) else None
        for field in pickup_fields(number):
            values[field.name] = field.text(getattr(pickup, field.part) if pickup else _NO_PICKUP[field.part])
    return values
