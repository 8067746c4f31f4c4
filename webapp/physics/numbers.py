"""A number as text, and a text as a number: the one place for signs, points and places.

On screen a minus is U+2212, as long as the plus beside it; in a field, a file or an address it is the ASCII
one. Both are read.
"""

from __future__ import annotations

import re

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
