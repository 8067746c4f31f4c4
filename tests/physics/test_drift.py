from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.physics.histories import DAY_MM, ORDINARY, History, number, planted, read_as, soaked, weather
from webapp.physics.drift import HELD_DAYS, LONGEST_GAP_DAYS, Air, air_moisture, lagged_moisture
from webapp.physics.drift_fit import DriftData, fit_drift, thinned
from webapp.physics.mixture import Seen
from webapp.physics.wood import moisture_content

YEAR = np.arange(0.0, 366.0)
SEASON = 9 + 2 * np.cos(2 * np.pi * YEAR / 365)


def exact(
    slope: float = -0.045,
    lag: float = 25.0,
    steps: tuple[float, ...] = (),
    read: Callable[[float], Seen] = number,
    base: float = 0.7,
) -> History:
    """A history without any error: a reading every 15 days, steps at even times, each read around."""
    air = Air(YEAR, SEASON)
    edges = [366.0 * (i + 1) / (len(steps) + 1) for i in range(len(steps))]
    at = np.sort(np.concatenate((np.arange(2.0, 364.0, 15.0), *([e - 0.1, e + 0.1] for e in edges))))
    made = np.searchsorted(edges, at)
    sums = np.concatenate(([0.0], np.cumsum(steps)))

    def value(day: float, count: int) -> float:
        wood = lagged_moisture(YEAR, SEASON, lag, np.array([day]))[0]
        return float(base + slope * wood + sums[count])

    values = [value(day, count) for day, count in zip(at.tolist(), made.tolist(), strict=True)]
    data = read_as(at, [read(v) for v in values], made, len(steps))
    return History(data, air, slope, lag, 360.0, value(360.0, len(steps)))


def moved_by(data: DriftData, mm: float) -> DriftData:
    """The same readings, all off by so much."""
    seen = tuple(replace(one, low=one.low + mm, high=one.high + mm) for one in data.seen)
    return replace(data, seen=seen)


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
    """Over 100 invented histories the 90 % intervals hold the truth about as often as they say."""
    rng = np.random.default_rng(7)
    slopes = forecasts = lags = 0
    for _ in range(100):
        history = planted(rng)
        fit = fit_drift(history.data, history.air)
        slopes += fit.slope.low <= history.slope <= fit.slope.high
        lags += fit.lag.low <= history.lag_days <= fit.lag.high
        ahead = fit.predicted_at(history.next_day)
        assert ahead is not None
        forecasts += ahead.low <= history.next_mm <= ahead.high
    assert 84 <= slopes <= 96, slopes
    assert 84 <= forecasts <= 96, forecasts
    assert lags >= 80, lags


def test_without_errors_everything_is_found() -> None:
    history = exact(steps=(-0.12, 0.05))
    fit = fit_drift(history.data, history.air)
    assert fit.slope.value == pytest.approx(-0.045, rel=0.03)
    assert fit.sizes == pytest.approx([-0.12, 0.05], abs=0.005)
    assert fit.moved(np.array([1.0, 1.0])).value == pytest.approx(-0.07, abs=0.008)
    assert fit.lag.low <= 25 <= fit.lag.high and fit.lag_told
    assert fit.scatter_mm < DAY_MM


@pytest.mark.parametrize("size", [-0.4, 0.03, 1.0])
def test_a_step_is_taken_out_however_large(size: float) -> None:
    moving, plain = exact(steps=(size,)), exact()
    fit = fit_drift(moving.data, moving.air)
    assert fit.sizes[0] == pytest.approx(size, abs=0.006)
    assert fit.slope.value == pytest.approx(fit_drift(plain.data, plain.air).slope.value, rel=0.05)


def test_a_size_that_is_known_beforehand_takes_a_step_out_that_was_never_read_around() -> None:
    """Half a year nobody looks, and the rod is turned meanwhile: by how much, only its answer tells."""
    history = exact(steps=(-0.15,))
    data = history.data.where((history.data.days < 60) | (history.data.days > 300))
    known = replace(
        data, moved=data.moved * 3, moved_now=data.moved_now * 3, sizes=np.array([[-0.05, 0.005]])
    )
    sure, unsure = fit_drift(known, history.air), fit_drift(data, history.air)
    assert sure.slope.half < unsure.slope.half
    assert sure.slope.low < -0.045 < sure.slope.high


