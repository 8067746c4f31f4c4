"""A string's weight as a packet prints it: read, doubted where it cannot be, and kept with its string."""

from __future__ import annotations

import re
from collections.abc import Sequence
from enum import StrEnum

from webapp.physics.numbers import as_typed, say_number, write_number
from webapp.physics.strings import POUND_PER_INCH_KG_M
from webapp.trade.spec import InstrumentSpec, StringSpec

# The lightest and heaviest that a packet's weight may be, next to what the gauge leads one to expect.
LIKELY = (0.5, 2.0)
_WEIGHT = re.compile(r"(\d*[.,]?\d+(?:e[-+]?\d{1,2})?)\s*([a-z/ .]*)")


class WeightUnit(StrEnum):
    """The units that packets and makers' tables use."""

    POUND_PER_INCH = "lb/in"
    GRAM_PER_METRE = "g/m"
    KILOGRAM_PER_METRE = "kg/m"


KG_M = {
    WeightUnit.POUND_PER_INCH: POUND_PER_INCH_KG_M,
    WeightUnit.GRAM_PER_METRE: 0.001,
    WeightUnit.KILOGRAM_PER_METRE: 1.0,
}
_PLACES = {
    WeightUnit.POUND_PER_INCH: 8,
    WeightUnit.GRAM_PER_METRE: 3,
    WeightUnit.KILOGRAM_PER_METRE: 6,
}
_WRITTEN = {
    "lb/in": WeightUnit.POUND_PER_INCH, "lbs/in": WeightUnit.POUND_PER_INCH,
    "lb/inch": WeightUnit.POUND_PER_INCH, "lbs/inch": WeightUnit.POUND_PER_INCH,
    "g/m": WeightUnit.GRAM_PER_METRE, "gr/m": WeightUnit.GRAM_PER_METRE,
    "kg/m": WeightUnit.KILOGRAM_PER_METRE,
}  # fmt: skip


# Under which names an instrument keeps what was typed.
WEIGHT_UNIT = "weight_unit"


def weight_field(number: int) -> str:
    """The name of a string's field, 1 = thinnest."""
    return f"weight_{number}"


class WeightError(ValueError):
    """Not a weight that can be; the sentence says what would be right."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def parse_weight(text: str, unit: WeightUnit, gauge_mm: float, expected_kg_m: float) -> float:
    """Weight per metre, kg/m, of a string of this gauge; a bare number is in `unit`. Raises WeightError."""
    match = _WEIGHT.fullmatch(as_typed(text.strip().lower()))
    written = match[2].replace(" ", "").rstrip(".") if match else ""
    if match is None or (written and written not in _WRITTEN):
        raise WeightError("Type the unit weight as it is printed, such as 0.00037240 lb/in or 6.65 g/m.")
    unit = _WRITTEN.get(written, unit)
    number = float(match[1].replace(",", "."))
    if number == 0:
        raise WeightError("A string weighs more than 0. Leave the field empty if the packet does not say.")
    kg_m = number * KG_M[unit]
    if not LIKELY[0] <= kg_m / expected_kg_m <= LIKELY[1]:
        raise WeightError(_doubt(number, unit, gauge_mm, expected_kg_m))
    return kg_m


def _doubt(number: float, unit: WeightUnit, gauge_mm: float, expected_kg_m: float) -> str:
    far = "heavy" if number * KG_M[unit] > expected_kg_m else "light"
    said = f"In {unit.value} that is far too {far} for a {say_number(gauge_mm, 2)} mm string"
    for other in WeightUnit:
        if LIKELY[0] <= number * KG_M[other] / expected_kg_m <= LIKELY[1]:
            return f"{said}. Is it in {other.value}?"
    return f"{said}, which weighs about {format_weight(expected_kg_m, unit)}. Check the decimal places."


def format_weight(kg_m: float, unit: WeightUnit) -> str:
    """'0.00037240 lb/in', '6.650 g/m'."""
    return f"{weight_number(kg_m, unit)} {unit.value}"


def weight_number(kg_m: float, unit: WeightUnit) -> str:
    """The number alone, to as many places as packets print."""
    return write_number(kg_m / KG_M[unit], _PLACES[unit])


def with_known_weights(strings: Sequence[StringSpec], before: Sequence[StringSpec]) -> tuple[StringSpec, ...]:
    """Strings (bass side first) with the packets' weights of those before that are the same strings.

    The same string is one of the same gauge and winding, in the same place counted from the thin side, or
    else anywhere: a bass that gains a high string counts its strings anew.
    """
    kept = []
    for index, string in enumerate(strings):
        place = len(before) - (len(strings) - index)
        same = [old for old in before if _same(old, string)]
        here = [old for old in same if 0 <= place < len(before) and old is before[place]]
        found = next(iter(here or same), None)
        weight = found.unit_weight_kg_m if found else None
        kept.append(string.model_copy(update={"unit_weight_kg_m": weight}) if weight else string)
    return tuple(kept)


def keeping_weights(spec: InstrumentSpec, before: InstrumentSpec) -> InstrumentSpec:
    """A corrected description with the packets' weights, as typed, of the strings that are still the same."""
    strings = with_known_weights(spec.strings, before.strings)
    typed = {
        name: text
        for number in range(1, min(len(strings), before.string_count) + 1)
        for name in (weight_field(number), WEIGHT_UNIT)
        if (text := before.typed.get(name)) is not None and _same(spec.string(number), before.string(number))
    }
    return spec.model_copy(update={"strings": strings, "typed": {**spec.typed, **typed}})


def _same(one: StringSpec, other: StringSpec) -> bool:
    return (one.gauge_mm, one.wound) == (other.gauge_mm, other.wound)
