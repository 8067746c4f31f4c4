"""Reading what was typed: every error gets a sentence and its field; nothing typed is lost."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

from fastapi import Request

from webapp.pages.visit.visit import new_form_id
from webapp.physics.lengths import Length, LengthError, Unit, parse_length
from webapp.trade.ranges import Band

Word = TypeVar("Word", bound=StrEnum)

LONGEST_LINE = 200
LONGEST_NOTE = 2000
_CENTS = re.compile(r"([-+]?)\s*(\d{1,4}(?:[.,]\d{1,3})?)\s*(?:c|ct|cent|cents)?")
_NUMBER = re.compile(r"[-+]?\d{1,4}(?:[.,]\d{1,4})?")
_WHOLE = re.compile(r"\d{1,4}")


@dataclass(frozen=True)
class FieldError:
    """One sentence beside one field."""

    field: str
    message: str


@dataclass
class FormReader:
    """The typed texts of one form, and what was found wrong while reading them."""

    data: Mapping[str, str]
    lists: Mapping[str, list[str]] = field(default_factory=dict)
    errors: list[FieldError] = field(default_factory=list)
    suggestions: dict[str, tuple[Length, ...]] = field(default_factory=dict)

    @property
    def ok(self) -> bool:
        return not self.errors

    def fault(self, name: str, message: str) -> None:
        """Put a sentence beside a field."""
        self.errors.append(FieldError(name, message))

    def error(self, name: str) -> str | None:
        """The first sentence for a field."""
        return next((e.message for e in self.errors if e.field == name), None)

    def raw(self, name: str, default: str = "") -> str:
        """The text as typed, or a default where the field was not sent."""
        return self.data.get(name, default)

    def many(self, name: str) -> list[str]:
        """Every value of a field that may be sent more than once."""
        return list(self.lists.get(name, []))

    def text(self, name: str, longest: int = LONGEST_LINE, required: str = "") -> str:
        """A line of text; `required` is the sentence for an empty one."""
        text = self.raw(name).strip()
        if not text and required:
            self.fault(name, required)
        if len(text) > longest:
            self.fault(name, f"That is too long; {longest} characters at most.")
        return text[:longest]

    def unit(self, name: str, default: Unit) -> Unit:
        """The unit chosen beside a length field."""
        try:
            return Unit(self.raw(f"{name}_unit", default.value))
        except ValueError:
            return default

    def length(self, name: str, default: Unit, likely: Band, widest: Band | None = None) -> Length | None:
        """A length in mm. Outside `likely` another unit is asked about; outside `widest` it is refused."""
        unit = self.unit(name, default)
        text = self.raw(f"{name}_take") or self.raw(name)
        try:
            return parse_length(text, unit, likely.low, likely.high)
        except LengthError as doubt:
            if doubt.suggestions or widest is None:
                self._refuse(name, doubt)
                return None
        try:
            return parse_length(text, unit, widest.low, widest.high)
        except LengthError as refusal:
            self._refuse(name, refusal)
            return None

    def _refuse(self, name: str, refusal: LengthError) -> None:
        self.fault(name, refusal.sentence)
        if refusal.suggestions:
            self.suggestions[name] = refusal.suggestions

    def cents(self, name: str, widest: Band) -> float | None:
        """A tuning error in cents, with its sign."""
        text = self.raw(name).strip().lower().replace("\u2212", "-").replace("\u2013", "-")
        match = _CENTS.fullmatch(text)
        if match is None:
            self.fault(name, "Type the cents that the tuner shows, such as 4 or -3." if text else
                       "Type what the tuner shows, in cents; 0 if it is in tune.")  # fmt: skip
            return None
        value = float(match[2].replace(",", ".")) * (-1 if match[1] == "-" else 1)
        if not widest.contains(value):
            self.fault(
                name,
                f"That is too far off; between {widest.low:g} and {widest.high:g} cents can be recorded.",
            )
            return None
        return value + 0.0

    def number(self, name: str, what: str, allowed: Band) -> float | None:
        """A number that may be left out: None without one, or (with a sentence) for one that cannot be."""
        text = self.raw(name).strip().replace("\u2212", "-")
        if not text:
            return None
        if not _NUMBER.fullmatch(text) or not allowed.contains(float(text.replace(",", "."))):
            self.fault(name, f"Type {what}: from {allowed.low:g} to {allowed.high:g}.")
            return None
        return float(text.replace(",", "."))

    def whole(self, name: str, low: int, high: int, what: str) -> int | None:
        """A whole number from low to high."""
        text = self.raw(name).strip()
        if not _WHOLE.fullmatch(text) or not low <= int(text) <= high:
            self.fault(name, f"{what}: a whole number from {low} to {high}.")
            return None
        return int(text)

    def choice(self, name: str, allowed: Iterable[str], what: str) -> str | None:
        """One of a closed list."""
        value = self.raw(name)
        if value in set(allowed):
            return value
        self.fault(name, f"Choose {what}.")
        return None

    def word(self, name: str, words: type[Word], what: str) -> Word | None:
        """One member of a list of words."""
        value = self.choice(name, [w.value for w in words], what)
        return None if value is None else words(value)


def form_id_of(form: FormReader) -> str:
    """The name of a form that is shown again, so that what was recorded already is not recorded twice."""
    return form.raw("form_id")[:64] or new_form_id()


async def read_form(request: Request) -> FormReader:
    """The dependency that reads a posted form: the last value of each name, and all values of each name."""
    form = await request.form(max_files=0, max_fields=1000)
    texts = ((name, value) for name, value in form.multi_items() if isinstance(value, str))
    # No keyboard types a NUL, and not every database can keep one.
    pairs = [(name, value.replace("\x00", "")) for name, value in texts]
    # In case it cannot be saved: then the page that says so gives all of it back.
    request.state.typed = pairs
    lists: dict[str, list[str]] = {}
    for name, value in pairs:
        lists.setdefault(name, []).append(value)
    return FormReader(dict(pairs), lists)
