"""A player's touch as a swing: what a test found, and the lowest clean action.

A touch is the swing of the open string, in mm at the pluck, that the player's hand makes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from webapp.physics.clearance import clearances, reach_map
from webapp.physics.neck import COMMON_FRETS, Neck, action_per_relief

# Far below any tool: lines this close in mm are one line, and one this level (mm per mm) is level
_SAME_MM = 1e-12
_FLAT = 1e-9


class LowestClean(NamedTuple):
    """The lowest clean setting: action at 12 held at 1, its relief, its saddle, the pair that limits it."""

    action_mm: float
    relief_mm: float
    saddle_mm: float
    fretted: int
    over: int


@dataclass(frozen=True)
class FoundSwing:
    """A swing found by test: it lies between the last setting that buzzed and the first that did not, mm."""

    buzzing_mm: float
    clean_mm: float

    def __post_init__(self) -> None:
        if not 0 <= self.buzzing_mm <= self.clean_mm:
            raise ValueError("the setting that plays clean must allow more swing than the one that buzzes")

    @property
    def swing_mm(self) -> float:
        """The player's swing: the setting where the buzz just goes."""
        return self.clean_mm

    @property
    def uncertain_mm(self) -> float:
        """How far the true swing may lie below, mm: the step between the two settings."""
        return self.clean_mm - self.buzzing_mm


def lowest_clean(
    scale_mm: float,
    joint_fret: int,
    fret_count: int,
    swing_mm: float,
    pluck_mm: float,
    relief_low_mm: float = 0.0,
    relief_high_mm: float = 1.0,
    taken: tuple[int, int, int] = COMMON_FRETS,
) -> LowestClean:
    """Lowest action at 12 (held at 1) at which this swing touches nothing, and the relief that goes with it.

    ``swing_mm`` is the open string's, plucked ``pluck_mm`` from the saddle; the relief is read at
    ``taken`` and kept within its two limits (equal limits fix it). For each pair of frets the action
    needed is a straight line in the relief, so the action needed for all is their upper envelope,
    which is convex: its lowest point is found exactly, at the least relief where the bottom is flat. Ours; a
    linear programme in two unknowns finds the same (tests/outside/test_touch.py).
    Raises ``ValueError`` for a swing below 0, limits in the wrong order, or what ``Neck.from_relief``
    refuses.
    """
    if not (np.isfinite(swing_mm) and swing_mm >= 0):
        raise ValueError("the swing must be 0 mm or more")
    if not relief_low_mm <= relief_high_mm:
        raise ValueError("the lowest relief allowed must not be above the highest")
    unit = Neck.from_relief(scale_mm, joint_fret, fret_count, 1.0, *taken)
    share, need = _pairs(unit, swing_mm, pluck_mm)
    per_action = unit.saddle_per_action()
    own = action_per_relief(joint_fret, fret_count, taken)
    # gap = saddle * share + relief * tilt >= need, with the saddle as action and relief make it
    tilt = _flat(clearances(unit, 0.0))
    base = need / share / per_action
    slope = own - tilt / share / per_action
    relief = _lowest_of_envelope(base, slope, relief_low_mm, relief_high_mm)
    active = int(np.argmax(base + slope * relief))
    action = float(base[active] + slope[active] * relief)
    fretted, over = _pair_index(fret_count)
    saddle = Neck.from_relief(scale_mm, joint_fret, fret_count, relief, *taken).saddle_for_action(action)
    return LowestClean(action, relief, saddle, int(fretted[active]), int(over[active]))


def _lowest_of_envelope(
    base: NDArray[np.float64], slope: NDArray[np.float64], low: float, high: float
) -> float:
    """The lowest place r on low..high where ``max(base + slope * r)`` is lowest.

    The bottom can be flat: a pair of frets whose numbers add up to 13 needs the same action at 12
    whatever the relief. Then the straightest neck that will do is the answer.
    """
    bottom = _bottom_of_envelope(base, slope, low, high)
    falls = slope < -_FLAT
    return float(min(high, np.max((base[falls] - bottom) / -slope[falls], initial=low)))


def _bottom_of_envelope(
    base: NDArray[np.float64], slope: NDArray[np.float64], low: float, high: float
) -> float:
    """Lowest value of the upper envelope, from the upper lines at both ends to where the two cross.

    Each step either ends or brings in a line that was not used before, so it ends.
    """

    def upper(r: float) -> int:
        return int(np.argmax(base + slope * r))

    falling, rising = upper(low), upper(high)
    if slope[falling] >= -_FLAT:
        return float(base[falling] + slope[falling] * low)
    if slope[rising] <= _FLAT:
        return float(base[rising] + slope[rising] * high)
    while True:
        crossing = (base[rising] - base[falling]) / (slope[falling] - slope[rising])
        top = upper(crossing)
        reached = float(base[top] + slope[top] * crossing)
        if top in (falling, rising) or abs(slope[top]) <= _FLAT:
            return reached
        if reached <= base[rising] + slope[rising] * crossing + _SAME_MM:
            return reached
        falling, rising = (top, rising) if slope[top] < 0 else (falling, top)


def _pairs(neck: Neck, swing_mm: float, pluck_mm: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Per pair of frets: gap gained per mm of saddle, and the gap that the swing needs."""
    flat = Neck(neck.scale_mm, neck.joint_fret, neck.fret_count)
    return _flat(clearances(flat, 1.0)), swing_mm * _flat(reach_map(flat, pluck_mm))


def _flat(pairs: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(pairs[_pair_index(pairs.shape[0] - 1)])


def _pair_index(fret_count: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Index arrays of the pairs fretted >= 1, over > fretted."""
    fretted, over = np.triu_indices(fret_count + 1, k=1)
    played = fretted >= 1
    return fretted[played], over[played]
