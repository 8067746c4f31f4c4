"""Reading what was typed: every error gets a sentence and its field; nothing typed is lost."""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated, Any, ClassVar, TypeVar

from fastapi import Depends, Request

from webapp.pages.visit.visit import new_form_id
from webapp.physics.numbers import (
    Length,
    LengthError,
    Unit,
    parse_length,
    read_number,
    say_number,
    write_number,
)
from webapp.trade.ranges import Band

Word = TypeVar("Word", bound=StrEnum)

LONGEST_LINE = 200
LONGEST_NOTE = 2000
_WHOLE = re.compile(r"\d{1,4}")


@dataclass(frozen=True)
class FieldError:
    """One sentence beside one field; `href` is where it leads to, where that is not the field."""

    field: str
    message: str
    href: str = ""


@dataclass
class FormReader:
    """The typed texts of one form, and what was found wrong while reading them.

    `told_newest`: it was refused because something newer was there, and its sentence says so.
    """

    data: Mapping[str, str]
    lists: Mapping[str, list[str]] = field(default_factory=dict)
    errors: list[FieldError] = field(default_factory=list)
    suggestions: dict[str, tuple[Length, ...]] = field(default_factory=dict)
    told_newest: bool = False

    @property
    def ok(self) -> bool:
        return not self.errors

    @property
    def status(self) -> int:
        """What a page is shown with that was asked for in its address: 422 where that cannot be read."""
        return 200 if self.ok else 422

    def fault(self, name: str, message: str, href: str = "") -> None:
        """Put a sentence beside a field."""
        self.errors.append(FieldError(name, message, href))

    def error(self, name: str) -> str | None:
        """The first sentence for a field."""
        return next((e.message for e in self.errors if e.field == name), None)

    def raw(self, name: str, default: str = "") -> str:
        """The text as typed, or a default where the field was not sent."""
        return self.data.get(name, default)

    def shown_with(self, name: str) -> int:
        """What a form carries to say how new its page was: a version, or an entry's number."""
        return count_of(self.raw(name))

    def show_with(self, name: str, newest: int) -> int:
        """What it carries when it is shown again: the same, until the player was told of something newer."""
        return self.shown_with(name) if name in self.data and not self.told_newest else newest

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
        value = read_number(self.raw(name), "cents", "cent", "ct", "c")
        if value is None:
            typed = self.raw(name).strip()
            self.fault(name, "Type the cents that the tuner shows, such as 4 or −3." if typed else
                       "Type what the tuner shows, in cents; 0 if it is in tune.")  # fmt: skip
            return None
        if not widest.contains(value):
            self.fault(
                name,
                f"That is too far off; between {say_number(widest.low)} and {say_number(widest.high)} cents "
                "can be recorded.",
            )
            return None
        return value

    def number(self, name: str, what: str, allowed: Band) -> float | None:
        """A number that may be left out: None without one, or (with a sentence) for one that cannot be."""
        if not self.raw(name).strip():
            return None
        value = read_number(self.raw(name))
        if value is None or not allowed.contains(value):
            self.fault(name, f"Type {what}: from {say_number(allowed.low)} to {say_number(allowed.high)}.")
            return None
        return value

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


def count_of(text: str, otherwise: int = 0) -> int:
    """A whole number that no hand typed, such as an address or a form carries it."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 12 else otherwise


def form_id_of(form: FormReader) -> str:
    """The name of a form, which it keeps when it is shown again: what was recorded is not recorded twice."""
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


# A page that answers a form takes it like this.
Posted = Annotated[FormReader, Depends(read_form)]


Options = tuple[tuple[str, str], ...]


def _always(form: FormReader) -> bool:
    return True


@dataclass(frozen=True)
class Field(ABC):
    """`part` is the part that it is of what the form describes: 'rod.type'; empty where it is none itself.

    `when` tells from the rest of the form whether it is read at all.
    """

    name: str
    part: str
    label: str
    hint: str = ""
    when: Callable[[FormReader], bool] = _always
    sort: ClassVar[str]

    @abstractmethod
    def read(self, form: FormReader, options: Options = ()) -> Any:
        """Its value; None, with a sentence in the form, where it has none. `options` are those offered."""

    def text(self, value: Any) -> str:
        """The value as the field shows it."""
        return str(value)


@dataclass(frozen=True, kw_only=True)
class LineField(Field):
    """A line of text: how it is typed, and what stands beside it."""

    sort = "line"
    keys: ClassVar[str] = "text"
    width: ClassVar[str] = "full"
    suffix: str = ""


@dataclass(frozen=True, kw_only=True)
class TextField(LineField):
    """Words; `required` is the sentence for an empty one."""

    longest: int = LONGEST_LINE
    required: str = ""

    def read(self, form: FormReader, options: Options = ()) -> str:
        return form.text(self.name, self.longest, self.required)


@dataclass(frozen=True, kw_only=True)
class AreaField(Field):
    """Words over several lines."""

    sort = "area"
    longest: int = LONGEST_NOTE
    rows: int = 3

    def read(self, form: FormReader, options: Options = ()) -> str:
        return form.text(self.name, self.longest)


@dataclass(frozen=True, kw_only=True)
class WholeField(LineField):
    """A whole number; `what` begins its sentence."""

    keys = "numeric"
    width = "short"
    low: int
    high: int
    what: str

    def read(self, form: FormReader, options: Options = ()) -> int | None:
        return form.whole(self.name, self.low, self.high, self.what)


@dataclass(frozen=True, kw_only=True)
class NumberField(LineField):
    """A number in the unit of its suffix; `sentence` is for everything else."""

    keys = "decimal"
    width = "short"
    low: float
    high: float
    sentence: str

    def read(self, form: FormReader, options: Options = ()) -> float | None:
        value = read_number(form.raw(self.name), self.suffix.lower())
        if value is None or not self.low <= value <= self.high:
            form.fault(self.name, self.sentence)
            return None
        return value

    def text(self, value: Any) -> str:
        return write_number(value)


@dataclass(frozen=True, kw_only=True)
class LengthField(Field):
    """A length: outside `likely` another unit is asked about, outside `widest` it is refused."""

    sort = "length"
    unit: Unit
    likely: Band
    widest: Band
    required: bool = True

    def read(self, form: FormReader, options: Options = ()) -> Length | None:
        if not self.required and not (form.raw(f"{self.name}_take") or form.raw(self.name)).strip():
            return None
        return form.length(self.name, self.unit, self.likely, self.widest)


@dataclass(frozen=True, kw_only=True)
class ChoiceField(Field):
    """One of some options; `what` is what to choose. `open` shows them all at once."""

    sort = "choice"
    what: str
    options: Options = ()
    open: bool = False

    def read(self, form: FormReader, options: Options = ()) -> str | None:
        return form.choice(self.name, dict(options or self.options), self.what)


@dataclass(frozen=True)
class TickField(Field):
    """A box to tick."""

    sort = "tick"

    def read(self, form: FormReader, options: Options = ()) -> bool:
        return bool(form.raw(self.name))

    def text(self, value: Any) -> str:
        return "on" if value else ""


def table(*fields: Field) -> Mapping[str, Field]:
    """The fields by their names, in their order."""
    return {field.name: field for field in fields}
