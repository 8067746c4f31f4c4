"""Intonation: from errors in cents at frets to how far the saddle should move.

An error is the fretted note minus its equal-tempered place over the open string, tuned at the time:
above 0 is sharp. A shift above 0 moves the saddle back, away from the nut (a longer string).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

CENTS_PER_OCTAVE = 1200.0


def cents_per_mm(scale_mm: float, fret: int) -> float:
    """Cents by which a fretted note falls per mm that the saddle moves back, the open string retuned.

    ``(1200 / ln 2) * (2**(n / 12) - 1) / L``, first order in the shift over L; 0 at the nut. Raises
    ``ValueError`` for a scale that is not above 0 or a fret below 0.
    Source: pitch goes as 1 / length (M. Mersenne, Harmonie universelle, 1636), for both the fretted and the
    open length; the derivative is ours. Fuller models: Varieschi and Gower, 2009, arXiv:0906.0127.
    """
    if not (math.isfinite(scale_mm) and scale_mm > 0):
        raise ValueError("the scale length must be above 0 mm")
    if fret < 0:
        raise ValueError("the fret must be 0 (the nut) or above")
    return CENTS_PER_OCTAVE / math.log(2.0) * math.expm1(fret / 12 * math.log(2.0)) / scale_mm


def expected_error(scale_mm: float, fret: int, shift_mm: float) -> float:
    """Error in cents at a fret when the saddle alone is to blame and wants moving back by ``shift_mm``."""
    return cents_per_mm(scale_mm, fret) * shift_mm


@dataclass(frozen=True)
class IntonationFit:
    """What the errors split into.

    ``shift_mm``: saddle move, above 0 = back; ``nut_cents``: constant from the nut end, above 0 = every
    fretted note sharp; their standard errors; ``remainder_cents``: {fret: what neither explains}.
    """

    shift_mm: float
    shift_error_mm: float
    nut_cents: float
    nut_error_cents: float
    remainder_cents: dict[int, float]

    @property
    def largest_remainder(self) -> tuple[int, float]:
        """(fret, cents) of the remainder furthest from 0."""
        return max(self.remainder_cents.items(), key=lambda item: abs(item[1]))


def split_fit(
    scale_mm: float, errors_cents: Mapping[int, float], reading_error_cents: float = 1.0
) -> IntonationFit:
    """Split the errors {fret: cents} into saddle, nut end and remainder by least squares.

    ``error = shift * cents_per_mm + nut + remainder``. Standard errors use the reading error or the
    scatter of the remainder, whichever is larger, since two readings leave no scatter to judge by.
    Raises ``ValueError`` for fewer than two frets, a fret below 1 or an error that is not above 0.
    Source: least squares, NIST/SEMATECH e-Handbook of Statistical Methods, section 4.4.3.1, from memory.
    """
    slopes, errors = _columns(scale_mm, errors_cents)
    if len(slopes) < 2:
        raise ValueError("telling the nut end from the saddle takes readings at two frets or more")
    if not reading_error_cents > 0:
        raise ValueError("the reading error must be above 0 cents")
    design = np.column_stack([slopes, np.ones_like(slopes)])
    inverse = np.linalg.inv(design.T @ design)
    shift, nut = inverse @ design.T @ errors
    remainder = errors - design @ np.array([shift, nut])
    spare = len(errors) - 2
    scatter = math.sqrt(float(remainder @ remainder) / spare) if spare else 0.0
    spread = max(reading_error_cents, scatter) * np.sqrt(np.diag(inverse))
    left = {fret: float(cents) for fret, cents in zip(sorted(errors_cents), remainder, strict=True)}
    return IntonationFit(float(shift), float(spread[0]), float(nut), float(spread[1]), left)


def _columns(
    scale_mm: float, errors_cents: Mapping[int, float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    if not errors_cents:
        raise ValueError("give at least one fretted reading")
    frets = sorted(errors_cents)
    if frets[0] < 1:
        raise ValueError("the open string is the reference: readings start at fret 1")
    slopes = np.array([cents_per_mm(scale_mm, fret) for fret in frets], dtype=np.float64)
    errors = np.array([errors_cents[fret] for fret in frets], dtype=np.float64)
    return slopes, errors