@pytest.mark.parametrize("by", [-0.2, 0.15])
def test_readings_all_off_by_the_same_change_no_slope(by: float) -> None:
    history = planted(np.random.default_rng(2))
    one, other = (fit_drift(data, history.air) for data in (history.data, moved_by(history.data, by)))
    assert other.slope.value == pytest.approx(one.slope.value, abs=one.slope.half / 10)
    assert other.slope.half == pytest.approx(one.slope.half, rel=0.1)
    ahead, moved = (fit.predicted(9.0, 700.0).value for fit in (one, other))
    assert moved == pytest.approx(ahead + by, abs=0.01)


def test_mirrored_moisture_turns_the_slope_round() -> None:
    history = planted(np.random.default_rng(8))
    air = Air(history.air.days, 18 - history.air.moisture)
    one, other = fit_drift(history.data, history.air), fit_drift(history.data, air)
    assert other.slope.value == pytest.approx(-one.slope.value, abs=one.slope.half / 8)
    assert (other.slope.low, other.slope.high) == pytest.approx(
        (-one.slope.high, -one.slope.low), abs=one.slope.half / 4
    )


def test_the_same_readings_always_say_the_same() -> None:
    history = planted(np.random.default_rng(3))
    one, other = (fit_drift(history.data, history.air) for _ in range(2))
    assert one.slope == other.slope and one.predicted(9.0, 700.0) == other.predicted(9.0, 700.0)


def test_a_slip_of_the_pen_counts_as_if_it_was_not_there() -> None:
    history = planted(np.random.default_rng(4), outliers=0.0)
    without = fit_drift(history.data.where(np.arange(len(history.data.days)) != 10), history.air)
    seen = list(history.data.seen)
    seen[10] = number(seen[10].low + 3.0)  # 0.3 typed as 3.3
    spoilt = fit_drift(replace(history.data, seen=tuple(seen)), history.air)
    assert abs(spoilt.slope.value - without.slope.value) < without.slope.half / 6


def test_fewer_readings_make_a_wider_interval() -> None:
    history = planted(np.random.default_rng(5))
    third = history.data.where(np.arange(0, len(history.data.days), 3))
    assert fit_drift(third, history.air).slope.half > fit_drift(history.data, history.air).slope.half


def test_the_forecast_follows_the_moisture_and_grows_unsure_beyond_it() -> None:
    history = planted(np.random.default_rng(6))
    fit = fit_drift(history.data, history.air)
    near, far = fit.predicted(9.0, 700.0), fit.predicted(16.0, 700.0)
    assert far.value - near.value == pytest.approx(7 * fit.slope.value, rel=1e-6)
    assert far.half > near.half > 1.6 * fit.scatter_mm
    assert fit.predicted_at(5000.0) is None
    with pytest.raises(ValueError, match="not known"):
        fit.change(0.0, 5000.0)


def test_the_change_between_two_days_is_the_difference_of_what_is_expected() -> None:
    history = exact()
    fit = fit_drift(history.data, history.air)
    first, last = fit.predicted_at(20.0), fit.predicted_at(200.0)
    assert first is not None and last is not None
    assert fit.change(20.0, 200.0).value == pytest.approx(last.value - first.value, abs=1e-9)


def test_what_cannot_be_is_refused() -> None:
    history = planted(np.random.default_rng(1))
    data = history.data
    with pytest.raises(ValueError, match="air"):
        fit_drift(replace(data, days=data.days + 5000), history.air)
    with pytest.raises(ValueError, match="air"):
        fit_drift(data.where(np.zeros(len(data.days), dtype=np.bool_)), history.air)
    with pytest.raises(ValueError, match="range"):
        replace(data, seen=data.seen[:-1])
    with pytest.raises(ValueError, match="above 0"):
        replace(data, sizes=data.sizes * 0)


