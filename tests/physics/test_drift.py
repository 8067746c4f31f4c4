from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.physics.histories import History, planted, soaked, weather
from webapp.physics.drift import HELD_DAYS, LONGEST_GAP_DAYS, Air, air_moisture, lagged_moisture
from webapp.physics.drift_fit import DriftData, StepPair, fit_drift, thinned
from webapp.physics.robust import TooLittle, huber_fit
from webapp.physics.student import Student
from webapp.physics.wood import moisture_content

YEAR = np.arange(0.0, 366.0)
SEASON = 9 + 2 * np.cos(2 * np.pi * YEAR / 365)


def exact(slope: float = -0.045, lag: float = 25.0, steps: tuple[float, ...] = ()) -> History:
    """A history without any error: a reading every 15 days, steps at even times, each read around."""
    air = Air(YEAR, SEASON)
    edges = [366.0 * (i + 1) / (len(steps) + 1) for i in range(len(steps))]
    at = np.arange(2.0, 364.0, 15.0)
    made = np.searchsorted(edges, at)
    sums = np.concatenate(([0.0], np.cumsum(steps)))

    def value(day: float, count: int) -> float:
        wood = lagged_moisture(YEAR, SEASON, lag, np.array([day]))[0]
        return float(0.3 + slope * wood + sums[count])

    values = np.array([value(day, count) for day, count in zip(at, made, strict=True)])
    pairs = tuple(
        StepPair(
            i + 1, edge - 0.1, edge + 0.1, value(edge - 0.1, i), value(edge + 0.1, i + 1), 0.02, 0.02, 0.02
        )
        for i, edge in enumerate(edges)
    )
    data = DriftData(at, values, np.full(len(at), 0.03), made.astype(np.int64), len(steps), pairs)
    return History(data, air, slope, lag, 0.0, 0.0)


# the wood behind the air


def test_wood_in_still_air_stays_as_it_is() -> None:
    days = np.array([0.0, 3.0, 4.5, 30.0])
    assert lagged_moisture(days, np.full(4, 8.0), 20.0, np.array([0.0, 2.0, 30.0])) == pytest.approx(8.0)


def test_after_one_lag_the_wood_has_gone_63_percent_of_the_way() -> None:
    days = np.concatenate((np.arange(-100.0, 0.0), [-0.001, 0.001], np.arange(1.0, 60.0)))
    air = np.where(days > 0, 10.0, 6.0)
    found = lagged_moisture(days, air, 20.0, np.array([20.0]))[0]
    assert found == pytest.approx(6 + 4 * (1 - math.exp(-1)), abs=0.001)


@pytest.mark.parametrize("lag", [4.0, 15.0, 50.0])
def test_the_filter_is_that_of_small_steps_through_time(lag: float) -> None:
    settled = weather(np.random.default_rng(3), 500)
    found = lagged_moisture(np.arange(500.0), settled, lag, np.arange(500.0))
    assert np.max(np.abs(found - soaked(settled, lag, parts=50))[300:]) < 0.01


def test_days_may_be_irregular() -> None:
    """On a straight piece of air it does not matter how often it was written down."""
    dense = np.arange(0.0, 101.0)
    sparse = np.array([0.0, 1.0, 7.5, 40.0, 41.0, 100.0])
    at = np.array([0.5, 8.0, 33.3, 99.0, 100.0])
    many = lagged_moisture(dense, 6 + 0.03 * dense, 12.0, at)
    few = lagged_moisture(sparse, 6 + 0.03 * sparse, 12.0, at)
    assert few == pytest.approx(many, abs=0.15)  # only the start differs: the mean of the first days
    assert few[3:] == pytest.approx(many[3:], abs=1e-3)


def test_where_the_air_is_not_known_neither_is_the_wood() -> None:
    days = np.concatenate((np.arange(0.0, 30.0), np.arange(29.0 + LONGEST_GAP_DAYS + 1, 200.0)))
    air = Air(days, np.full(len(days), 9.0))
    at = np.array([-2.0, 0.0, 29.0, 29.0 + HELD_DAYS, 40.0, 150.0, 199.0 + HELD_DAYS + 1])
    assert air.known(at).tolist() == [False, True, True, True, False, True, False]
    assert len(air.stretches) == 2


