"""Beliefs and readings against SciPy and NumPy: the same sums, done by others or by brute force."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from scipy import integrate, stats

from webapp.physics.mixture import Mixture, Seen, normal_cdf

RANGES = [(-inf, 0.1), (0.1, 0.35), (0.3, inf), (0.5, 0.6), (-0.4, -0.3), (-inf, inf), (0.29, 0.31)]


@pytest.mark.library("scipy.stats.norm")
def test_the_normal_distribution_function_also_far_below_zero() -> None:
    z = np.concatenate((np.linspace(-37, 8, 4001), [-inf, inf]))
    exact = stats.norm.cdf(z)
    assert normal_cdf(z) == pytest.approx(exact, rel=1.3e-7, abs=1e-300)


def one(mean: float, sd: float) -> Mixture:
    return Mixture.single(np.array([mean]), np.array([sd]))


@pytest.mark.library("scipy.stats.truncnorm")
@pytest.mark.parametrize(("low", "high"), RANGES)
def test_a_range_read_without_error_cuts_the_belief(low: float, high: float) -> None:
    mean, sd = 0.3, 0.1
    cut = stats.truncnorm((low - mean) / sd, (high - mean) / sd, loc=mean, scale=sd)
    after, _ = one(mean, sd).observed(np.ones(1), Seen(low, high, 0.0), 0.0, 0.0)
    assert after.moments(np.ones(1)) == pytest.approx((cut.mean(), cut.std()), abs=2e-5)


@pytest.mark.library("scipy.integrate")
@pytest.mark.parametrize(("low", "high"), RANGES)
@pytest.mark.parametrize("sigma", [0.03, 0.2])
def test_a_range_read_with_error_weighs_every_value(low: float, high: float, sigma: float) -> None:
    mean, sd = 0.3, 0.1

    def weight(x: float) -> float:
        seen = stats.norm.cdf((high - x) / sigma) - stats.norm.cdf((low - x) / sigma)
        return float(stats.norm.pdf(x, mean, sd) * seen)

    whole, first, second = (
        integrate.quad(lambda x, n=n: x**n * weight(x), -0.7, 1.3, points=[mean], limit=200, epsabs=0)[0]
        for n in range(3)
    )
    then, spread = one(mean, sd).observed(np.ones(1), Seen(low, high, sigma), 0.0, 0.0)[0].moments(np.ones(1))
    assert then == pytest.approx(first / whole, abs=1e-5)
    assert spread == pytest.approx(np.sqrt(second / whole - (first / whole) ** 2), abs=1e-5)


@pytest.mark.library("numpy.linalg.lstsq")
def test_numbers_read_in_turn_are_least_squares_of_all_at_once() -> None:
    """Unknowns that lean on one another, each reading a sum of them with an error of its own."""
    rng = np.random.default_rng(8)
    root = rng.normal(0, 1, (4, 4))
    mean, cov = rng.normal(0, 1, 4), root @ root.T + 0.1 * np.eye(4)
    rows, values, sigmas = rng.normal(0, 1, (9, 4)), rng.normal(0, 2, 9), rng.uniform(0.05, 0.8, 9)
    belief = Mixture(np.ones(1), mean[None], cov[None], np.zeros((1, 0)))
    for row, value, sigma in zip(rows, values, sigmas, strict=True):
        belief, _ = belief.observed(row, Seen(value, value, sigma), 0.0, 0.0)
    # The belief beforehand is four readings more, of the unknowns themselves.
    whiten = np.linalg.inv(np.linalg.cholesky(cov))
    design = np.vstack((whiten, rows / sigmas[:, None]))
    wanted = np.concatenate((whiten @ mean, values / sigmas))
    best = np.linalg.lstsq(design, wanted, rcond=None)[0]
    assert belief.means[0] == pytest.approx(best, abs=1e-8)
    assert belief.covs[0] == pytest.approx(np.linalg.inv(design.T @ design), abs=1e-8)


@pytest.mark.library("scipy.stats.multivariate_normal")
def test_explanations_are_weighed_by_how_likely_all_readings_are() -> None:
    """Three explanations and four readings: Bayes' rule over the readings taken as one."""
    rng = np.random.default_rng(3)
    roots = rng.normal(0, 1, (3, 2, 2))
    covs = roots @ roots.transpose(0, 2, 1) + 0.2 * np.eye(2)
    means, weights = rng.normal(0, 1, (3, 2)), np.array([0.5, 0.3, 0.2])
    rows, values, sigmas = rng.normal(0, 1, (4, 2)), rng.normal(0, 1, 4), rng.uniform(0.1, 0.5, 4)
    belief = Mixture(weights, means, covs, np.zeros((3, 0)))
    for row, value, sigma in zip(rows, values, sigmas, strict=True):
        belief, _ = belief.observed(row, Seen(value, value, sigma), 0.0, 0.0)
    likely = [
        stats.multivariate_normal(rows @ m, rows @ c @ rows.T + np.diag(sigmas**2)).pdf(values)
        for m, c in zip(means, covs, strict=True)
    ]
    assert belief.weights == pytest.approx(weights * likely / np.dot(weights, likely), abs=1e-8)


@pytest.mark.library("scipy.stats.norm")
def test_a_half_width_holds_ninety_percent() -> None:
    weights, means, sds = np.array([0.7, 0.3]), np.array([0.0, 1.5]), np.array([0.4, 0.6])
    belief = Mixture(weights, means[:, None], (sds**2)[:, None, None], np.zeros((2, 0)))
    middle, half = weights @ means, belief.half_width(np.ones(1))
    inside = stats.norm.cdf(middle + half, means, sds) - stats.norm.cdf(middle - half, means, sds)
    assert weights @ inside == pytest.approx(0.9, abs=0.005)
