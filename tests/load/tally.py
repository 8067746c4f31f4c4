"""What was asked, how long it took and what went wrong; the sums over it."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple


class Asked(NamedTuple):
    """One request. `status` is 0 where there was no answer."""

    method: str
    path: str
    status: int
    took_ms: float


class StepTaken(NamedTuple):
    """One form that was sent and kept: the answer to it, and the next page with it.

    `late_ms` is how long after its time it was sent, because the one before it was not done yet.
    """

    at_s: float
    sent_ms: float
    whole_ms: float
    late_ms: float


class Fault(NamedTuple):
    """An answer that was not the expected one, or none."""

    method: str
    path: str
    words: str


@dataclass(frozen=True)
class RouteTimes:
    """One line of the table."""

    route: str
    count: int
    p50_ms: float
    p95_ms: float
    p99_ms: float
    errors: int


@dataclass
class Tally:
    """Everything that happened in one run.

    `kept` are the names of the forms that the server promised to have in a journal.
    """

    asked: list[Asked] = field(default_factory=list)
    steps: list[StepTaken] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    came_in: int = 0
    setups_finished: int = 0
    handed_in: int = 0


def percentile(values: Sequence[float], percent: float) -> float:
    """The smallest of the values that at least so many per cent do not exceed (nearest rank)."""
    if not values:
        return math.nan
    ranked = sorted(values)
    return ranked[max(math.ceil(percent / 100 * len(ranked)), 1) - 1]


def by_route(
    asked: Iterable[Asked], faults: Iterable[Fault], route_of: Callable[[str, str], str]
) -> list[RouteTimes]:
    """The times of each route, the most asked for first."""
    times: dict[str, list[float]] = defaultdict(list)
    for one in asked:
        times[route_of(one.method, one.path)].append(one.took_ms)
    wrong = Counter(route_of(fault.method, fault.path) for fault in faults)
    lines = [
        RouteTimes(
            route, len(took), percentile(took, 50), percentile(took, 95), percentile(took, 99), wrong[route]
        )
        for route, took in times.items()
    ]
    return sorted(lines, key=lambda line: (-line.count, line.route))


def growth_per_minute(seconds: Sequence[float], values: Sequence[float]) -> float:
    """The slope of the straight line through the values (least squares), for a minute."""
    count = len(seconds)
    if count < 2:
        return math.nan
    middle_s, middle = sum(seconds) / count, sum(values) / count
    spread = sum((at - middle_s) ** 2 for at in seconds)
    if spread == 0:
        return math.nan
    together = sum((at - middle_s) * (value - middle) for at, value in zip(seconds, values, strict=True))
    return 60 * together / spread
