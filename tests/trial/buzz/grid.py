"""The buzz trial's string: a row of points that pull on each other, let go from under a finger and
followed in time.

u_tt = c^2 u_xx - kappa^2 u_xxxx - 2 s0 u_t + 2 s1 u_txx, stepped explicitly; the ends are pinned. Nothing
here is a formula for the shape that the swing fills: what counts is the lowest that each place comes while
it rings.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tests.trial.kinds import Kind
from tests.trial.neck import fret_places

Array = NDArray[np.float64]
_POINTS, _COURANT, _PERIODS = 80, 0.75, 2.5
_STIFF, _LOSS, _LOSS_HIGH = 2.0e-4, 0.04, 1.0e-4
FINGER_MM = 12.0


@lru_cache(maxsize=128)
def reach_of_pluck(kind: Kind, pluck_mm: float) -> tuple[Array, Array]:
    """[fretted, over] twice: how low the string comes over a fret per mm that the open string is drawn
    aside.

    First let go from below its rest, then from above; NaN where over <= fretted. Every note is plucked
    with the same force, `pluck_mm` from the saddle, or in its middle where that is nearer.
    """
    x, whole = fret_places(kind.scale_mm, kind.frets), kind.scale_mm
    lengths = whole - x[: kind.frets]
    plucks = np.minimum(pluck_mm, lengths / 2)
    give = plucks * (lengths - plucks) / lengths / (pluck_mm * (whole - pluck_mm) / whole)
    drawn = np.stack([drawn_aside(n, p) for n, p in zip(lengths, plucks, strict=True)])
    highest, lowest = ringing(drawn)
    found = np.full((2, kind.frets + 1, kind.frets + 1), np.nan)
    along = np.linspace(0.0, 1.0, _POINTS + 1)
    for n, length in enumerate(lengths):
        places = (x[n + 1 :] - x[n]) / length
        found[0, n, n + 1 :] = give[n] * np.interp(places, along, highest[n])
        found[1, n, n + 1 :] = -give[n] * np.interp(places, along, lowest[n])
    return found[0], found[1]


def drawn_aside(length_mm: float, pluck_mm: float) -> Array:
    """The string at rest under the finger: 1 at the pluck, straight to both ends, rounded over the
    finger's width."""
    along = np.linspace(0.0, 1.0, 40 * _POINTS + 1)
    at = 1.0 - pluck_mm / length_mm
    sharp = np.minimum(along / at, (1.0 - along) / (1.0 - at))
    width = max(1, round(FINGER_MM / length_mm * 40 * _POINTS) // 2 * 2 + 1)
    mirrored = np.concatenate([-sharp[width:0:-1], sharp, -sharp[-2 : -width - 2 : -1]])
    rounded = np.convolve(mirrored, np.ones(width) / width, mode="same")[width:-width]
    return np.asarray(rounded[::40] / rounded.max())


def ringing(drawn: Array) -> tuple[Array, Array]:
    """Highest and lowest place of every point [note, point] over the first periods, let go from `drawn`."""
    step = _COURANT / _POINTS
    stiff = _STIFF / np.pi**2 * step**2 * _POINTS**4
    high_loss = 2.0 * _LOSS_HIGH * step * _POINTS**2
    before, now = drawn.copy(), drawn.copy()
    highest, lowest = drawn.copy(), drawn.copy()
    for _ in range(int(_PERIODS * 2 / step)):
        bend, bend_before = _bent(now), _bent(before)
        after = (
            2.0 * now - (1.0 - _LOSS * step) * before + _COURANT**2 * bend - stiff * _bent(bend)
            + high_loss * (bend - bend_before)
        ) / (1.0 + _LOSS * step)  # fmt: skip
        after[:, [0, -1]] = 0.0
        before, now = now, after
        np.maximum(highest, now, out=highest)
        np.minimum(lowest, now, out=lowest)
    return highest, lowest


def _bent(shape: Array) -> Array:
    """Second difference; at a pinned end there is none."""
    bent = np.zeros_like(shape)
    bent[:, 1:-1] = shape[:, 2:] - 2.0 * shape[:, 1:-1] + shape[:, :-2]
    return bent
