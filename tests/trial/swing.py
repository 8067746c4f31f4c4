"""How a plucked string swings, as a sum of its modes, and which notes rattle.

The pluck has width: a finger rounds the corner, so the high modes are weaker than a point's would be. Steel
is stiff, so modes run a little fast; and they die away. A finger pushes the string towards the board more
than it pulls it away, so the half of the swing that starts upward is the smaller one. What counts is the
lowest the string comes anywhere.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tests.trial.kinds import Kind
from tests.trial.neck import fret_places

Array = NDArray[np.float64]
_MODES, _MOMENTS = 24, 96
FINGER_MM = 9.0
_STIFF, _DECAY = 2e-4, 0.015
_UPWARD = 0.6  # of a pluck that lets go above the rest, against one that lets go below it
HEARD_MM = 0.03  # a touch lighter than this is lost in the note


@lru_cache(maxsize=32)
def reach_of_swing(key: str, kind: Kind) -> Array:
    """[fretted, over]: how low the string comes per mm of pluck when open; NaN where over <= fretted."""
    x = fret_places(kind.scale_mm, kind.frets)
    low = np.full((kind.frets + 1, kind.frets + 1), np.nan)
    whole = kind.scale_mm
    for n in range(kind.frets):
        length = whole - x[n]
        pluck = min(kind.pluck_mm, length / 2)
        give = (pluck * (length - pluck) / length) / (kind.pluck_mm * (whole - kind.pluck_mm) / whole)
        low[n, n + 1 :] = give * lowest(x[n + 1 :] - x[n], length, pluck)
    return low


def lowest(along_mm: Array, length_mm: float, pluck_mm: float) -> Array:
    """How far below its rest a string comes, per mm that it is drawn aside at `pluck_mm` from the saddle.

    `along_mm` counts from the fretted end.
    """
    k = np.arange(1, _MODES + 1)
    at_pluck = np.sin(k * np.pi * (length_mm - pluck_mm) / length_mm)
    weight = at_pluck / k**2 * np.exp(-0.5 * (k * np.pi * FINGER_MM / length_mm) ** 2)
    drawn = weight @ at_pluck
    moments = np.linspace(0.0, 2.0, _MOMENTS)
    turns = np.cos(np.pi * np.outer(moments, k * np.sqrt(1.0 + _STIFF * k**2)))
    fade = np.exp(-_DECAY * np.outer(moments, k))
    there = np.sin(np.pi * np.outer(along_mm / length_mm, k)) * weight
    paths = there @ (turns * fade).T / drawn
    return np.asarray(np.maximum(paths.max(axis=1), -_UPWARD * paths.min(axis=1)))


def clearances(x: Array, tops: Array, nut_mm: float, saddle: tuple[float, float]) -> Array:
    """[fretted, over]: gap of the string over every fret beyond; NaN elsewhere. `saddle` is (along, up)."""
    start = tops.copy()
    start[0] = nut_mm
    slope = (saddle[1] - start) / (saddle[0] - x)
    line = start[:, None] + slope[:, None] * (x[None, :] - x[:, None])
    over = np.arange(len(x))[None, :] > np.arange(len(x))[:, None]
    return np.where(over, line - tops[None, :], np.nan)


def largest_clean(reach: Array, clear: Array) -> float:
    """The largest pluck, mm on the open string, at which no note of this string can be heard to touch."""
    return float(np.nanmin((clear + HEARD_MM) / reach))


def rattling(reach: Array, clear: Array, pluck_mm: float) -> list[int]:
    """The frets, 0 = open, whose notes touch something at this pluck."""
    touch = np.nan_to_num(pluck_mm * reach - clear - HEARD_MM, nan=-1.0) > 0
    return [int(n) for n in np.flatnonzero(touch.any(axis=1))]
