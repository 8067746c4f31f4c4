"""Where the frets lie along one string in twelve-tone equal temperament."""

from __future__ import annotations

import math
from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

FRETS_PER_OCTAVE = 12
BAD_SCALE = "the scale length must be above 0 mm"
BAD_FRET = "the fret must be 0 (the nut) or above"


@overload
def fret_position(scale_mm: float, fret: int | float) -> float: ...


@overload
def fret_position(scale_mm: ArrayLike, fret: ArrayLike) -> float | NDArray[np.float64]: ...


def fret_position(scale_mm: ArrayLike, fret: ArrayLike) -> float | NDArray[np.float64]:
    """Distance from the nut to a fret, in mm: ``L * (1 - 2**(-n / 12))``.

    ``scale_mm`` (above 0) and ``fret`` (0 = nut, or above) may be numbers or arrays that broadcast
    together; numbers give a float, arrays an array of the broadcast shape. Raises ``ValueError``
    for a scale that is not a positive finite number or a fret below 0.
    Source: equal temperament, each semitone shortens the string by the factor ``2**(-1/12)``: G. U.
    Varieschi and C. M. Gower, Intonation and compensation of fretted string instruments, 2009,
    arXiv:0906.0127, section II.
    """
    if isinstance(scale_mm, (int, float)) and isinstance(fret, (int, float)):
        return _position(scale_mm, fret)
    scale = np.asarray(scale_mm, dtype=np.float64)
    number = np.asarray(fret, dtype=np.float64)
    if not bool(np.all(np.isfinite(scale) & (scale > 0))):
        raise ValueError(BAD_SCALE)
    if not bool(np.all(np.isfinite(number) & (number >= 0))):
        raise ValueError(BAD_FRET)
    # expm1 keeps the low frets exact to the last bits, where 1 - 2**-small would cancel
    distance = -scale * np.expm1(-number * (np.log(2.0) / FRETS_PER_OCTAVE))
    return float(distance) if distance.ndim == 0 else distance


def _position(scale_mm: float, fret: float) -> float:
    """The same for two numbers: a setup asks thousands of times, and arrays of one cost ten times more."""
    if not (math.isfinite(scale_mm) and scale_mm > 0):
        raise ValueError(BAD_SCALE)
    if not (math.isfinite(fret) and fret >= 0):
        raise ValueError(BAD_FRET)
    return -scale_mm * math.expm1(-fret * (math.log(2.0) / FRETS_PER_OCTAVE))
