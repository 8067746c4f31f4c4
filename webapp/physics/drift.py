"""The moisture of the air around an instrument, and the moisture of its wood, which follows it slowly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from webapp.physics.wood import moisture_content

Floats = NDArray[np.float64]

# A finished neck takes weeks to follow the air: the usual time constant, until its readings tell. No source.
COMMON_LAG_DAYS = 21.0
# Over a longer gap than this nobody can say what the wood went through: it starts anew from the air.
LONGEST_GAP_DAYS = 60.0
# For so long after the last known day the air is taken to have stayed as it was.
HELD_DAYS = 7.0


def air_moisture(temperature_c: Sequence[float], humidity_percent: Sequence[float]) -> Floats:
    """Moisture that wood would settle at in each air, percent of its dry weight, shape (n,).

    Both of shape (n,), in the ranges of ``moisture_content``, whose equation and ``ValueError`` it shares.
    """
    pairs = zip(temperature_c, humidity_percent, strict=True)
    return np.array([moisture_content(t, h) for t, h in pairs], dtype=np.float64)


def lagged_moisture(days: Floats, moisture: Floats, lag_days: float, at: Floats) -> Floats:
    """Moisture of wood that follows the air as a first-order filter, at the days ``at``; shape of ``at``.

    ``days`` (n,) rising, any origin; ``moisture`` (n,) percent, taken to run straight from day to day;
    ``lag_days`` above 0. The solution of ``lag dM/dt = u - M`` is exact over any step:
    ``M(t+d) = u1 - s lag + (M0 - u0 + s lag) exp(-d/lag)``, with s the slope of u over that step. The wood
    begins at the mean of the first ``lag_days`` of air. After the last day the air stays as it was; before
    the first day the answer is NaN. Raises ``ValueError`` for no days, days out of order, or no lag.
    Source: first-order system, M. Kutz (ed.), Mechanical Engineers' Handbook, 3rd ed. 2006, vol. 2, p. 333;
    its answer to a ramp: K. Ogata, Modern Control Engineering, 5th ed. 2010, section 5.2, from memory.
    """
    return _between(days, moisture, lag_days, _wood_by_day(days, moisture, lag_days), at)


def _wood_by_day(days: Floats, moisture: Floats, lag_days: float) -> Floats:
    """The wood's moisture on the air's own days, shape (n,)."""
    if len(days) == 0 or len(days) != len(moisture) or np.any(np.diff(days) <= 0):
        raise ValueError("the days of the air must rise, each with its moisture")
    if not lag_days > 0:
        raise ValueError("the lag must be above 0 days")
    steps = np.diff(days)
    kept = np.exp(-steps / lag_days)
    wood = np.empty(len(days))
    wood[0] = now = float(moisture[days <= days[0] + lag_days].mean())
    ramps = np.diff(moisture) / steps * lag_days
    rows = zip(moisture[:-1].tolist(), moisture[1:].tolist(), ramps.tolist(), kept.tolist(), strict=True)
    for index, (u0, u1, ramp, keep) in enumerate(rows, 1):
        now = u1 - ramp + (now - u0 + ramp) * keep
        wood[index] = now
    return wood


def _between(days: Floats, moisture: Floats, lag_days: float, wood: Floats, at: Floats) -> Floats:
    """The same between those days, and after the last."""
    before = np.searchsorted(days, at, side="right") - 1
    i = np.maximum(before, 0)
    slopes = np.append(np.diff(moisture) / np.diff(days), 0.0)
    past, ramp_at = at - days[i], slopes[i] * lag_days
    settled = moisture[i] + slopes[i] * past - ramp_at
    found = settled + (wood[i] - moisture[i] + ramp_at) * np.exp(-np.maximum(past, 0.0) / lag_days)
    return np.where(before >= 0, found, np.nan)


@dataclass(frozen=True, eq=False)
class Air:
    """The air's moisture over time, perhaps with gaps.

    ``days`` (n,) strictly rising, any origin; ``moisture`` (n,) percent, what wood would settle at. Raises
    ``ValueError`` where these differ in length or the days do not rise.
    """

    days: Floats
    moisture: Floats

    def __post_init__(self) -> None:
        if len(self.days) != len(self.moisture) or np.any(np.diff(self.days) <= 0):
            raise ValueError("the days of the air must rise, each with its moisture")

    @cached_property
    def stretches(self) -> tuple[tuple[Floats, Floats], ...]:
        """The parts between gaps of more than ``LONGEST_GAP_DAYS``, oldest first."""
        cuts = np.flatnonzero(np.diff(self.days) > LONGEST_GAP_DAYS) + 1
        parts = zip(np.split(self.days, cuts), np.split(self.moisture, cuts), strict=True)
        return tuple((days, moisture) for days, moisture in parts if len(days))

    @cached_property
    def _soaked(self) -> dict[float, tuple[Floats, ...]]:
        """The wood of each stretch by lag, worked out once."""
        return {}

    def wood(self, lag_days: float, at: Floats) -> Floats:
        """Moisture of the wood, percent, at the days ``at``, shape (m,); NaN where the air is not known."""
        if lag_days not in self._soaked:
            self._soaked[lag_days] = tuple(_wood_by_day(*one, lag_days) for one in self.stretches)
        found = np.full(len(at), np.nan)
        for (days, moisture), wood in zip(self.stretches, self._soaked[lag_days], strict=True):
            here = (at >= days[0] - 0.5) & (at <= days[-1] + HELD_DAYS)
            # A day's mean stands at noon: a reading of that morning belongs to it too.
            found[here] = _between(days, moisture, lag_days, wood, np.maximum(at[here], days[0]))
        return found

    def known(self, at: Floats) -> NDArray[np.bool_]:
        """Where the wood's moisture can be told, shape (m,)."""
        return ~np.isnan(self.wood(COMMON_LAG_DAYS, at))
