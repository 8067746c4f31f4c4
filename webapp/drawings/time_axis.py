"""Time along the bottom of a chart: months and years, and series thinned to what the eye can tell apart."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypeVar

from webapp.drawings.chart import MONTHS
from webapp.drawings.shapes import kind_width

Item = TypeVar("Item")
# Steps between labels, in months.
STEPS = (1, 2, 3, 6, 12, 24, 60, 120, 240)


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
        """Places and labels of firsts of months, as many as fit beside each other."""
        for step in STEPS:
            found = [(self.x(at), _label(at, step)) for at in self._firsts(step)]
            room = max((kind_width(text, "label") for _, text in found), default=0.0) + 10
            inside = [(x, text) for x, text in found if self.left <= x <= self.right]
            if all(b - a >= room for (a, _), (b, _) in zip(inside, inside[1:], strict=False)):
                return inside
        return []

    def _firsts(self, step: int) -> Iterator[datetime]:
        """Firsts of every `step`th month, counted from a January."""
        month = self.since.year * 12 // step * step if step > 12 else self.since.year * 12
        while month < self.until.year * 12 + self.until.month:
            yield self.since.replace(
                year=month // 12, month=month % 12 + 1, day=1, hour=0, minute=0, second=0, microsecond=0
            )
            month += step


def _label(at: datetime, step: int) -> str:
    return str(at.year) if step >= 12 else f"{MONTHS[at.month - 1]} {at.year}"


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
