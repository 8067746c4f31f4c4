"""The form of a lesson: which checks, the bands of each, and the teacher's own words. New and edit alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from webapp.pages.visit.forms import AreaField, Field, FieldError, FormReader, TextField, WholeField, table
from webapp.physics.numbers import Unit, as_typed, on_screen, write_number
from webapp.setups.lesson import (
    LONGEST_NOTES,
    LONGEST_TITLE,
    BandRow,
    LessonCheck,
    LessonSheet,
    plain_text,
)
from webapp.setups.lessons.lesson_file import checks_of, rows_of
from webapp.setups.say import Say, capital
from webapp.store.lessons import STUDENTS, STUDENTS_AT_MOST
from webapp.trade.content import Trade
from webapp.trade.ranges import Band, TargetUsual
from webapp.trade.spec import Kind
from webapp.trade.words import Check, label

NO_TITLE = "Give the lesson a title."
NO_CHECK = "Choose at least one check besides getting ready."
NOT_IN_ORDER = "The second figure must not be lower than the first."
NOT_INSIDE = "The target must lie within the usual band."
BANDS = (("target", "Target"), ("usual", "Usual"))
ENDS = (("low", "from"), ("high", "to"))
TITLE = TextField("title", "title", "Title", longest=LONGEST_TITLE, required=NO_TITLE)
INTRO = AreaField(
    "intro", "intro", "What you say first",
    "Markdown: **bold**, lists with -, [words](https://…) for a link. "
    "Nothing else of it is shown as anything but text.",
    longest=LONGEST_NOTES, rows=6,
)  # fmt: skip
STUDENTS_FIELD = WholeField(
    "students", "", "Students at most", "So that a link that gets about cannot fill this computer.",
    low=1, high=STUDENTS_AT_MOST, what="How many students",
)  # fmt: skip
NOTES = {
    check: AreaField(f"notes_{check.value}", "notes", "Your notes", longest=LONGEST_NOTES, rows=5)
    for check in Check
}


@dataclass(frozen=True)
class Section:
    """One check of the form."""

    check: Check
    title: str
    said: str
    chosen: bool
    open: bool
    rows: tuple[BandRow, ...]

    @property
    def always(self) -> bool:
        """Nobody leaves out the look at whether the instrument can be set up at all."""
        return self.check.is_preparation


@dataclass(frozen=True)
class LessonFormPage:
    """The form as it stands, with what was typed and what was wrong."""

    form: FormReader
    kinds: tuple[Kind, ...]
    trade: Trade
    action: str
    unit: Unit
    form_id: str = ""
    lesson_id: str = ""
    version: int = 0

    fields: ClassVar[Mapping[str, Field]] = table(TITLE, INTRO, STUDENTS_FIELD, *NOTES.values())
    bands: ClassVar[tuple[tuple[str, str], ...]] = BANDS
    ends: ClassVar[tuple[tuple[str, str], ...]] = ENDS

    def value(self, name: str) -> str:
        return self.form.raw(name)

    def error(self, name: str) -> str | None:
        return self.form.error(name)

    @property
    def is_new(self) -> bool:
        return not self.lesson_id

    @property
    def back(self) -> str:
        return "/lessons" if self.is_new else f"/lessons/{self.lesson_id}"

    def unit_of(self, row: BandRow) -> str:
        return "cents" if row.is_cents else self.unit.value

    @property
    def sections(self) -> tuple[Section, ...]:
        rows = rows_of(self.trade, *self.kinds)
        return tuple(self._section(check, rows) for check in checks_of(*self.kinds))

    def _section(self, check: Check, rows: Sequence[BandRow]) -> Section:
        own = tuple(row for row in rows if row.check is check)
        names = {name for row in own for name in fields_of(row)} | {NOTES[check].name}
        wrong = any(error.field in names for error in self.form.errors)
        title, chosen = capital(label(check)), is_chosen(self.form, check)
        return Section(check, title, self._said(own), chosen, wrong, own)

    def _said(self, rows: Sequence[BandRow]) -> str:
        """The first target in short: 'target 0.15 to 0.45 mm'."""
        if not rows:
            return ""
        low, high = (self.form.raw(field_name(rows[0], "target", end)) for end, _ in ENDS)
        if not (low or high):
            return "each kind’s own target"
        unit = self.unit_of(rows[0])
        said = on_screen(f"target {low} to {high}")
        return said if high.endswith(unit) or not high[-1:].isdecimal() else f"{said} {unit}"

    @property
    def summary(self) -> list[FieldError]:
        """The sentences, each with the field that it belongs to."""
        called = {
            field_name(row, band, end): f"{row.label}, {words.lower()}. "
            for row in rows_of(self.trade, *self.kinds)
            for band, words in BANDS
            for end, _ in ENDS
        }
        return [replace(e, message=f"{called.get(e.field, '')}{e.message}") for e in self.form.errors]


def field_name(row: BandRow, band: str, end: str) -> str:
    return f"{row.key}_{band}_{end}"


def fields_of(row: BandRow) -> Iterator[str]:
    """The names of a row's four fields."""
    return (field_name(row, band, end) for band, _ in BANDS for end, _ in ENDS)


