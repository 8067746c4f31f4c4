"""Turns, travel, and learning a pitch."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics import screws

calm = settings(deadline=None)
pitches = st.floats(0.2, 2.0)


@calm
@given(travel=st.floats(-10, 10), pitch=pitches)
def test_travel_undoes_turns(travel: float, pitch: float) -> None:
    assert screws.travel_mm(screws.turns(travel, pitch), pitch) == pytest.approx(travel, abs=1e-12)


@calm
@given(count=st.floats(-20, 20))
def test_rounding_stays_within_a_sixteenth_and_keeps_the_sign(count: float) -> None:
    rounded = screws.round_to_eighth(count)
    assert abs(rounded - count) <= 1 / 16 + 1e-12
    assert rounded * 8 == screws.eighths(count)
    assert screws.eighths(-count) == -screws.eighths(count)


def test_halves_go_away_from_zero() -> None:
    assert [screws.eighths(count / 16) for count in (-3, -1, 0, 1, 3)] == [-2, -1, 0, 1, 2]


@calm
@given(pitch=pitches, count=st.floats(0.125, 3), sign=st.sampled_from([-1, 1]))
def test_a_pitch_is_learnt_from_its_own_travel(pitch: float, count: float, sign: int) -> None:
    learnt = screws.learn_pitch(screws.travel_mm(sign * count, pitch), sign * count, 0.05)
    assert learnt.pitch_mm == pytest.approx(pitch, rel=1e-12)
    assert learnt.error_mm == pytest.approx(0.05 / count, rel=1e-12)


def test_more_pairs_sharpen_the_pitch_and_the_better_pair_counts_more() -> None:
    rough, fine = screws.LearntPitch(0.9, 0.2), screws.LearntPitch(0.7, 0.1)
    both = screws.combine_pitches([rough, fine])
    assert both.pitch_mm == pytest.approx((0.9 + 4 * 0.7) / 5)
    assert both.error_mm < fine.error_mm


@pytest.mark.parametrize(("travel", "count"), [(0.5, 0.0), (-0.5, 1.0), (0.0, 1.0), (0.5, -1.0)])
def test_a_screw_that_did_not_follow_teaches_nothing(travel: float, count: float) -> None:
    with pytest.raises(ValueError, match="screw"):
        screws.learn_pitch(travel, count)


@pytest.mark.parametrize("pitch", [0.0, -0.7, float("nan")])
def test_a_pitch_must_be_above_zero(pitch: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        screws.turns(1.0, pitch)
    with pytest.raises(ValueError, match="above 0"):
        screws.travel_mm(1.0, pitch)


@pytest.mark.parametrize("found", [[], [screws.LearntPitch(0.7, 0.0)]])
def test_estimates_without_an_error_do_not_combine(found: list[screws.LearntPitch]) -> None:
    with pytest.raises(ValueError, match="error"):
        screws.combine_pitches(found)
