"""A form's fields as a table: what each is called, how it is read, how its value is written, how it looks."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from webapp.pages.visit.forms import LONGEST_LINE, LONGEST_NOTE, FormReader
from webapp.physics.lengths import Length, Unit
from webapp.physics.numbers import read_number, write_number
from webapp.trade.ranges import Band

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
