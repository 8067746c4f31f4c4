"""A number believed with an error, and how one more measurement of it changes the belief."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Belief:
    """Normal belief about one number: its mean, its standard deviation, and how many measurements made it.

    Both in the number's own unit. Raises ``ValueError`` for a spread that is not above 0.
    """

    mean: float
    spread: float
    count: int = 0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.mean) and math.isfinite(self.spread) and self.spread > 0):
            raise ValueError("a belief needs a finite mean and a spread above 0")

    def updated(self, seen: float, error: float) -> Belief:
        """The belief after one more measurement ``seen`` with standard error ``error``.

        Normal prior times normal likelihood: precisions add, the mean is their weighted mean.
        Raises ``ValueError`` for an error that is not above 0. Source: any text on Bayesian statistics
        (conjugate normal with known variance).
        """
        if not (math.isfinite(seen) and math.isfinite(error) and error > 0):
            raise ValueError("a measurement needs a finite value and an error above 0")
        prior, measured = self.spread**-2, error**-2
        total = prior + measured
        return Belief((prior * self.mean + measured * seen) / total, total**-0.5, self.count + 1)