def is_chosen(form: FormReader, check: Check) -> bool:
    return check.is_preparation or form.raw(f"in_{check.value}") == "yes"


def new_values(trade: Trade, kinds: Sequence[Kind], unit: Unit) -> dict[str, str]:
    """The form as the kinds fill it in: every check, with the trade's own bands where they agree."""
    values = {"title": "", "intro": "", "students": str(STUDENTS), "unit": unit.value}
    values |= {f"in_{check.value}": "yes" for check in checks_of(*kinds)}
    for row in rows_of(trade, *kinds):
        values |= _written(row, row.stated, unit) if row.stated else dict.fromkeys(fields_of(row), "")
    return values


def sheet_values(
    sheet: LessonSheet, trade: Trade, kinds: Sequence[Kind], unit: Unit, students: int
) -> dict[str, str]:
    """The form as the lesson was last kept, with the lengths as they were typed."""
    chosen = {one.check for one in sheet.checks}
    values = {
        key: text for key, text in new_values(trade, kinds, unit).items() if not key.startswith("in_")
    } | {"title": sheet.title, "intro": sheet.intro, "students": str(students)}
    values |= {f"in_{check.value}": "yes" for check in chosen}
    values |= {NOTES[one.check].name: one.notes for one in sheet.checks}
    for row in rows_of(trade, *kinds):
        if row.key in sheet.bands:
            values |= _written(row, sheet.bands[row.key], unit)
    return values | (sheet.typed if sheet.unit == unit.value else {})


def _written(row: BandRow, bands: TargetUsual, unit: Unit) -> dict[str, str]:
    values = {}
    for name, band in (("target", bands.target), ("usual", bands.usual)):
        for end, value in (("low", band.low), ("high", band.high)):
            values[field_name(row, name, end)] = _number(row, value, unit)
    return values


def _number(row: BandRow, value: float, unit: Unit) -> str:
    """A figure as the field shows it; its unit stands beside the field, unless it is another one."""
    if row.is_cents:
        return write_number(value)
    return as_typed(Say(unit).length(value).removesuffix(f" {unit.value}"))


def read_sheet(
    form: FormReader, trade: Trade, kinds: Sequence[Kind], unit: Unit
) -> tuple[LessonSheet, int] | None:
    """The lesson that the form describes, and for how many; None, with sentences, where it is none."""
    title = " ".join(plain_text(TITLE.read(form)).split())
    if not title and form.error("title") is None:
        form.fault("title", NO_TITLE)
    intro, students = plain_text(INTRO.read(form)), STUDENTS_FIELD.read(form)
    chosen = [check for check in checks_of(*kinds) if is_chosen(form, check)]
    if all(check.is_preparation for check in chosen):
        form.fault("in_relief", NO_CHECK)
    notes = {check: plain_text(NOTES[check].read(form)) for check in chosen}
    typed: dict[str, str] = {}
    rows = [row for row in rows_of(trade, *kinds) if row.check in chosen and not _is_left_open(form, row)]
    bands = {row.key: _bands(form, row, unit, typed) for row in rows}
    if not form.ok or students is None:
        return None
    sheet = LessonSheet(
        title=title,
        kinds=tuple(kind.key for kind in kinds),
        intro=intro,
        checks=tuple(LessonCheck(check=check, notes=notes[check]) for check in chosen),
        bands={key: found for key, found in bands.items() if found is not None},
        typed=typed,
        unit=unit.value,
    )
    return sheet, students


def _is_left_open(form: FormReader, row: BandRow) -> bool:
    """Whether each kind keeps its own bands."""
    return row.stated is None and not any(form.raw(name) for name in fields_of(row))


def _bands(form: FormReader, row: BandRow, unit: Unit, typed: dict[str, str]) -> TargetUsual | None:
    target, usual = (_band(form, row, band, unit, typed) for band, _ in BANDS)
    if target is None or usual is None:
        return None
    if not usual.holds(target):
        end = "low" if target.low < usual.low else "high"
        form.fault(field_name(row, "target", end), NOT_INSIDE)
        return None
    return TargetUsual(target=target, usual=usual)


def _band(form: FormReader, row: BandRow, band: str, unit: Unit, typed: dict[str, str]) -> Band | None:
    low, high = (_figure(form, row, field_name(row, band, end), unit, typed) for end, _ in ENDS)
    if low is None or high is None:
        return None
    if low > high:
        form.fault(field_name(row, band, "high"), NOT_IN_ORDER)
        return None
    return Band(low=low, high=high)


def _figure(form: FormReader, row: BandRow, name: str, unit: Unit, typed: dict[str, str]) -> float | None:
    if row.is_cents:
        return form.cents(name, row.plausible)
    length = form.length(name, unit, row.plausible)
    if length is None:
        return None
    typed[name] = length.typed
    return round(length.mm, 6)