@pytest.mark.parametrize(
    ("days", "lag", "says"), [([0.0, 0.0], 10.0, "rise"), ([], 10.0, "rise"), ([0.0, 1.0], 0.0, "lag")]
)
def test_air_that_cannot_be_is_refused(days: list[float], lag: float, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        lagged_moisture(np.array(days), np.full(len(days), 8.0), lag, np.array([1.0]))


def test_the_air_in_numbers_is_what_wood_would_settle_at() -> None:
    assert air_moisture([21.0, 10.0], [35.0, 80.0]).tolist() == [
        moisture_content(21.0, 35.0),
        moisture_content(10.0, 80.0),
    ]


# the fit


def test_planted_drift_is_found_again() -> None:
    """Over 200 invented histories the 90 % intervals hold the truth about as often as they say."""
    rng = np.random.default_rng(7)
    slopes = forecasts = lags = 0
    for _ in range(200):
        history = planted(rng)
        fit = fit_drift(history.data, history.air)
        slopes += fit.slope.low <= history.slope <= fit.slope.high
        lags += fit.lag.low <= history.lag_days <= fit.lag.high
        ahead = fit.predicted_at(history.next_day, float(history.data.errors[0]))
        assert ahead is not None
        forecasts += ahead.low <= history.next_mm <= ahead.high
    assert 170 <= slopes <= 190, slopes
    assert 170 <= forecasts <= 194, forecasts
    assert lags >= 160, lags


def test_without_errors_everything_is_found_exactly() -> None:
    history = exact(steps=(-0.12, 0.05))
    fit = fit_drift(history.data, history.air)
    assert fit.slope.value == pytest.approx(-0.045, rel=0.02)
    assert [step.value for step in fit.steps] == pytest.approx([-0.12, 0.05], abs=1e-3)
    assert fit.lag.low <= 25 <= fit.lag.high and fit.lag_told


def test_a_step_is_taken_out_exactly_however_large() -> None:
    """On a neck that the air leaves alone, to the last digit; else but for the lag's grid."""
    for size in (-0.4, 0.03):
        still, moving = exact(slope=0.0, steps=(size,)), exact(steps=(size,))
        fit = fit_drift(still.data, still.air)
        assert fit.steps[0].value == pytest.approx(size, abs=1e-7)
        assert fit.slope.value == pytest.approx(0.0, abs=1e-7)
        fit, plain = fit_drift(moving.data, moving.air), fit_drift(exact().data, exact().air)
        assert fit.steps[0].value == pytest.approx(size, abs=1e-3)
        assert fit.slope.value == pytest.approx(plain.slope.value, rel=0.01)


@pytest.mark.parametrize("by", [-0.7, 0.25, 10.0])
def test_readings_all_off_by_the_same_change_no_slope(by: float) -> None:
    history = planted(np.random.default_rng(2))
    data = history.data
    pairs = tuple(replace(p, before_mm=p.before_mm + by, after_mm=p.after_mm + by) for p in data.pairs)
    shifted = replace(data, values=data.values + by, pairs=pairs)
    one, other = fit_drift(data, history.air), fit_drift(shifted, history.air)
    assert other.slope.value == pytest.approx(one.slope.value, abs=1e-7)
    assert other.slope.half == pytest.approx(one.slope.half, rel=1e-4)
    ahead, moved = (fit.predicted(9.0, 700.0).value for fit in (one, other))
    assert moved == pytest.approx(ahead + by, abs=1e-6)


def test_mirrored_moisture_turns_the_slope_round() -> None:
    history = planted(np.random.default_rng(8))
    air = Air(history.air.days, 18 - history.air.moisture)
    one, other = fit_drift(history.data, history.air), fit_drift(history.data, air)
    assert other.slope.value == pytest.approx(-one.slope.value, abs=1e-7)
    assert (other.slope.low, other.slope.high) == pytest.approx((-one.slope.high, -one.slope.low), abs=1e-6)


def test_a_slip_of_the_pen_hardly_moves_the_slope() -> None:
    history = planted(np.random.default_rng(4), outliers=0.0)
    clean = fit_drift(history.data, history.air)
    values = history.data.values.copy()
    values[10] += 3.0  # 0.3 typed as 3.3
    spoilt = fit_drift(replace(history.data, values=values), history.air)
    assert abs(spoilt.slope.value - clean.slope.value) < clean.slope.half


def test_fewer_readings_make_a_wider_interval() -> None:
    history = planted(np.random.default_rng(5))
    data = history.data
    half = replace(
        data,
        days=data.days[::3],
        values=data.values[::3],
        errors=data.errors[::3],
        steps_before=data.steps_before[::3],
    )
    assert fit_drift(half, history.air).slope.half > fit_drift(data, history.air).slope.half


def test_the_forecast_follows_the_moisture_and_grows_unsure_beyond_it() -> None:
    history = planted(np.random.default_rng(6))
    fit = fit_drift(history.data, history.air)
    near, far = fit.predicted(9.0, 700.0), fit.predicted(16.0, 700.0)
    assert far.value - near.value == pytest.approx(7 * fit.slope.value, rel=1e-6)
    assert far.half > near.half
    assert fit.predicted(9.0, 700.0, 0.05).half > near.half
    assert fit.predicted_at(5000.0) is None
    with pytest.raises(ValueError, match="not known"):
        fit.change(0.0, 5000.0)


def test_the_change_between_two_days_is_the_difference_of_what_is_expected() -> None:
    history = exact()
    fit = fit_drift(history.data, history.air)
    first, last = fit.predicted_at(20.0), fit.predicted_at(200.0)
    assert first is not None and last is not None
    assert fit.change(20.0, 200.0).value == pytest.approx(last.value - first.value, abs=1e-9)


def test_what_cannot_be_told_is_refused() -> None:
    history = planted(np.random.default_rng(1))
    data = history.data
    few = DriftData(data.days[:2], data.values[:2], data.errors[:2], data.steps_before[:2] * 0)
    with pytest.raises(TooLittle):
        fit_drift(few, history.air)
    still = Air(history.air.days, np.full(len(history.air.days), 9.0))
    with pytest.raises(TooLittle, match="moisture"):
        fit_drift(data, still)
    with pytest.raises(ValueError, match="air"):
        fit_drift(replace(data, days=data.days + 5000), history.air)
    with pytest.raises(ValueError, match="error"):
        replace(data, errors=data.errors * 0)


def test_thousands_of_readings_are_thinned_without_losing_the_drift() -> None:
    rng = np.random.default_rng(9)
    days = np.arange(3650.0)
    settled = 9 + 2 * np.cos(days / 58) + rng.normal(0, 0.5, len(days))
    at = np.sort(rng.uniform(1, 3649, 5000))
    made = np.searchsorted([900.0, 2000.0], at).astype(np.int64)
    values = 0.3 - 0.04 * lagged_moisture(days, settled, 20.0, at) - 0.2 * made + rng.normal(0, 0.03, 5000)
    whole = DriftData(at, values, np.full(5000, 0.03), made, 2)
    data = thinned(whole)
    assert len(data.days) <= 403
    assert set(data.steps_before.tolist()) == {0, 1, 2}
    fit = fit_drift(data, Air(days, settled))
    assert fit.slope.low < -0.04 < fit.slope.high and fit.slope.half < 0.002
    assert 0.7 < fit.scatter < 1.3
    assert thinned(whole, 5000) is whole
    with pytest.raises(ValueError, match="at least one"):
        thinned(data, 0)


# its tools


def test_huber_on_rows_that_say_nothing_is_refused() -> None:
    design = np.array([[1.0, 2.0], [1.0, 2.0], [1.0, 2.0], [1.0, 2.0]])
    with pytest.raises(TooLittle):
        huber_fit(design, np.arange(4.0), np.ones(4), np.zeros(4, dtype=np.bool_))


@pytest.mark.parametrize("df", [0.0, -1.0])
def test_a_distribution_without_freedom_is_refused(df: float) -> None:
    with pytest.raises(ValueError, match="freedom"):
        Student.of(df)


def test_a_quantile_is_of_a_share() -> None:
    with pytest.raises(ValueError, match="share"):
        Student.of(5).quantile(1.0)
