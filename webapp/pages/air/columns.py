"""Choosing the columns of a logger's file: what the page shows, and reading the choice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from webapp.pages.air.words import date_words, job_path
from webapp.pages.visit.forms import FormReader
from webapp.setups.air_log.columns import DELIMITERS, PREVIEW, Sheet
from webapp.setups.air_log.csv_reading import Plan
from webapp.setups.air_log.dates import DateOrder, DateTrouble, is_local, moment, orders, shown
from webapp.store.tables import ImportJob

Options = tuple[tuple[str, str], ...]
SAME_COLUMN = "It is in the same column"
NOT_CHOSEN = "Choose a column"
DELIMITER_WORDS = {"comma": "Commas", "semicolon": "Semicolons", "tab": "Tabs", "bar": "Upright bars"}
_FIELDS = ("time", "temperature", "humidity")


@dataclass(frozen=True)
class ColumnsPage:
    """`orders` is empty where dates can be read in one way only; `twin` says when the file came before."""

    job: ImportJob
    sheet: Sheet
    form: FormReader
    columns: Options
    orders: Options
    delimiter: str
    twin: str

    @property
    def action(self) -> str:
        return job_path(self.job.id)

    @property
    def preview(self) -> tuple[tuple[str, ...], ...]:
        width = len(self.sheet.columns)
        return tuple((*row, *[""] * width)[:width] for row in self.sheet.sample[:PREVIEW])

    @property
    def delimiters(self) -> Options:
        return tuple(DELIMITER_WORDS.items())

    @property
    def column_choices(self) -> Options:
        return (("", NOT_CHOSEN), *self.columns)

    @property
    def clock_choices(self) -> Options:
        return (("", SAME_COLUMN), *self.columns)


def columns_page(job: ImportJob, sheet: Sheet, form: FormReader, twin: ImportJob | None) -> ColumnsPage:
    """The page's context; `form` holds the choice so far, or what `guessed` says."""
    delimiter = next(key for key, sign in DELIMITERS.items() if sign == sheet.delimiter)
    came = "" if twin is None else date_words(twin.started_at.astimezone().date())
    return ColumnsPage(job, sheet, form, _columns(sheet), _orders(sheet, form.raw("time")), delimiter, came)


def guessed(sheet: Sheet) -> dict[str, str]:
    """The form as it is first shown."""
    guess = sheet.guess
    found = {"time": guess.time, "clock": guess.clock}
    found |= {"temperature": guess.temperature, "humidity": guess.humidity}
    chosen = {name: "" if column is None else str(column) for name, column in found.items()}
    possible = orders(sheet.cells(guess.time)) if guess.time is not None else ()
    chosen["degrees"] = "f" if guess.fahrenheit else "c"
    chosen["order"] = possible[0].value if len(possible) == 1 else ""
    return chosen


def read_plan(sheet: Sheet, form: FormReader) -> Plan | None:
    """The plan that the player chose; None, with sentences in the form, where it cannot be one."""
    keys = [key for key, _ in _columns(sheet)]
    chosen = {
        "time": form.choice("time", keys, "the column that holds the date"),
        "temperature": form.choice("temperature", keys, "the column that holds the temperature"),
        "humidity": form.choice("humidity", keys, "the column that holds the humidity"),
    }
    clock = form.choice("clock", ["", *keys], "where the time of day is")
    degrees = form.choice("degrees", ("c", "f"), "Celsius or Fahrenheit")
    order = _order(sheet, form)
    _refuse_twice(form, chosen | {"clock": clock or None})
    time, temperature, humidity = (chosen[name] for name in _FIELDS)
    if not form.ok or time is None or temperature is None or humidity is None:
        return None
    return Plan(
        sheet.encoding,
        sheet.delimiter,
        sheet.skip,
        int(time),
        int(clock) if clock else None,
        int(temperature),
        int(humidity),
        degrees == "f",
        order,
    )


def _order(sheet: Sheet, form: FormReader) -> DateOrder:
    if not _orders(sheet, form.raw("time")):
        return DateOrder.DAY
    return form.word("order", DateOrder, "whether the day or the month comes first") or DateOrder.DAY


def _refuse_twice(form: FormReader, chosen: dict[str, str | None]) -> None:
    seen: set[str] = set()
    for name, column in chosen.items():
        if column is not None and column in seen:
            form.fault(name, "This column is chosen twice. Each of them has its own.")
        elif column is not None:
            seen.add(column)


def _columns(sheet: Sheet) -> Options:
    return tuple((str(n), _column_words(sheet, n)) for n in range(len(sheet.columns)))


def _column_words(sheet: Sheet, column: int) -> str:
    cells = sheet.cells(column)
    return f"{sheet.columns[column]}: {cells[0][:30]}" if cells else f"{sheet.columns[column]}: empty"


def _orders(sheet: Sheet, time: str) -> Options:
    """The two ways to read the dates, with one of them as an example; none where there is only one way."""
    if not time.isdecimal() or int(time) >= len(sheet.columns):
        return ()
    cells = [cell for cell in sheet.cells(int(time)) if is_local(cell)]
    if not cells:
        return ()
    # 01/01/2026 would read the same in both.
    example = next((one for one in cells if len({_reads(one, order) for order in DateOrder}) > 1), cells[0])
    words = {DateOrder.DAY: "Day first", DateOrder.MONTH: "Month first"}
    return tuple((order.value, f"{words[order]}{_reads(example, order)}") for order in DateOrder)


def _reads(cell: str, order: DateOrder) -> str:
    try:
        read: datetime = moment(cell, order, None)
    except DateTrouble:
        return ""
    return f": {shown(cell)} is {date_words(read.date())}"
