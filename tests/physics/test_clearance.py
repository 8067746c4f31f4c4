"""Gaps under a fretted string, and the clean swing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics.clearance import clean_swing, clearances, clearances_of, reach_map
from webapp.physics.neck import Neck

calm = settings(deadline=None)
necks = st.builds(
    Neck.from_relief, st.floats(500, 920), st.integers(12, 16), st.integers(19, 27), st.floats(-0.3, 1.0)
)
saddles = st.floats(0.5, 12)
BASS = Neck.from_relief(863.6, 16, 20, 0.30)


def test_the_worked_clean_swing() -> None:
    swing, fretted, over = clean_swing(BASS, BASS.saddle_for_action(2.5), 110)
    assert swing == pytest.approx(0.940, abs=5e-4)
    assert (fretted, over) == (4, 7)


@calm
@given(neck=necks, saddle=saddles, fretted=st.integers(1, 18), ahead=st.integers(1, 18))
def test_every_gap_is_the_action_over_that_fret(neck: Neck, saddle: float, fretted: int, ahead: int) -> None:
    over = min(fretted + ahead, neck.fret_count)
    gaps = clearances(neck, saddle)
    assert gaps.shape == (neck.fret_count + 1, neck.fret_count + 1)
    assert gaps[fretted, over] == pytest.approx(neck.action(saddle, fretted, over), abs=1e-9)


def test_only_frets_ahead_have_a_gap() -> None:
    gaps = clearances(BASS, 3.5)
    ahead = np.triu(np.ones_like(gaps, dtype=bool), k=1)
    assert np.array_equal(~np.isnan(gaps), ahead)


@calm
@given(neck=necks, saddle=saddles, nut=st.floats(0, 1.5), over=st.integers(1, 19))
def test_the_open_string_starts_at_the_nut(neck: Neck, saddle: float, nut: float, over: int) -> None:
    gaps = clearances(neck, saddle, nut)
    assert gaps[0, over] == pytest.approx(neck.action(saddle, 0, over, nut), abs=1e-9)
    assert np.array_equal(gaps[1:], clearances(neck, saddle)[1:], equal_nan=True)


@calm
@given(neck=necks, heights=st.lists(saddles, min_size=1, max_size=7))
def test_a_batch_of_strings_is_each_string_by_itself(neck: Neck, heights: list[float]) -> None:
    batch = clearances(neck, heights)
    assert batch.shape == (len(heights), neck.fret_count + 1, neck.fret_count + 1)
    for string, height in zip(batch, heights, strict=True):
        assert np.array_equal(string, clearances(neck, height), equal_nan=True)


def test_an_instrument_with_fanned_frets_is_each_string_on_its_own_neck() -> None:
    necks = [
        Neck.from_relief(scale, 16, 24, relief)
        for scale, relief in ((863.6, 0.3), (838.2, 0.2), (812.8, 0.1))
    ]
    heights, nuts = [4.0, 3.6, 3.2], [0.6, 0.5, 0.4]
    whole = clearances_of(necks, heights, nuts)
    for string, neck, height, nut in zip(whole, necks, heights, nuts, strict=True):
        assert np.allclose(string, clearances(neck, height, nut), rtol=0, atol=1e-12, equal_nan=True)
    with pytest.raises(ValueError, match="one number of frets"):
        clearances_of([Neck(863.6, 16, 24), Neck(863.6, 16, 20)], 4.0)


@calm
@given(neck=necks, saddle=saddles)
def test_doubling_every_length_doubles_every_gap_and_the_swing(neck: Neck, saddle: float) -> None:
    double = Neck(2 * neck.scale_mm, neck.joint_fret, neck.fret_count, neck.curvature_per_mm / 2)
    assert np.allclose(clearances(double, 2 * saddle), 2 * clearances(neck, saddle), equal_nan=True)
    before, after = clean_swing(neck, saddle, 80), clean_swing(double, 2 * saddle, 160)
    assert after.swing_mm == pytest.approx(2 * before.swing_mm, abs=1e-9)


@calm
@given(neck=necks, saddle=saddles, pluck=st.floats(40, 200))
def test_just_below_the_clean_swing_nothing_touches_and_just_above_that_pair_does(
    neck: Neck, saddle: float, pluck: float
) -> None:
    swing, fretted, over = clean_swing(neck, saddle, pluck)
    gaps, reach = clearances(neck, saddle)[1:], reach_map(neck, pluck)[1:]
    assert np.nanmin(gaps - (swing - 1e-6) * reach) > 0
    assert (gaps - (swing + 1e-6) * reach)[fretted - 1, over] < 0


@calm
@given(neck=necks, saddle=saddles, more=st.floats(0.1, 3))
def test_a_higher_saddle_never_plays_worse(neck: Neck, saddle: float, more: float) -> None:
    assert clean_swing(neck, saddle + more, 90).swing_mm > clean_swing(neck, saddle, 90).swing_mm


def test_a_low_nut_limits_the_open_string() -> None:
    saddle = BASS.saddle_for_action(2.5)
    fine = clean_swing(BASS, saddle, 110, nut_mm=0.6)
    low = clean_swing(BASS, saddle, 110, nut_mm=BASS.nut_for_gap(0.05, saddle))
    assert fine == clean_swing(BASS, saddle, 110)
    assert low.fretted == 0
    assert low.swing_mm < fine.swing_mm


def test_a_string_that_lies_on_a_fret_has_no_clean_swing() -> None:
    assert clean_swing(BASS, -2.0, 110).swing_mm < 0


def test_what_cannot_swing_is_refused() -> None:
    with pytest.raises(ValueError, match="plucked"):
        clean_swing(BASS, 3.5, 0)
    with pytest.raises(ValueError, match="one fret"):
        clean_swing(Neck(650, 1, 1), 3.5, 80)