def test_thousands_of_readings_are_thinned_without_losing_the_drift() -> None:
    rng = np.random.default_rng(9)
    days = np.arange(3650.0)
    settled = 9 + 2 * np.cos(days / 58) + rng.normal(0, 0.5, len(days))
    at = np.sort(rng.uniform(1, 3649, 5000))
    made = np.searchsorted([900.0, 2000.0], at)
    values = 0.3 - 0.04 * lagged_moisture(days, settled, 20.0, at) - 0.2 * made + rng.normal(0, 0.025, 5000)
    whole = read_as(at, [number(v) for v in values.tolist()], made, 2)
    data = thinned(whole)
    assert len(data.days) <= 300
    assert {tuple(row) for row in data.moved.tolist()} == {(0.0, 0.0), (1.0, 0.0), (1.0, 1.0)}
    fit = fit_drift(data, Air(days, settled))
    assert fit.slope.low < -0.04 < fit.slope.high and fit.slope.half < 0.003
    assert thinned(whole, 5000) is whole
    with pytest.raises(ValueError, match="at least one"):
        thinned(data, 0)


# ranges


def card(value: float) -> Seen:
    """How many cards of 0.30 mm fit: none, one, two or more."""
    fit = min(max(int(value // 0.3), 0), 2)
    return Seen(-math.inf if fit == 0 else 0.3 * fit, math.inf if fit == 2 else 0.3 * (fit + 1), 0.03)


def test_a_range_says_less_than_a_number_but_what_it_says_holds() -> None:
    numbers, cards = exact(base=0.7), exact(base=0.7, read=card)
    assert {one.is_point for one in cards.data.seen} == {False} and len(set(cards.data.seen)) == 2
    sharp, wide = (fit_drift(one.data, one.air).predicted_at(360.0) for one in (numbers, cards))
    assert sharp is not None and wide is not None
    assert wide.half > 2 * sharp.half
    assert wide.low < cards.next_mm < wide.high


def test_a_neck_that_never_leaves_a_range_lies_anywhere_in_it() -> None:
    """However often one card fits and two do not: more of the same says no more than the range."""
    data = read_as(np.arange(2.0, 362.0, 9.0), [card(0.45)] * 40, [0] * 40, 0)
    for few in (data, data.where(np.arange(8))):
        now = fit_drift(few, Air(YEAR, SEASON)).predicted_at(360.0)
        assert now is not None
        assert 0.40 < now.value < 0.50
        assert 0.07 < now.half < 0.17, now.half


def test_an_open_range_holds_on_one_side_only() -> None:
    seen = [Seen(0.45, math.inf, 0.06)] * 20
    data = read_as(np.arange(2.0, 362.0, 18.0), seen, [0] * 20, 0)
    now = fit_drift(data, Air(YEAR, SEASON)).predicted_at(360.0)
    assert now is not None
    assert now.low > 0.4 and now.high > 0.75


def test_one_wrong_card_among_many_is_a_slip() -> None:
    history = exact(base=0.85, read=card)
    right = fit_drift(history.data, history.air).predicted_at(360.0)
    seen = list(history.data.seen)
    seen[8] = Seen(-math.inf, 0.3, 0.03)
    wrong = fit_drift(replace(history.data, seen=tuple(seen)), history.air).predicted_at(360.0)
    assert right is not None and wrong is not None
    assert wrong.value == pytest.approx(right.value, abs=right.half / 2)


def test_with_one_reading_alone_the_rest_is_what_was_believed_before() -> None:
    data = read_as([100.0], [number(0.5)], [0], 0)
    fit = fit_drift(data, Air(YEAR, SEASON))
    assert fit.slope.half == pytest.approx(1.645 * ORDINARY.slope_sd, rel=0.1)
    assert not fit.lag_told
    here = fit.predicted_at(100.0)
    assert here is not None and here.low < 0.5 < here.high and here.half < 0.1
