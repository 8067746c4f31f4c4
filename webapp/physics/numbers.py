"""Numbers and lengths as people type and read them: text becomes a number here, and a number text."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum

MINUS = "\u2212"
# What keyboards and copied pages have in its place.
_MINUSES = str.maketrans(dict.fromkeys("\u2212\u2013\u2010\u2011", "-"))
_NUMBER = re.compile(r"[-+]?\s*(?:\d{1,6}(?:[.,]\d{0,6})?|[.,]\d{1,6})")
_SIGN = re.compile(r"(?<![\w.,])-(?=[.,]?\d)")


def write_number(value: float, places: int | None = None) -> str:
    """For a field or a file: '-0.10'. Without `places`, six digits and no needless noughts; 0 has no sign."""
    text = f"{value:g}" if places is None else f"{value:.{places}f}"
    return text.lstrip("-") if float(text) == 0 else text


def say_number(value: float, places: int | None = None, plus: bool = False) -> str:
    """The same for the screen: '−0.10'; with `plus`, '+4'."""
    text = write_number(value, places)
    return on_screen(f"+{text}" if plus and float(text) > 0 else text)


def say_count(count: int) -> str:
    """How many: '12,345'."""
    return f"{count:,}"


def on_screen(text: str) -> str:
    """A text as it was typed, with its minus signs as the screen has them."""
    return _SIGN.sub(MINUS, text)


def as_typed(text: str) -> str:
    """A text with every sort of minus as the ASCII one."""
    return text.translate(_MINUSES)


def read_number(text: str, *units: str) -> float | None:
    """The number that was typed, with a point or a comma, perhaps in one of the units; else None."""
    plain = as_typed(text.strip().lower())
    unit = next((unit for unit in units if plain.endswith(unit)), "")
    plain = plain.removesuffix(unit).rstrip()
    if not plain.isascii() or not _NUMBER.fullmatch(plain):
        return None
    return float(plain.replace(",", ".").replace(" ", "")) + 0.0


MM_PER_INCH = 25.4  # exact
LONGEST_TEXT = 40


class Unit(StrEnum):
    """The units a length may be typed and shown in; the value is how it is written."""

    mm = "mm"
    inch = "in"
    thou = "thou"
    sixty_fourths = "64ths"


MM_PER_UNIT: dict[Unit, float] = {
    Unit.mm: 1.0,
    Unit.inch: MM_PER_INCH,
    Unit.thou: MM_PER_INCH / 1000,
    Unit.sixty_fourths: MM_PER_INCH / 64,
}

PLACES: dict[Unit, int] = {Unit.mm: 2, Unit.inch: 3, Unit.thou: 0, Unit.sixty_fourths: 1}


@dataclass(frozen=True)
class Length:
    """A length in mm, the unit it was typed in, and the text as typed."""

    mm: float
    unit: Unit
    typed: str

    @property
    def said(self) -> str:
        """As a page offers it: '12 thou (0.30 mm)'."""
        text = on_screen(self.typed)
        return text if self.unit is Unit.mm else f"{text} ({format_length(self.mm, Unit.mm)})"


class LengthError(ValueError):
    """A text that is no usable length: what was wrong and what would be right, in one sentence."""

    def __init__(self, sentence: str, suggestions: tuple[Length, ...] = ()) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.suggestions = suggestions


_DIGITS = r"[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+"
_SHAPE = re.compile(
    rf"""(?P<sign>[-+]?)\s*
    (?:(?P<whole>[0-9]+)(?:\s+|-))?(?P<top>{_DIGITS})\s*/\s*(?P<bottom>[0-9]+)\s*(?P<fraction_unit>.*)
    |(?P<number_sign>[-+]?)\s*(?P<number>{_DIGITS})\s*(?P<unit>.*)""",
    re.VERBOSE,
)
# Every spelling of a unit, and the mm one of it is worth
_CENTIMETRE = 10.0
_SPELLINGS: dict[str, tuple[Unit, float]] = {
    **dict.fromkeys(("mm", "mm.", "millimetre", "millimetres", "millimeter", "millimeters"), (Unit.mm, 1.0)),
    **dict.fromkeys(("cm", "centimetre", "centimetres"), (Unit.mm, _CENTIMETRE)),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "''"), (Unit.inch, MM_PER_INCH)),
    **dict.fromkeys(("thou", "thous", "mil", "mils"), (Unit.thou, MM_PER_UNIT[Unit.thou])),
    **dict.fromkeys(("64ths", "64th", "/64"), (Unit.sixty_fourths, MM_PER_UNIT[Unit.sixty_fourths])),
}
# Typed marks that mean the same as the plain ones
_PLAIN = str.maketrans(
    {
        "\u2033": '"', "\u201d": '"', "\u201c": '"', "\u2032": "'", "\u2019": "'", "\u2018": "'",
        "\u2044": "/", "\u2215": "/", "\u066b": ".",
    }
)  # fmt: skip


def parse_length(text: str, default_unit: Unit, low_mm: float, high_mm: float) -> Length:
    """The length that a text says, when it lies in ``low_mm``..``high_mm``.

    Accepts ``2.4``, ``2,4``, ``2.4 mm``, ``3/32``, ``3/32 in``, ``6/64"``, ``0.012"``, ``12 thou``,
    ``1 3/32``, ``-0.1``; a bare number is in ``default_unit``, a bare fraction in inches. Raises
    ``LengthError`` with a plain sentence for anything else; for a bare number out of range that would
    be in range in another unit, with suggestions.
    """
    plain = _plain_text(text)
    allowed = _range_words(default_unit, low_mm, high_mm)
    if not plain:
        raise LengthError(f"Nothing was typed. Type a length {allowed}.")
    found = _SHAPE.fullmatch(plain) if len(plain) <= LONGEST_TEXT else None
    if found is None:
        raise _no_length(allowed)
    if found["number"] is None:
        return _fraction(found, text, (low_mm, high_mm), allowed)
    value = _signed(found["number_sign"], _decimal(found["number"]))
    unit_text = found["unit"]
    unit, worth = _unit_of(unit_text, allowed) if unit_text else (default_unit, MM_PER_UNIT[default_unit])
    mm = value * worth
    if _inside(mm, low_mm, high_mm):
        return Length(mm, unit, text)
    if unit_text:
        raise LengthError(_outside_sentence(mm, allowed))
    raise _with_suggestions(value, default_unit, (low_mm, high_mm), allowed)


def format_length(mm: float, unit: Unit, places: int | None = None) -> str:
    """A length as a player would write it: ``2.40 mm``, ``0.094 in``, ``12 thou``, ``6/64 in``.

    ``places`` overrides the decimals; 64ths go to the nearest half (``places=0``: whole). What it
    writes, ``parse_length`` reads back to within the rounding.
    """
    value = to_unit(mm, unit)
    if unit is Unit.sixty_fourths:
        step = 1.0 if places == 0 else 0.5
        return f"{say_number(round(value / step) * step)}/64 in"
    return f"{say_number(value, PLACES[unit] if places is None else places)} {unit.value}"


def to_unit(mm: float, unit: Unit) -> float:
    """A length in mm as a number of ``unit``."""
    return mm / MM_PER_UNIT[unit]


def from_unit(value: float, unit: Unit) -> float:
    """A number of ``unit`` as a length in mm."""
    return value * MM_PER_UNIT[unit]


def _plain_text(text: str) -> str:
    """Lower case, plain marks, one kind of space; ``2½`` becomes ``2 1/2``."""
    spaced = "".join(f" {one}" if unicodedata.category(one) == "No" else one for one in text)
    plain = as_typed(unicodedata.normalize("NFKC", spaced)).translate(_PLAIN)
    return " ".join(plain.replace("''", '"').lower().split())


def _fraction(found: re.Match[str], text: str, limits: tuple[float, float], allowed: str) -> Length:
    bottom = int(found["bottom"])
    if bottom == 0:
        raise LengthError(f"A fraction cannot end in /0. Type a length {allowed}.")
    value = _signed(found["sign"], int(found["whole"] or 0) + _decimal(found["top"]) / bottom)
    words = found["fraction_unit"]
    if bottom == 64 and words in ("th", "ths"):
        words = "in"
    unit, worth = _unit_of(words, allowed) if words else (Unit.inch, MM_PER_INCH)
    if unit is Unit.inch and bottom == 64:
        unit = Unit.sixty_fourths
    mm = value * worth
    if not _inside(mm, *limits):
        raise LengthError(_outside_sentence(mm, allowed))
    return Length(mm, unit, text)


def _with_suggestions(
    value: float, default_unit: Unit, limits: tuple[float, float], allowed: str
) -> LengthError:
    others = [unit for unit in Unit if unit is not default_unit]
    fitting = [(unit, from_unit(value, unit)) for unit in others if _inside(from_unit(value, unit), *limits)]
    suggestions = tuple(Length(mm, unit, _written(value, unit)) for unit, mm in fitting)
    sentence = _outside_sentence(from_unit(value, default_unit), allowed, default_unit)
    if suggestions:
        told = " or ".join(_suggestion_words(one) for one in suggestions)
        sentence = f"{sentence} Did you mean {told}?"
    return LengthError(sentence, suggestions)


def _written(value: float, unit: Unit) -> str:
    return write_number(value) + ("/64 in" if unit is Unit.sixty_fourths else f" {unit.value}")


def _suggestion_words(one: Length) -> str:
    other = format_length(one.mm, Unit.inch if one.unit is Unit.mm else Unit.mm)
    return f"{on_screen(one.typed)} ({other})"


def _unit_of(words: str, allowed: str) -> tuple[Unit, float]:
    if words in _SPELLINGS:
        return _SPELLINGS[words]
    if not words.replace(".", "").isalpha():
        raise _no_length(allowed)
    raise LengthError(f"“{words}” is no unit used here. Use mm, in, thou or 64ths: a length {allowed}.")


def _no_length(allowed: str) -> LengthError:
    return LengthError(f"That is not a length. Type a length {allowed}.")


def _decimal(digits: str) -> float:
    return float(digits.replace(",", "."))


def _signed(sign: str, value: float) -> float:
    return -value if sign == "-" else value


def _inside(mm: float, low_mm: float, high_mm: float) -> bool:
    return low_mm - HAIR_MM <= mm <= high_mm + HAIR_MM


# So that a limit that was rounded to be shown can be typed back: over a millionth of any unit's last step.
HAIR_MM = 1e-6


def _range_words(unit: Unit, low_mm: float, high_mm: float) -> str:
    """The limits in a unit, rounded inwards: whatever these words allow is accepted."""
    step = 0.5 if unit is Unit.sixty_fourths else 10.0 ** -PLACES[unit]
    low = math.ceil(to_unit(low_mm, unit) / step - 1e-6) * step
    high = math.floor(to_unit(high_mm, unit) / step + 1e-6) * step
    return f"from {format_length(from_unit(low, unit), unit)} to {format_length(from_unit(high, unit), unit)}"


def _outside_sentence(mm: float, allowed: str, unit: Unit = Unit.mm) -> str:
    shown = format_length(mm, unit) if abs(mm) < 1e6 else "That"
    return f"{shown} is outside what this can be. Type a length {allowed}."
