"""Reading a logger's file: from its lines and the player's choice of columns to readings of the air."""

from __future__ import annotations

import re
from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, tzinfo
from functools import lru_cache
from typing import NamedTuple

from webapp.physics.numbers import say_number
from webapp.setups.air_log.columns import LONGEST_LINE, split
from webapp.setups.air_log.dates import DateOrder, DateTrouble, moment, shown

COLDEST_C, HOTTEST_C = -40.0, 60.0
# A logger whose clock was never set begins in 1970 or 2000.
FIRST_YEAR = 2001
# Clocks differ a little; more than this is another time.
AHEAD = timedelta(hours=1)
BAD_SHOWN = 100
_NOTHING = ' \t;,|"\x1a\x00\ufeff'
_NUMBER = re.compile(
    r"([-+\u2212]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d{1,2})?)\s*(?:[°º]?\s*[CcFf]|°|%\s*(?:[rR]\.?\s?[HhFf]\.?)?)?",
    re.ASCII,
)


@dataclass(frozen=True)
class Plan:
    """How to read the file: what was found out about it, and what the player chose."""

    encoding: str
    delimiter: str
    skip: int  # lines up to and with the heading
    time: int
    clock: int | None  # the column of the time of day, where it stands apart from the date
    temperature: int
    humidity: int
    fahrenheit: bool
    order: DateOrder

    @property
    def last(self) -> int:
        return max(self.time, self.clock or 0, self.temperature, self.humidity)


class LoggedRow(NamedTuple):
    """A good line: the moment on this computer's clock."""

    line: int
    at: datetime
    temperature_c: float
    humidity_percent: float


class BadRow(NamedTuple):
    """A line that cannot be used, and why."""

    line: int
    reason: str


def rows(
    lines: Iterable[str], plan: Plan, now: datetime, zone: tzinfo | None = None
) -> Iterator[LoggedRow | BadRow]:
    """Every line below the heading that is not blank, read or refused.

    `now` has a zone; what is later is in the future. `zone` (None: this computer's) is where the days begin.
    """
    latest = now.astimezone(zone).replace(tzinfo=None) + AHEAD
    for number, line in enumerate(lines, 1):
        if number <= plan.skip or not line.strip(_NOTHING):
            continue
        try:
            yield _row(number, line, plan, latest, zone)
        except DateTrouble as trouble:
            yield BadRow(number, str(trouble))


def _row(number: int, line: str, plan: Plan, latest: datetime, zone: tzinfo | None) -> LoggedRow:
    if len(line) >= LONGEST_LINE:
        raise DateTrouble("This line is too long to be a reading.")
    cells = split(line, plan.delimiter)
    if len(cells) <= plan.last:
        columns = "1 column" if len(cells) == 1 else f"{len(cells)} columns"
        raise DateTrouble(f"A column is missing: there are only {columns} here.")
    text = cells[plan.time] if plan.clock is None else f"{cells[plan.time]} {cells[plan.clock]}"
    if not text.strip():
        raise DateTrouble("The time is missing.")
    at = moment(text, plan.order, zone)
    if at > latest:
        raise DateTrouble(f"{shown(text)} is in the future.")
    if at.year < FIRST_YEAR:
        raise DateTrouble(f"{shown(text)} is before {FIRST_YEAR}: the logger’s clock was perhaps not set.")
    temperature = temperature_c(cells[plan.temperature], plan.fahrenheit)
    return LoggedRow(number, at, temperature, humidity_percent(cells[plan.humidity]))


def temperature_c(text: str, fahrenheit: bool) -> float:
    """The temperature in Celsius; raises DateTrouble where it is none that a room can have."""
    value = number(text)
    if value is None:
        raise DateTrouble(_no_number(text, "temperature"))
    celsius = (value - 32) * 5 / 9 if fahrenheit else value
    if not COLDEST_C <= celsius <= HOTTEST_C:
        said = f"{say_number(value)} °C"
        if fahrenheit:
            said = f"{say_number(value)} °F ({say_number(celsius, 1)} °C)"
        raise DateTrouble(f"{said} cannot be right; −40 to 60 °C can be kept.")
    return celsius


def humidity_percent(text: str) -> float:
    """The relative humidity; raises DateTrouble where it is none."""
    value = number(text)
    if value is None:
        raise DateTrouble(_no_number(text, "humidity"))
    if not 0.0 <= value <= 100.0:
        raise DateTrouble(f"{say_number(value)} % cannot be right; humidity goes from 0 to 100 %.")
    return value


def _no_number(text: str, what: str) -> str:
    return f"{shown(text)} is not a {what}." if text.strip() else f"The {what} is missing."


@lru_cache(maxsize=8192)
def number(text: str) -> float | None:
    """A number with a decimal comma or point, perhaps with its unit; None where it is none.

    No reading of the air reaches a thousand, so a comma or a point never stands between thousands.
    """
    match = _NUMBER.fullmatch(text.strip())
    return float(match[1].replace(",", ".").replace("\u2212", "-")) if match else None


@dataclass
class DayReadings:
    """A day's readings: milliseconds since midnight on the clock, and what was read then."""

    moment_ms: array[int] = field(default_factory=lambda: array("I"))
    temperature_c: array[float] = field(default_factory=lambda: array("d"))
    humidity_percent: array[float] = field(default_factory=lambda: array("d"))

    def add(self, row: LoggedRow) -> None:
        at = row.at
        seconds = (at.hour * 60 + at.minute) * 60 + at.second
        # The hour that comes twice in autumn: its second passing is another moment.
        ms = seconds * 1000 + at.microsecond // 1000 + at.fold * 86_400_000
        self.moment_ms.append(ms)
        self.temperature_c.append(row.temperature_c)
        self.humidity_percent.append(row.humidity_percent)


@dataclass
class Gathered:
    """What came out of a file so far: twenty bytes for each reading, and the first bad lines."""

    days: dict[date, DayReadings] = field(default_factory=dict)
    good: int = 0
    bad: int = 0
    bad_rows: list[BadRow] = field(default_factory=list)

    def add(self, item: LoggedRow | BadRow) -> None:
        if isinstance(item, BadRow):
            self.bad += 1
            if len(self.bad_rows) < BAD_SHOWN:
                self.bad_rows.append(item)
            return
        self.good += 1
        day = item.at.date()
        if day not in self.days:
            self.days[day] = DayReadings()
        self.days[day].add(item)

    @property
    def rows(self) -> int:
        return self.good + self.bad
