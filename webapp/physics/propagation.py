"""Many readings of one straight line of unknowns, each a range, each now and then a slip: expectation
propagation.

Every reading is stood for by the normal factor that gives the same first two moments as the reading itself
beside all the others, in rounds until they agree (T. Minka, A family of algorithms for approximate Bayesian
inference, PhD thesis, MIT, 2001, chapter 3: recalled, not looked up again). Where many readings say the same,
that is too sure of itself; it is meant to say where to look, not how sure to be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from webapp.physics.mixture import Floats, Seen, normal_cdf

_MOST_ROUNDS, _CLOSE, _STEP = 40, 1e-3, 0.7
_LEAST_CHANCE = 1e-12
# Readings are looked up by the thousand: the distribution function in a table, right to 1e-7.
_REACH, _A_STEP = 8.0, 500
_CDF = normal_cdf(np.linspace(-_REACH, _REACH, int(2 * _REACH * _A_STEP) + 1))
_RISE = np.diff(_CDF, append=_CDF[-1])


def _cdf(z: Floats) -> Floats:
    at = np.clip((z + _REACH) * _A_STEP, 0.0, len(_CDF) - 1)
    below = at.astype(np.intp)
    return np.asarray(_CDF[below] + (at - below) * _RISE[below])


def _density(z: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * z * z) / math.sqrt(2 * math.pi))


@dataclass(frozen=True, eq=False)
class Readings:
    """n readings as arrays (n,); ``slipped`` is the chance that each is a slip that shows just this, ``slip``
    the chance of any. ``variance`` is each tool's own, ``fine`` what is lost to its division."""

    low: Floats
    high: Floats
    variance: Floats
    fine: Floats
    is_point: NDArray[np.bool_]
    likely_at: Floats
    slipped: Floats
    slip: float

    @classmethod
    def of(cls, seen: tuple[Seen, ...], elsewhere: Floats, slip: float) -> Readings:
        sigma, step = np.array([s.sigma for s in seen]), np.array([s.step for s in seen])
        return cls(
            low=np.array([s.low for s in seen]),
            high=np.array([s.high for s in seen]),
            variance=sigma**2,
            fine=step**2 / 12,
            is_point=np.array([s.is_point for s in seen], dtype=np.bool_),
            likely_at=np.maximum(step, sigma),
            slipped=slip * elsewhere,
            slip=slip,
        )

    def likely(self, at: Floats, blur: Floats) -> Floats:
        """How likely each reading is where the values are ``at`` (m, n), blurred by variances ``blur`` (m,
        n).
        """
        sd = np.sqrt(blur)
        density = _density((np.where(self.is_point, self.low, 0.0) - at) / sd) / sd * self.likely_at
        mass = _cdf((self.high - at) / sd) - _cdf((self.low - at) / sd)
        return np.asarray((1 - self.slip) * np.where(self.is_point, density, mass) + self.slipped)

    def moments(self, centre: Floats, cavity: Floats, blur: Floats) -> tuple[Floats, Floats, Floats]:
        """How likely each reading is where the values are believed to be normal about ``centre`` with
        variance ``cavity``; and mean and variance of the values, given it. All (k, n).
        """
        total = cavity + blur
        sd = np.sqrt(total)
        off = np.where(self.is_point, self.low, 0.0) - centre
        whole = np.maximum(self.likely(centre, total), _LEAST_CHANCE)
        kept = np.clip(1 - self.slipped / whole, 0.0, 1.0)
        to, narrowed = _cut_off((self.low - centre) / sd, (self.high - centre) / sd)
        step = np.where(self.is_point, off, to * sd)
        left = np.where(self.is_point, 0.0, narrowed * total)
        gain = cavity / total
        mean = centre + kept * gain * step
        variance = cavity + gain**2 * kept * (left - total + (1 - kept) * step**2)
        return whole, mean, np.maximum(variance, 1e-6 * cavity)


def _cut_off(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Mean and variance of the standard normal within [low, high]: Johnson, Kotz, Balakrishnan, Continuous
    Univariate Distributions, vol. 1, 2nd ed. 1994, section 10.1 (recalled, not looked up again)."""
    mass = _cdf(high) - _cdf(low)
    lost = mass < 1e-6
    safe = np.where(lost, 1.0, mass)
    at_low, at_high = _density(low), _density(high)
    mean = (at_low - at_high) / safe
    bent = np.where(np.isfinite(low), low, 0.0) * at_low - np.where(np.isfinite(high), high, 0.0) * at_high
    variance = np.clip(1 + bent / safe - mean**2, 1e-4, 1.0)
    # So far out the value lies at the near end.
    return np.where(lost, np.clip(0.0, low, high), mean), np.where(lost, 1e-4, variance)


def propagated(
    readings: Readings, design: Floats, blur: Floats, mean: Floats, sds: Floats
) -> tuple[Floats, Floats, Floats]:
    """Means (k, d), covariances (k, d, d) and the logarithm of how likely the readings are (k), for k
    explanations at once: ``design`` (k, n, d), ``blur`` (k, n) variances; before them the unknowns are
    independent with ``mean`` and ``sds`` (d,).
    """
    prior = np.diag(sds**-2.0)
    precision, pull = np.zeros(blur.shape), np.zeros(blur.shape)
    for _ in range(_MOST_ROUNDS):
        means, covs = _joined(prior, prior @ mean, design, precision, pull)
        at = (design @ means[:, :, None])[:, :, 0]
        spread = np.maximum(np.einsum("knd,knd->kn", design @ covs, design), 1e-12)
        cavity = 1 / np.maximum(1 / spread - precision, 1e-3 / spread)
        centre = (at / spread - pull) * cavity
        chance, new_at, new_spread = readings.moments(centre, cavity, blur)
        far = np.max(np.abs(new_at - at) / np.sqrt(spread))
        if far < _CLOSE:
            break
        wanted = np.maximum(1 / new_spread - 1 / cavity, 0.0)
        precision += _STEP * (wanted - precision)
        pull += _STEP * (new_at * (1 / cavity + wanted) - centre / cavity - pull)
    whole = precision + 1 / cavity
    pulled = (pull + centre / cavity) ** 2 / whole - centre**2 / cavity
    given = 0.5 * (pulled - np.log(precision * cavity + 1))
    joint = np.einsum("kd,kde,ke->k", means, np.linalg.inv(covs), means) - mean @ prior @ mean
    sizes = np.linalg.slogdet(covs)[1] + np.linalg.slogdet(prior)[1]
    return means, covs, (np.log(chance) - given).sum(axis=1) + 0.5 * (sizes + joint)


def _joined(
    prior: Floats, prior_pull: Floats, design: Floats, precision: Floats, pull: Floats
) -> tuple[Floats, Floats]:
    """The unknowns given every reading's factor."""
    whole = prior + (design * precision[:, :, None]).transpose(0, 2, 1) @ design
    size = np.sqrt(np.einsum("kdd->kd", whole))
    # To a unit diagonal first: years, percents and turns are of very different size.
    scale = size[:, :, None] * size[:, None, :]
    covs = np.linalg.inv(whole / scale) / scale
    means = (covs @ (prior_pull + np.einsum("knd,kn->kd", design, pull))[:, :, None])[:, :, 0]
    return means, covs
