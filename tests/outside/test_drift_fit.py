"""The drift's tools against SciPy on the same data: ranges taken one by one, the whole fit, the first-order
lag.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.signal import lsim
from scipy.stats import multivariate_normal, norm

from webapp.physics.drift import Air, lagged_moisture
from webapp.physics.drift_fit import Before, DriftData, fit_drift
from webapp.physics.mixture import Seen
from webapp.physics.propagation import Readings, propagated

Floats = NDArray[np.float64]
INF = math.inf
SLIP, ELSEWHERE = 0.02, 0.05


def tilted(seen: Seen, centre: float, variance: float, blur: float) -> tuple[float, float, float]:
    """How likely a reading is, and mean and variance of the value given it, by adaptive quadrature."""
    sd = math.sqrt(blur)

    def both(x: float) -> float:
        if seen.low == seen.high:
            likely = norm.pdf(seen.low, x, sd) * max(seen.step, seen.sigma)
        else:
            likely = norm.cdf(seen.high, x, sd) - norm.cdf(seen.low, x, sd)
        return float(((1 - SLIP) * likely + SLIP * ELSEWHERE) * norm.pdf(x, centre, math.sqrt(variance)))

    ends = centre - 9 * math.sqrt(variance), centre + 9 * math.sqrt(variance)
    points = [p for p in (seen.low, seen.high, centre) if math.isfinite(p) and ends[0] < p < ends[1]]
    whole, mean, square = (
        quad(lambda x, n=n: x**n * both(x), *ends, points=points, limit=200)[0] for n in range(3)
    )
    return whole, mean / whole, square / whole - (mean / whole) ** 2


@pytest.mark.library("scipy.integrate.quad, scipy.stats.norm")
@pytest.mark.parametrize(
    "seen",
    [
        Seen(0.3, 0.6, 0.03), Seen(-INF, 0.3, 0.03), Seen(0.45, INF, 0.06), Seen(0.275, 0.325, 0.015),
        Seen(0.4, 0.4, 0.015, 0.02), Seen(0.1, 0.45, 0.06),
    ],
)  # fmt: skip
@pytest.mark.parametrize(("centre", "variance"), [(0.35, 0.01), (0.5, 0.09), (0.05, 0.002), (0.9, 0.02)])
def test_one_reading_beside_what_is_believed(seen: Seen, centre: float, variance: float) -> None:
    readings = Readings.of((seen,), np.array([ELSEWHERE]), SLIP)
    blur = readings.variance + 0.02**2 + readings.fine
    found = readings.moments(np.array([[centre]]), np.array([[variance]]), blur[None, :])
    whole, mean, spread = tilted(seen, centre, variance, float(blur[0]))
    assert found[0][0, 0] == pytest.approx(whole, rel=1e-4, abs=1e-6)
    assert found[1][0, 0] == pytest.approx(mean, abs=1e-3 * math.sqrt(variance))
    assert found[2][0, 0] == pytest.approx(spread, rel=2e-3)


@pytest.mark.library("scipy.stats.multivariate_normal")
def test_numbers_without_slips_are_bayesian_least_squares() -> None:
    """Normal readings of a plane with unequal errors: posterior and likelihood have a closed form."""
    rng = np.random.default_rng(4)
    rows, mean, sds = 30, np.array([0.3, 0.0, 0.1]), np.array([0.3, 0.05, 0.2])
    design = np.column_stack((np.ones(rows), rng.normal(0, 2, rows), rng.uniform(-1, 1, rows)))
    sigma = rng.choice([0.02, 0.05, 0.15], rows)
    values = design @ np.array([0.4, -0.045, 0.02]) + rng.normal(0, sigma)
    seen = tuple(Seen(v, v, s) for v, s in zip(values.tolist(), sigma.tolist(), strict=True))
    readings = Readings.of(seen, np.full(rows, 1e-12), 0.0)
    means, covs, evidence = propagated(readings, design[None], readings.variance[None], mean, sds)
    whole = design @ np.diag(sds**2) @ design.T + np.diag(sigma**2)
    gain = np.diag(sds**2) @ design.T @ np.linalg.inv(whole)
    assert means[0] == pytest.approx(mean + gain @ (values - design @ mean), abs=1e-5)
    assert covs[0] == pytest.approx(np.diag(sds**2) - gain @ design @ np.diag(sds**2), rel=5e-3, abs=1e-8)
    theirs = multivariate_normal.logpdf(values, design @ mean, whole) + np.log(sigma).sum()
    assert evidence[0] == pytest.approx(theirs, abs=0.01)


@pytest.mark.library("scipy.stats.norm")
@pytest.mark.parametrize("cards", [True, False])
def test_the_whole_fit_is_that_of_a_fine_grid(cards: bool) -> None:
    """Air that never changes: only the level counts, and a grid of levels and scatters can weigh it."""
    rng = np.random.default_rng(11)
    at = np.sort(rng.uniform(30, 395, 25))
    air = Air(np.arange(0.0, 400.0), np.full(400, 9.0))
    truth = 0.52 + rng.normal(0, 0.03, 25)
    before = Before((0.3, 0.3), 0.05, 1e-6, 0.02, SLIP)
    seen = tuple(_card(v) if cards else Seen(v, v, 0.03) for v in truth.tolist())
    data = DriftData(
        at, seen, np.full(25, ELSEWHERE), np.zeros((25, 0)), np.zeros(0), np.zeros((0, 2)), before
    )
    found = fit_drift(data, air).predicted(9.0, 200.0)
    mean, low, high = _weighed(seen, before)
    assert found.value == pytest.approx(mean, abs=0.006)
    assert (found.low, found.high) == pytest.approx((low, high), abs=0.015)


def _card(value: float) -> Seen:
    return Seen(0.3, 0.6, 0.03) if value < 0.6 else Seen(0.6, 0.9, 0.03)


def _weighed(seen: tuple[Seen, ...], before: Before) -> tuple[float, float, float]:
    """Mean and 90 % interval of the value on another day, from 2000 levels times five sizes of scatter."""
    levels = np.linspace(-0.9, 1.5, 2001)
    values = np.linspace(-0.9, 1.5, 2001)
    density = np.zeros(len(values))
    for times in (0.5, 0.75, 1.1, 1.6, 2.4):
        sd = times * math.hypot(0.03, before.scatter_mm)
        weight = norm.pdf(levels, *before.level_mm) * math.exp(-0.5 * (math.log(times / 1.1) / 0.4) ** 2)
        for one in seen:
            at_point = norm.pdf(one.low, levels, sd) * one.sigma
            in_range = norm.cdf(one.high, levels, sd) - norm.cdf(one.low, levels, sd)
            weight *= (1 - SLIP) * (at_point if one.low == one.high else in_range) + SLIP * ELSEWHERE
        spread = norm.pdf(values[:, None], levels[None, :], times * before.scatter_mm)
        density += spread @ weight
    below = np.cumsum(density) / density.sum()
    low, high = np.interp([0.05, 0.95], below, values)
    return float(density @ values / density.sum()), float(low), float(high)


@pytest.mark.library("scipy.signal.lsim")
@pytest.mark.parametrize("lag", [5.0, 21.0, 60.0])
def test_the_woods_lag_is_a_first_order_filter(lag: float) -> None:
    days = np.arange(0.0, 400.0)
    air = 9 + 2 * np.cos(days / 58) + np.random.default_rng(1).normal(0, 0.6, len(days))
    ours = lagged_moisture(days, air, lag, days)
    system = ([1.0], [lag, 1.0])
    _, theirs, _ = lsim(system, U=air, T=days, X0=[ours[0] * lag])
    assert ours == pytest.approx(theirs, abs=1e-8)
