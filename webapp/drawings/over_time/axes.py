"""Along an axis: round numbers, days and months, and series thinned to what the eye can tell apart."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil, floor, log10
from typing import TypeVar

from webapp.drawings.shapes import kind_width
from webapp.physics.numbers import say_number
from webapp.setups.dates import MONTHS

Item = TypeVar("Item")
# Steps between labels; days are said where the whole axis is shorter than this.
MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120, 240)
DAY_STEPS = (1, 2, 7, 14, 28)
DAYS_SAID = timedelta(days=90)
TICK_SPACE = 10.0


@dataclass(frozen=True)
class TimeAxis:
    """From `since` to `until` (both with zone) along `left` to `right`."""

    since: datetime
    until: datetime
    left: float
    right: float

    def x(self, at: datetime) -> float:
        """Where a moment stands."""
        return self.left + (at - self.since) / (self.until - self.since) * (self.right - self.left)

    def ticks(self) -> list[tuple[float, str]]:
        """Places and labels of days or firsts of months, as many as fit beside each other.

        A January is its year; where none is among them, the first label says the year too.
        """
        days = self.until - self.since < DAYS_SAID
        for step in DAY_STEPS if days else MONTH_STEPS:
            moments = self._days(step) if days else self._firsts(step)
            inside = [at for at in moments if self.since <= at <= self.until]
            named = not days and any(at.month == 1 for at in inside)
            found = [(self.x(at), _label(at, days, not named and n == 0)) for n, at in enumerate(inside)]
            widths = [kind_width(text, "label") for _, text in found]
            apart = [(one + two) / 2 + 8 for one, two in pairwise(widths)]
            if all(b[0] - a[0] >= room for (a, b), room in zip(pairwise(found), apart, strict=True)):
                return found
        return []

    def _days(self, step: int) -> Iterator[datetime]:
        """Every `step`th midnight from the first."""
        at = self.since.replace(hour=0, minute=0, second=0, microsecond=0)
        while at <= self.until:
            at += timedelta(days=step)
            yield at

    def _firsts(self, step: int) -> Iterator[datetime]:
        """Firsts of every `step`th month, counted from a January."""
        month = self.since.year * 12 // step * step if step > 12 else self.since.year * 12
        while month < self.until.year * 12 + self.until.month:
            yield self.since.replace(
                year=month // 12, month=month % 12 + 1, day=1, hour=0, minute=0, second=0, microsecond=0
            )
            month += step


def _label(at: datetime, with_day: bool, with_year: bool) -> str:
    if at.month == 1 and not with_day:
        return str(at.year)
    day, year = f"{at.day} " if with_day else "", f" {at.year}" if with_year else ""
    return f"{day}{MONTHS[at.month - 1]}{year}"


def time_axis(first: datetime, last: datetime, left: float, right: float) -> TimeAxis:
    """An axis with a little room at both ends."""
    margin = max((last - first) * 0.03, timedelta(days=2))
    return TimeAxis(first - margin, last + margin, left, right)


def thin(
    items: Sequence[Item],
    place: Callable[[Item], float],
    values: Sequence[Callable[[Item], float]],
    column: float,
) -> list[Item]:
    """Of each column of this width, the items with the lowest and the highest of each value; in order.

    A line through them looks as the line through all of them would. `items` come in order of place.
    """
    columns: dict[int, list[int]] = {}
    for index, item in enumerate(items):
        columns.setdefault(int(place(item) // column), []).append(index)
    kept: set[int] = set()
    for among in columns.values():
        for value in values:
            told = [(value(items[index]), index) for index in among]
            kept |= {min(told)[1], max(told)[1]}
    return [items[index] for index in sorted(kept)]


def round_step(rough: float) -> float:
    """The next step of 1, 2 or 5 times a power of ten."""
    power = 10.0 ** floor(log10(rough))
    return float(next(m * power for m in (1, 2, 5, 10) if m * power >= rough * 0.999))


def decimals_of(step: float) -> int:
    """The places that a step of 1, 2 or 5 times a power of ten needs."""
    return max(0, -floor(log10(step) + 1e-9))


def ticks_of(low: float, high: float, length: float, kind: str) -> list[tuple[float, str]]:
    """Values between `low` and `high` with their texts, which find room beside each other in `length`."""
    step = round_step((high - low) / 6)
    while True:
        places = decimals_of(step)
        found = [n * step for n in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1)]
        texts = [say_number(value, places) for value in found]
        room = max((kind_width(text, kind) for text in texts), default=0.0) + TICK_SPACE
        if len(found) < 2 or step / (high - low) * length >= room:
            return list(zip(found, texts, strict=True))
        step = round_step(step * 1.5)
