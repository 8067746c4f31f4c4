"""From a setting to a touch and back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from webapp.physics.clearance import clean_swing
from webapp.physics.neck import Neck
from webapp.physics.touch import FoundSwing, lowest_clean

calm = settings(deadline=None)
BASS = (863.6, 16, 20)
scales, joints, counts = st.floats(500, 920), st.integers(13, 17), st.integers(19, 24)
swings, plucks = st.floats(0.05, 2.0), st.floats(50, 160)


def test_the_worked_lowest_clean_action() -> None:
    best = lowest_clean(*BASS, 0.8, 110)
    assert best.relief_mm == pytest.approx(0.30, abs=5e-3)
    assert best.action_mm == pytest.approx(2.10, abs=5e-3)
    straight = lowest_clean(*BASS, 0.8, 110, relief_low_mm=0.0, relief_high_mm=0.0)
    assert straight.action_mm == pytest.approx(2.76, abs=5e-3)


def test_the_bottom_is_flat_from_there_on_and_the_straightest_neck_is_given() -> None:
    best = lowest_clean(*BASS, 0.8, 110)
    needed = [lowest_clean(*BASS, 0.8, 110, relief, relief).action_mm for relief in (0.29, 0.31, 0.32)]
    assert needed[0] > best.action_mm + 1e-3
    assert needed[1] == pytest.approx(best.action_mm, abs=1e-9)
    assert needed[2] > best.action_mm + 1e-3


@calm
@given(scale=scales, joint=joints, count=counts, swing=swings, pluck=plucks)
def test_the_lowest_clean_setting_allows_exactly_that_swing(
    scale: float, joint: int, count: int, swing: float, pluck: float
) -> None:
    best = lowest_clean(scale, joint, count, swing, pluck)
    neck = Neck.from_relief(scale, joint, count, best.relief_mm)
    assert clean_swing(neck, best.saddle_mm, pluck).swing_mm == pytest.approx(swing, abs=1e-9)
    assert neck.saddle_for_action(best.action_mm) == pytest.approx(best.saddle_mm, abs=1e-9)


@calm
@given(
    scale=scales, joint=joints, count=counts, swing=swings, pluck=plucks,
    low=st.floats(-0.3, 0.8), width=st.floats(0, 0.8),
)  # fmt: skip
def test_no_relief_within_the_limits_does_better(
    scale: float, joint: int, count: int, swing: float, pluck: float, low: float, width: float
) -> None:
    best = lowest_clean(scale, joint, count, swing, pluck, low, low + width)
    assert low <= best.relief_mm <= low + width
    for relief in np.linspace(low, low + width, 25):
        neck = Neck.from_relief(scale, joint, count, float(relief))
        lower = neck.saddle_for_action(best.action_mm - 1e-6)
        assert clean_swing(neck, lower, pluck).swing_mm < swing


@calm
@given(scale=scales, relief=st.floats(-0.2, 1.0), action=st.floats(0.8, 5), pluck=plucks)
def test_at_a_given_relief_it_undoes_the_swing_of_a_setting(
    scale: float, relief: float, action: float, pluck: float
) -> None:
    neck = Neck.from_relief(scale, 16, 22, relief)
    swing = clean_swing(neck, neck.saddle_for_action(action), pluck).swing_mm
    assume(swing >= 0)
    found = lowest_clean(scale, 16, 22, swing, pluck, relief, relief)
    assert found.action_mm == pytest.approx(action, abs=1e-9)


@calm
@given(scale=scales, swing=swings, pluck=plucks)
def test_doubling_every_length_doubles_the_answer(scale: float, swing: float, pluck: float) -> None:
    one = lowest_clean(scale, 16, 22, swing, pluck, 0, 1)
    two = lowest_clean(2 * scale, 16, 22, 2 * swing, 2 * pluck, 0, 2)
    assert two.action_mm == pytest.approx(2 * one.action_mm, abs=1e-8)
    assert two.relief_mm == pytest.approx(2 * one.relief_mm, abs=1e-6)


def test_the_relief_may_be_read_at_other_frets() -> None:
    usual = lowest_clean(*BASS, 0.8, 110)
    other = lowest_clean(*BASS, 0.8, 110, taken=(1, 20, 8))
    assert other.action_mm == pytest.approx(usual.action_mm, abs=1e-9)
    converted = Neck.from_relief(*BASS, usual.relief_mm).relief(1, 20, 8)
    assert other.relief_mm == pytest.approx(converted, abs=1e-9)


def test_a_tested_swing_lies_between_the_two_settings() -> None:
    tested = FoundSwing(buzzing_mm=0.7, clean_mm=0.85)
    assert tested.swing_mm == 0.85
    assert tested.uncertain_mm == pytest.approx(0.15)
    with pytest.raises(ValueError, match="more swing"):
        FoundSwing(0.9, 0.8)


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(ValueError, match="swing"):
        lowest_clean(*BASS, -0.1, 110)
    with pytest.raises(ValueError, match="highest"):
        lowest_clean(*BASS, 0.8, 110, 0.5, 0.1)
    with pytest.raises(ValueError, match="not on this neck"):
        lowest_clean(650, 12, 12, 0.8, 110)
