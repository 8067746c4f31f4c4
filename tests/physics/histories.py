"""Invented histories with a planted drift, written apart from the code that they try: small steps in time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from webapp.physics.drift import Air, air_moisture
from webapp.physics.drift_fit import Before, DriftData
from webapp.physics.mixture import Seen

Floats = NDArray[np.float64]
BEFORE = 200  # days of air that the wood went through before anyone took note
LENGTH = 730
TOOL_MM, DAY_MM = 0.015, 0.02
ORDINARY = Before(level_mm=(0.3, 0.3), slope_sd=0.05, creep_sd=0.05, scatter_mm=DAY_MM, slip=0.02)
# How likely a slip shows just that: anywhere within three millimetres.
ELSEWHERE = TOOL_MM / 3
STEP_SD = 0.3


@dataclass(frozen=True, eq=False)
class History:
    """What was read, and what was true. `next_mm` is what it is on one more day, left out, at `next_day`."""

    data: DriftData
    air: Air
    slope: float
    lag_days: float
    next_day: float
    next_mm: float


def number(value: float, sigma: float = TOOL_MM) -> Seen:
    return Seen(value, value, sigma)


def read_as(
    days: Sequence[float] | Floats, seen: Sequence[Seen], steps_before: Sequence[int] | Floats, count: int
) -> DriftData:
    """Readings, each after so many of `count` steps whose sizes nobody knows."""
    made = np.asarray(steps_before)[:, None] > np.arange(count)[None, :]
    return DriftData(
        days=np.asarray(days, dtype=np.float64),
        seen=tuple(seen),
        elsewhere=np.full(len(seen), ELSEWHERE),
        moved=made.astype(np.float64),
        moved_now=np.ones(count),
        sizes=np.tile([0.0, STEP_SD], (count, 1)),
        before=ORDINARY,
    )


def weather(rng: np.random.Generator, days: int) -> Floats:
    """Moisture that wood would settle at, one value a day: a yearly wave and days that lean on each other."""
    day = np.arange(days)
    humidity = 48 + rng.uniform(8, 18) * np.cos(2 * np.pi * (day - rng.uniform(0, 365)) / 365)
    weather_now = 0.0
    for i in range(days):
        weather_now = 0.8 * weather_now + rng.normal(0, 3)
        humidity[i] += weather_now
    return air_moisture((21 + 2 * rng.normal(size=days)).tolist(), np.clip(humidity, 15, 90).tolist())


def soaked(settled: Floats, lag_days: float, parts: int = 10) -> Floats:
    """The wood behind that air, by tenths of a day."""
    wood = np.empty(len(settled))
    wood[0] = now = float(settled[:20].mean())
    for i in range(1, len(settled)):
        for part in range(parts):
            share = (part + 0.5) / parts
            air = settled[i - 1] * (1 - share) + settled[i] * share
            now += (air - now) / lag_days / parts
        wood[i] = now
    return wood


def planted(rng: np.random.Generator, outliers: float = 0.03) -> History:
    """Two years of readings every few weeks, a rod turned about twice a year, some readings plainly wrong."""
    settled = weather(rng, BEFORE + LENGTH)
    days = np.arange(-BEFORE, LENGTH).astype(np.float64)
    lag = float(np.exp(rng.uniform(math.log(7), math.log(60))))
    wood = soaked(settled, lag)
    slope, creep = float(rng.uniform(-0.08, 0.04)), float(rng.normal(0, 0.03))
    turned = 0.0

    def true(at: float) -> float:
        return 0.3 + slope * (float(np.interp(at, days, wood)) - 9) + creep * at / 365.25 + turned

    rows: list[tuple[float, Seen, int]] = []
    steps, at, next_turn = 0, 3.0, float(rng.uniform(30, 150))
    while at < LENGTH - 30:
        seen = true(at) + rng.normal(0, DAY_MM) + rng.normal(0, TOOL_MM)
        if rng.random() < outliers:
            seen += rng.choice([-1, 1]) * rng.uniform(0.1, 0.3)
        rows.append((at, number(seen), steps))
        if at > next_turn:
            turned += rng.uniform(-0.2, 0.2)
            steps, next_turn = steps + 1, at + float(rng.uniform(120, 240))
            if rng.random() < 0.85:
                after = true(at) + rng.normal(0, DAY_MM) + rng.normal(0, TOOL_MM)
                rows.append((at + 0.01, number(after), steps))
        at += float(rng.uniform(10, 26))
    read, seen_all, made = zip(*rows, strict=True)
    later = LENGTH - 2.0
    next_mm = true(later) + rng.normal(0, DAY_MM)
    air = Air(days[BEFORE:], settled[BEFORE:])
    return History(read_as(read, seen_all, made, steps), air, slope, lag, later, float(next_mm))
