"""Student's t distribution, and weighted mixtures of it: for intervals that own up to few readings."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# Points in u of the substitution t = sinh(u): fine in the middle, and out to t = 11000 at both ends.
_U = np.linspace(-10.0, 10.0, 6001)
_T = np.sinh(_U)


@dataclass(frozen=True, eq=False)
class Student:
    """The distribution with ``df`` degrees of freedom (above 0, not only whole), as a table of its CDF.

    Density ``G((v+1)/2) / (sqrt(v pi) G(v/2)) * (1 + t^2/v)^(-(v+1)/2)``, summed by the trapezium rule;
    right to 1e-4 for ``df`` from 1 up. Source: Abramowitz and Stegun, 26.7. Raises ``ValueError`` for a
    ``df`` that is not above 0.
    """

    df: float
    _cdf: Floats

    @classmethod
    def of(cls, df: float) -> Student:
        """The table for ``df`` degrees of freedom; beyond a million it is the normal distribution."""
        if not df > 0:
            raise ValueError("the degrees of freedom must be above 0")
        v = min(df, 1e6)
        log_front = math.lgamma((v + 1) / 2) - math.lgamma(v / 2) - 0.5 * math.log(v * math.pi)
        density = np.exp(log_front - (v + 1) / 2 * np.log1p(_T**2 / v)) * np.cosh(_U)
        parts = (density[1:] + density[:-1]) / 2 * (_U[1] - _U[0])
        inside = np.concatenate(([0.0], np.cumsum(parts)))
        # What lies beyond both ends matters only for one degree of freedom or so.
        return cls(v, inside + max(1.0 - float(inside[-1]), 0.0) / 2)

    def cdf(self, t: Floats) -> Floats:
        """Share of the distribution below each ``t``; same shape."""
        return np.asarray(np.interp(t, _T, self._cdf), dtype=np.float64)

    def quantile(self, share: float) -> float:
        """The ``t`` below which ``share`` (0 < share < 1) of the distribution lies."""
        if not 0 < share < 1:
            raise ValueError("a quantile needs a share between 0 and 1")
        return float(np.interp(share, self._cdf, _T))


def mixture_quantile(student: Student, means: Floats, scales: Floats, weights: Floats, share: float) -> float:
    """The value below which ``share`` of a mixture lies.

    ``means``, ``scales`` (above 0) and ``weights`` (sum 1) have shape (k,); part i is ``means[i] +
    scales[i] * t``. By halving: the mixture's CDF only rises.
    """
    reach = student.quantile(share) * scales + means
    low, high = float(reach.min()), float(reach.max())
    for _ in range(60):
        middle = (low + high) / 2
        below = float(weights @ student.cdf((middle - means) / scales))
        low, high = (middle, high) if below < share else (low, middle)
    return (low + high) / 2
