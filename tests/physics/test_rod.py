"""Learning how far the rod moves this neck."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics.rod import COMMON_PRIOR, RodResponse, eighths_for

calm = settings(deadline=None)
errors = st.floats(0.01, 0.3)
turned = st.sampled_from([-2, -1, 1, 2])
pairs_read = st.tuples(st.floats(-0.5, 1.0), st.floats(-0.5, 1.0), turned, errors, errors)


def test_an_exact_pair_says_it_all() -> None:
    learnt = COMMON_PRIOR.updated(0.60, 0.50, 2, 1e-6, 1e-6)
    assert learnt.mean_mm_per_eighth == pytest.approx(0.05, abs=1e-6)
    assert learnt.spread_mm < 1e-6
    assert learnt.pairs == 1


def test_a_pair_as_sure_as_the_prior_meets_it_halfway() -> None:
    each = 0.04 / math.sqrt(2)
    learnt = COMMON_PRIOR.updated(0.60, 0.50, 1, each, each)
    assert learnt.mean_mm_per_eighth == pytest.approx((0.06 + 0.10) / 2)
    assert learnt.spread_mm == pytest.approx(0.04 / math.sqrt(2))


@calm
@given(first=pairs_read, second=pairs_read)
def test_pairs_in_either_order_teach_the_same(
    first: tuple[float, float, int, float, float], second: tuple[float, float, int, float, float]
) -> None:
    one = COMMON_PRIOR.updated(*first).updated(*second)
    other = COMMON_PRIOR.updated(*second).updated(*first)
    assert one.mean_mm_per_eighth == pytest.approx(other.mean_mm_per_eighth, abs=1e-12)
    assert one.spread_mm == pytest.approx(other.spread_mm, rel=1e-9)


@calm
@given(pair=pairs_read)
def test_every_pair_narrows_the_belief_and_lands_between(
    pair: tuple[float, float, int, float, float],
) -> None:
    learnt = COMMON_PRIOR.updated(*pair)
    seen = (pair[0] - pair[1]) / pair[2]
    assert learnt.spread_mm < COMMON_PRIOR.spread_mm
    low, high = sorted((seen, COMMON_PRIOR.mean_mm_per_eighth))
    assert low - 1e-12 <= learnt.mean_mm_per_eighth <= high + 1e-12


def test_more_turns_in_one_pair_tell_more() -> None:
    one = COMMON_PRIOR.updated(0.5, 0.44, 1, 0.05, 0.05)
    two = COMMON_PRIOR.updated(0.5, 0.38, 2, 0.05, 0.05)
    assert two.spread_mm < one.spread_mm


@calm
@given(change=st.floats(-2, 2), most=st.integers(1, 4), mean=st.floats(0.01, 0.2))
def test_advice_points_the_right_way_within_the_limit(change: float, most: int, mean: float) -> None:
    response = RodResponse(mean, 0.02)
    advised = eighths_for(change, response, most)
    assert abs(advised) <= most
    assert advised * change <= 0
    if abs(advised) < most:
        after, _ = response.relief_after(0.0, advised)
        assert abs(after - change) <= mean / 2 + 1e-12


def test_the_forecast_is_the_change_asked_for_and_grows_unsure_with_the_turn() -> None:
    assert eighths_for(-0.12, COMMON_PRIOR) == 2
    assert eighths_for(0.06, COMMON_PRIOR) == -1
    assert COMMON_PRIOR.relief_after(0.42, 2) == pytest.approx((0.30, 0.08))


def test_a_rod_that_seems_to_do_nothing_gets_one_eighth_at_a_time() -> None:
    dead = RodResponse(0.001, 0.02, 3)
    assert [eighths_for(change, dead) for change in (-0.5, 0.5, 0.0)] == [1, -1, 0]
    assert eighths_for(0.02, COMMON_PRIOR) == 0


@pytest.mark.parametrize("pair", [(0.5, 0.4, 0, 0.02, 0.02), (0.5, 0.4, 1, 0.0, 0.0)])
def test_pairs_that_say_nothing_are_refused(pair: tuple[float, float, int, float, float]) -> None:
    with pytest.raises(ValueError, match="turn|error"):
        COMMON_PRIOR.updated(*pair)


@pytest.mark.parametrize("belief", [(0.06, 0.0, 0), (float("nan"), 0.04, 0), (0.06, 0.04, -1)])
def test_impossible_beliefs_are_refused(belief: tuple[float, float, int]) -> None:
    with pytest.raises(ValueError, match="must be|cannot"):
        RodResponse(*belief)
    with pytest.raises(ValueError, match="at least one"):
        eighths_for(0.1, COMMON_PRIOR, 0)
