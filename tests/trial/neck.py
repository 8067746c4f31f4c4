"""The trial's neck: a curve through the fret tops that is not an even bend, and how the rod changes it.

x runs from the nut along the string, y is up from the straight line on which the frets over the body lie.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_STEPS = 400


def fret_places(scale_mm: float, frets: int) -> Array:
    """Distance from the nut to frets 0 (the nut) to `frets`, twelve-tone equal temperament."""
    return np.asarray(scale_mm * (1.0 - 2.0 ** (-np.arange(frets + 1) / 12.0)))


@dataclass(frozen=True)
class Bend:
    """How a bend is shared out along the neck: curvature over u (0 at the nut, 1 where the neck ends).

    `skew` above 0 puts more of it near the nut, `belly` more of it in the middle; both 0 is an even bend.
    `hinge` is how much more the nut end rises because the whole neck tips about its joint, as a share of
    what the bend alone does; a reading of relief does not see it, the strings' heights do.
    """

    skew: float = 0.0
    belly: float = 0.0
    hinge: float = 0.0

    def heights(self, x: Array, end_mm: float) -> Array:
        """The bent line at places x: curvature integrated twice from the neck's end, where it lies flat."""
        u = np.linspace(0.0, 1.0, _STEPS + 1)
        curvature = 1.0 + self.skew * (1.0 - 2.0 * u) + self.belly * np.cos(2.0 * np.pi * (u - 0.5))
        slope = _from_the_end(curvature)
        rise = _from_the_end(slope)
        bent = np.interp(x, u * end_mm, rise, right=0.0)
        tipped = np.maximum(end_mm - x, 0.0) / end_mm
        return np.asarray(bent + self.hinge * rise[0] * tipped)


def _from_the_end(values: Array) -> Array:
    """Trapezoids summed from the far end towards the nut."""
    pieces = (values[1:] + values[:-1]) / (2.0 * _STEPS)
    return np.concatenate([np.cumsum(pieces[::-1])[::-1], [0.0]])


def gap_under_line(x: Array, tops: Array, hold: int, press: int, gap: int) -> float:
    """A string pressed down at two frets is a straight edge: its gap over a third. Minus in a back bow."""
    part = (x[gap] - x[hold]) / (x[press] - x[hold])
    return float(tops[hold] + part * (tops[press] - tops[hold]) - tops[gap])


def said_as_one(x: Array, line: Array, standard: tuple[int, int, int]) -> Array:
    """The line scaled so that it reads 1 mm of relief the standard way."""
    return np.asarray(line / gap_under_line(x, line, *standard))


def s_shape(x: Array, end_mm: float) -> Array:
    """A wave along the neck that bends one way near the nut and the other near the body; largest 1."""
    u = np.clip(x / end_mm, 0.0, 1.0)
    return np.asarray(np.sin(2.0 * np.pi * u) * (1.0 - u))


def upper_board(x: Array, end_mm: float) -> Array:
    """The frets over the body rise or fall in a straight line; 1 at the last fret."""
    return np.asarray(np.maximum(x - end_mm, 0.0) / max(x[-1] - end_mm, 1.0))
