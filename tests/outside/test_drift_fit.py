"""The drift's tools against SciPy on the same data: the robust fit, Student's t, the first-order lag."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq, least_squares
from scipy.signal import lsim
from scipy.stats import t as student_t

from webapp.physics.drift import Air, lagged_moisture
from webapp.physics.drift_fit import DriftData, fit_drift
from webapp.physics.robust import HUBER_K, huber_fit
from webapp.physics.student import Student, mixture_quantile

Floats = NDArray[np.float64]


def spoilt_line(seed: int, rows: int = 60) -> tuple[Floats, Floats, Floats]:
    """Design, values and errors of a plane with unequal errors and a tenth of the readings wrong."""
    rng = np.random.default_rng(seed)
    design = np.column_stack((np.ones(rows), rng.uniform(-2, 2, rows), rng.uniform(-1, 1, rows)))
    errors = rng.choice([0.02, 0.05, 0.15], rows)
    values = design @ np.array([0.3, -0.045, 0.02]) + rng.normal(0, errors)
    wrong = rng.random(rows) < 0.1
    values[wrong] += rng.normal(0, 0.4, wrong.sum())
    return design, values, errors


@pytest.mark.library("scipy.optimize.least_squares, loss huber")
@pytest.mark.parametrize("seed", range(6))
def test_the_robust_fit_is_the_minimum_of_hubers_loss(seed: int) -> None:
    design, values, errors = spoilt_line(seed)
    ours = huber_fit(design, values, errors, np.zeros(len(values), dtype=np.bool_))

    def residuals(coef: Floats) -> Floats:
        return (values - design @ coef) / (errors * ours.scale)

    theirs = least_squares(residuals, np.zeros(3), loss="huber", f_scale=HUBER_K, xtol=1e-14, ftol=1e-14)
    assert ours.coef == pytest.approx(theirs.x, abs=1e-6)


@pytest.mark.library("scipy.optimize.least_squares")
def test_on_clean_readings_the_interval_is_that_of_least_squares() -> None:
    """Without errors larger than the clip, the covariance is the textbook's, a little wider."""
    rng = np.random.default_rng(3)
    design = np.column_stack((np.ones(400), rng.uniform(-2, 2, 400)))
    values = design @ np.array([0.3, -0.045]) + rng.normal(0, 0.03, 400)
    ours = huber_fit(design, values, np.full(400, 0.03), np.zeros(400, dtype=np.bool_))
    theirs = least_squares(lambda coef: values - design @ coef, np.zeros(2))
    variance = 2 * theirs.cost / (400 - 2)
    plain = variance * np.linalg.inv(theirs.jac.T @ theirs.jac)
    assert np.sqrt(np.diag(ours.covariance) / np.diag(plain)) == pytest.approx(1.025, abs=0.06)


@pytest.mark.library("scipy.optimize.least_squares, loss huber")
def test_the_whole_drift_at_a_known_lag_is_scipys() -> None:
    """Wood that follows at once in steady air: every lag says the same, so the fit is one robust plane."""
    rng = np.random.default_rng(12)
    days = np.arange(0.0, 900.0)
    moisture = 8 + days / 300  # a straight ramp: the lag only moves it up and down
    at = np.sort(rng.uniform(300, 890, 50))
    truth = 0.3 - 0.05 * (8 + at / 300)
    values = truth + rng.normal(0, 0.03, 50)
    values[::9] += 0.3
    data = DriftData(at, values, np.full(50, 0.03), np.zeros(50, dtype=np.int64))
    fit = fit_drift(data, Air(days, moisture))
    per_day = fit.slope.value / 300 + fit.per_year.value / 365.25

    def residuals(coef: Floats) -> Floats:
        return (values - coef[0] - coef[1] * (at - 600) / 300) / (0.03 * fit.scatter)

    theirs = least_squares(residuals, np.zeros(2), loss="huber", f_scale=HUBER_K, xtol=1e-14, ftol=1e-14)
    assert per_day * 300 == pytest.approx(theirs.x[1], abs=5e-4)


@pytest.mark.library("scipy.stats.t")
@pytest.mark.parametrize("df", [1.0, 2.5, 4.0, 11.3, 60.0, 5000.0])
def test_quantiles_of_students_t(df: float) -> None:
    ours = Student.of(df)
    for share in (0.02, 0.05, 0.25, 0.5, 0.9, 0.95, 0.99):
        assert ours.quantile(share) == pytest.approx(student_t.ppf(share, df), rel=2e-3, abs=1e-3)
    places = np.array([-3.0, -0.7, 0.0, 1.2, 4.0])
    assert ours.cdf(places) == pytest.approx(student_t.cdf(places, df), abs=2e-4)


@pytest.mark.library("scipy.stats.t, scipy.optimize.brentq")
def test_quantiles_of_a_mixture() -> None:
    means, scales = np.array([-1.0, 0.0, 2.5]), np.array([0.5, 1.0, 0.2])
    weights = np.array([0.2, 0.5, 0.3])
    for share in (0.05, 0.4, 0.95):
        theirs = brentq(
            lambda x, share=share: weights @ student_t.cdf((x - means) / scales, 9) - share, -20, 20
        )
        assert mixture_quantile(Student.of(9), means, scales, weights, share) == pytest.approx(
            theirs, abs=1e-3
        )


@pytest.mark.library("scipy.signal.lsim")
@pytest.mark.parametrize("lag", [5.0, 21.0, 60.0])
def test_the_woods_lag_is_a_first_order_filter(lag: float) -> None:
    days = np.arange(0.0, 400.0)
    air = 9 + 2 * np.cos(days / 58) + np.random.default_rng(1).normal(0, 0.6, len(days))
    ours = lagged_moisture(days, air, lag, days)
    system = ([1.0], [lag, 1.0])
    _, theirs, _ = lsim(system, U=air, T=days, X0=[ours[0] * lag])
    assert ours == pytest.approx(theirs, abs=1e-8)
