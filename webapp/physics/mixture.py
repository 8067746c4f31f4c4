"""A belief as a mixture of Gaussians: moved by what is done, narrowed by readings that are ranges.

One component stands for one explanation (this rod, this thread); inside it the unknowns are jointly normal.
Equations: the Kalman filter's for linear moves; a reading that only says "between here and there" is taken
with the exact first two moments of a truncated normal (Johnson, Kotz, Balakrishnan, Continuous Univariate
Distributions, vol. 1, 2nd ed. 1994, section 10.1: recalled, not looked up again).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import erfc, pi, sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Far outside any belief a range holds no mass that a double can tell from none.
LEAST_MASS = 1e-300
_SQRT_HALF = sqrt(0.5)
# A half-width of 90 % of a normal, in standard deviations.
NINETY = 1.6448536269514722
# Where a half-width is looked for, in standard deviations.
_HALVES = np.concatenate((np.linspace(0.2, 2.6, 33), np.linspace(2.8, 7.0, 12)))


# Up to so many numbers are quicker one by one.
_FEW = 256
# Chebyshev coefficients of ln(erfc(z) exp(z^2) / t) in t = 1 / (1 + z / 2), z >= 0, lowest power first.
_ERFC = (
    -1.26551223, 1.00002368, 0.37409196, 0.09678418, -0.18628806, 0.27886807, -1.13520398, 1.48851587,
    -0.82215223, 0.17087277,
)  # fmt: skip


def normal_cdf(z: Floats) -> Floats:
    """The standard normal distribution function, to a relative error of 1.2e-7 everywhere, also far below
    zero.

    Source: Press, Teukolsky, Vetterling, Flannery, Numerical Recipes in C, 2nd ed. 1992, section 6.2, erfcc.
    """
    if z.size <= _FEW:
        few = [0.5 * erfc(one) for one in (z * -_SQRT_HALF).ravel().tolist()]
        return np.array(few).reshape(z.shape)
    far = np.minimum(np.abs(z), 1e3) * _SQRT_HALF
    t = 1.0 / (1.0 + 0.5 * far)
    sum_ = np.full_like(t, _ERFC[-1])
    for coefficient in _ERFC[-2::-1]:
        sum_ *= t
        sum_ += coefficient
    half = 0.5 * t * np.exp(sum_ - far * far)
    return np.where(z > 0, 1.0 - half, half)


def _density(z: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * z * z) / sqrt(2 * pi))


@dataclass(frozen=True)
class Seen:
    """A reading as a range [low, high] (either may be infinite), blurred by a normal error of `sigma`.

    A reading finer than its error is a point: `low == high`, and `step` is the width it stands for.
    """

    low: float
    high: float
    sigma: float
    step: float = 0.0

    @property
    def is_point(self) -> bool:
        return self.low == self.high

    def scaled(self, factor: float) -> Seen:
        """The same reading of a quantity `factor` times as large; a negative factor turns the range round."""
        low, high = sorted((self.low * factor, self.high * factor))
        return Seen(low, high, self.sigma * abs(factor), self.step * abs(factor))


@dataclass(frozen=True, eq=False)
class Mixture:
    """`weights` (k), `means` (k, d), `covs` (k, d, d); `marks` (k, l) are what each explanation takes as
    given."""

    weights: Floats
    means: Floats
    covs: Floats
    marks: Floats

    @classmethod
    def single(cls, mean: Floats, sds: Floats, marks: int = 0) -> Mixture:
        """One component of independent unknowns with these means and standard deviations; every mark 0."""
        return cls(np.ones(1), mean[None, :], np.diag(sds**2)[None, :, :], np.zeros((1, marks)))

    @property
    def count(self) -> int:
        return len(self.weights)

    def unit(self, column: int) -> Floats:
        """The row that picks one unknown."""
        row = np.zeros(self.means.shape[1])
        row[column] = 1.0
        return row

    def along(self, row: Floats) -> tuple[Floats, Floats]:
        """Mean and variance of `row . state` in every component; `row` is (d,) or (k, d)."""
        leaning = self.covs @ row if row.ndim == 1 else np.einsum("kde,ke->kd", self.covs, row)
        spread = leaning @ row if row.ndim == 1 else (leaning * row).sum(axis=1)
        means = self.means @ row if row.ndim == 1 else (self.means * row).sum(axis=1)
        return means, np.maximum(spread, 1e-12)

    def along_each(self, rows: Floats) -> tuple[Floats, Floats]:
        """Means and standard deviations (k, c) of several rows (c, d) at once."""
        means = self.means @ rows.T
        spread = ((self.covs @ rows.T) * rows.T).sum(axis=1)
        return means, np.sqrt(np.maximum(spread, 1e-12))

    def moments(self, row: Floats) -> tuple[float, float]:
        """Mean and standard deviation of `row . state` over all components."""
        return self.moments_along(*self.along(row))

    def moments_along(self, means: Floats, variances: Floats) -> tuple[float, float]:
        """The same of what `along` found."""
        mean = float(self.weights @ means)
        return mean, sqrt(float(self.weights @ (variances + (means - mean) ** 2)))

    def chances(self, row: Floats, edges: Floats) -> Floats:
        """The chance that `row . state` lies below each of several edges."""
        return self.chances_along(*self.along(row), edges)

    def chances_along(self, means: Floats, variances: Floats, edges: Floats) -> Floats:
        """The same of what `along` found."""
        below = normal_cdf((edges[:, None] - means) / np.sqrt(variances))
        return np.asarray(below @ self.weights)

    def chance(self, row: Floats, low: float, high: float) -> float:
        """The chance that `row . state` lies in [low, high]."""
        below, above = self.chances(row, np.array([low, high]))
        return float(above - below)

    def half_width(self, row: Floats) -> float:
        """Half the width of the 90 % interval around the mean, to about half a percent of it."""
        mean, sd = self.moments(row)
        if self.count == 1:
            return NINETY * sd
        halves = sd * _HALVES
        below = self.chances(row, np.concatenate((mean - halves, mean + halves)))
        inside = below[len(halves) :] - below[: len(halves)]
        return float(np.interp(0.9, inside, halves))

    def branched(self, mark: int, values: Floats, shares: Floats) -> Mixture:
        """Every component once for each of several values of a mark, weighed by `shares`."""
        n = len(values)
        marks = np.repeat(self.marks, n, axis=0)
        marks[:, mark] = np.tile(values, self.count)
        weights = np.repeat(self.weights, n) * np.tile(shares, self.count)
        return Mixture(
            weights / weights.sum(), np.repeat(self.means, n, axis=0), np.repeat(self.covs, n, axis=0), marks
        )

    def freed(self, column: int, means: Floats | float, sds: Floats | float) -> Mixture:
        """One unknown believed anew, apart from all others: `means` and `sds` are one number or (k)."""
        new_means, covs = self.means.copy(), self.covs.copy()
        new_means[:, column] = means
        covs[:, column, :] = 0.0
        covs[:, :, column] = 0.0
        covs[:, column, column] = np.square(sds)
        return replace(self, means=new_means, covs=covs)

    def moved(self, means: Floats, jacobian: Floats, noise: Floats) -> Mixture:
        """After a move: new means (k, d), the move's Jacobian (k, d, d) and its own noise (k, d, d) or (d,
        d)."""
        covs = jacobian @ self.covs @ jacobian.transpose(0, 2, 1) + noise
        return replace(self, means=means, covs=covs)

    def shifted(self, by: Floats, noise: Floats) -> Mixture:
        """Everything moved by known amounts (d,) with variances (d,)."""
        return replace(self, means=self.means + by, covs=self.covs + np.diag(noise))

    def kept(self, chosen: NDArray[np.bool_]) -> Mixture:
        """Only some of the components; all of them where none would be left."""
        if chosen.all() or not chosen.any():
            return self
        weights = self.weights[chosen]
        return Mixture(weights / weights.sum(), self.means[chosen], self.covs[chosen], self.marks[chosen])

    def likely(self, least: float, most: int) -> NDArray[np.bool_]:
        """Which components weigh at least `least`, at most the `most` heaviest."""
        chosen = self.weights >= least
        if chosen.sum() > most:
            chosen &= self.weights >= np.sort(self.weights)[-most]
        return chosen

    def observed(self, row: Floats, seen: Seen, slip: float, elsewhere: float) -> tuple[Mixture, float]:
        """After a reading of `row . state`; and the chance that the reading was a slip.

        `slip` is the chance of one beforehand, `elsewhere` how likely a slip is to show just this reading. A
        component that a slip explains better keeps what it believed; where the reading is the likelier
        explanation, it is taken nearly whole.
        """
        rows = np.broadcast_to(row, self.means.shape)
        means, variances = self.along(row)
        fits, centres, narrowed = _taken(means, variances, seen)
        total = variances + seen.sigma**2
        gain = np.einsum("kde,ke->kd", self.covs, rows) / total[:, None]
        step = centres - means
        true = (1 - slip) * fits
        whole = np.maximum(true + slip * elsewhere, LEAST_MASS)
        share = slip * elsewhere / whole
        # Two heaps far apart have no honest middle: the lighter one counts by the square of its odds.
        slipped = share**2 / (share**2 + (1 - share) ** 2)
        kept = 1 - slipped
        # Moments of "as it was" and "as the reading says" together.
        scale = kept * (narrowed - total + slipped * step**2)
        new_means = self.means + (kept * step)[:, None] * gain
        covs = self.covs + scale[:, None, None] * gain[:, :, None] * gain[:, None, :]
        weights = self.weights * whole
        overall = float((self.weights * slip * elsewhere).sum() / weights.sum())
        return replace(self, weights=weights / weights.sum(), means=new_means, covs=covs), overall


def _taken(means: Floats, variances: Floats, seen: Seen) -> tuple[Floats, Floats, Floats]:
    """For each component: how likely the reading is, and the mean and variance of what was truly there plus
    the reading's error, given the reading."""
    total = variances + seen.sigma**2
    sd = np.sqrt(total)
    if seen.is_point:
        fine = seen.step**2 / 12
        density = _density((seen.low - means) / np.sqrt(total + fine)) / np.sqrt(total + fine)
        likely = density * max(seen.step, seen.sigma)
        # A point with a little width of its own: its variance shrinks to that width's share.
        share = total / (total + fine)
        return likely, means + share * (seen.low - means), total * (1 - share)
    low, high = (seen.low - means) / sd, (seen.high - means) / sd
    # Both tails are taken on the side where they are small, so that nothing is lost by subtraction.
    flip = low > 0
    left, right = np.where(flip, -high, low), np.where(flip, -low, high)
    mass = np.maximum(normal_cdf(right) - normal_cdf(left), LEAST_MASS)
    at_left, at_right = _density(left), _density(right)
    pull = (at_left - at_right) / mass
    bent = (_times(left, at_left) - _times(right, at_right)) / mass
    spread = np.clip(1 + bent - pull**2, 1e-4, 1.0)
    lost = mass <= 1e-12
    pull = np.where(lost, np.clip(0.0, left, right), pull)
    return mass, means + sd * np.where(flip, -pull, pull), total * np.where(lost, 1e-2, spread)


def _times(edge: Floats, density: Floats) -> Floats:
    """Edge times density, 0 at an infinite edge."""
    return np.where(np.isfinite(edge), edge, 0.0) * density


def shares(weights: Sequence[float]) -> Floats:
    """Weights that sum to one."""
    found = np.asarray(weights, dtype=float)
    return np.asarray(found / found.sum())
