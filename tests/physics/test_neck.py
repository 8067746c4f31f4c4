"""Relief, action and saddle height along one string."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics.neck import Neck, action_per_relief, convert_relief

calm = settings(deadline=None)
BASS = (863.6, 16, 20)

reliefs = st.floats(-1.0, 2.0)
saddles = st.floats(-2.0, 10.0)
necks = st.builds(
    lambda scale, joint, more, relief: Neck.from_relief(scale, joint, joint + more, relief, 1, joint, 7),
    st.floats(500, 920),
    st.integers(12, 20),
    st.integers(0, 8),
    reliefs,
)
frets_read = st.tuples(st.integers(0, 5), st.integers(12, 20), st.integers(6, 11))


def test_the_worked_bass() -> None:
    neck = Neck.from_relief(*BASS, 0.30)
    assert neck.curvature_per_mm == pytest.approx(7.4433e-6, abs=5e-11)
    assert neck.saddle_for_action(2.5) == pytest.approx(3.571, abs=5e-4)
    assert neck.relief(1, 20, 8) == pytest.approx(0.53, abs=5e-3)


def test_the_worked_levers() -> None:
    assert Neck(*BASS).saddle_per_action() == pytest.approx(2.126, abs=5e-4)
    assert Neck(*BASS).saddle_per_action(hold=0) == pytest.approx(2.0, abs=1e-12)
    assert action_per_relief(16, 20) == pytest.approx(2.74, abs=5e-3)


@calm
@given(relief=reliefs, taken=frets_read, wanted=frets_read)
def test_relief_converts_to_any_other_frets_and_back(
    relief: float, taken: tuple[int, int, int], wanted: tuple[int, int, int]
) -> None:
    there = convert_relief(relief, 16, 20, taken, wanted)
    assert convert_relief(there, 16, 20, wanted, taken) == pytest.approx(relief, abs=1e-12)


@calm
@given(relief=reliefs, taken=frets_read, scale=st.floats(500, 920))
def test_a_neck_reads_what_it_was_made_from(relief: float, taken: tuple[int, int, int], scale: float) -> None:
    assert Neck.from_relief(scale, 16, 20, relief, *taken).relief(*taken) == pytest.approx(relief, abs=1e-12)


@calm
@given(neck=necks, saddle=saddles, hold=st.integers(0, 5), gap=st.integers(6, 12), nut=st.floats(0, 2))
def test_saddle_for_action_undoes_action(neck: Neck, saddle: float, hold: int, gap: int, nut: float) -> None:
    action = neck.action(saddle, hold, gap, nut)
    assert neck.saddle_for_action(action, hold, gap, nut) == pytest.approx(saddle, abs=1e-9)


@calm
@given(neck=necks, saddle=saddles, hold=st.integers(0, 5), gap=st.integers(6, 12))
def test_saddle_per_action_is_the_slope_of_action(neck: Neck, saddle: float, hold: int, gap: int) -> None:
    gained = neck.action(saddle + 1.0, hold, gap) - neck.action(saddle, hold, gap)
    assert gained * neck.saddle_per_action(hold, gap) == pytest.approx(1.0, abs=1e-9)


@calm
@given(neck=necks, relief=st.floats(-0.5, 0.5), saddle=saddles)
def test_more_relief_raises_action_by_the_forecast(neck: Neck, relief: float, saddle: float) -> None:
    bowed = Neck(
        neck.scale_mm,
        neck.joint_fret,
        neck.fret_count,
        neck.curvature_per_mm + Neck.from_relief(
            neck.scale_mm, neck.joint_fret, neck.fret_count, relief, 1, neck.joint_fret, 7
        ).curvature_per_mm,
    )  # fmt: skip
    forecast = action_per_relief(neck.joint_fret, neck.fret_count, (1, neck.joint_fret, 7)) * relief
    assert bowed.action(saddle) - neck.action(saddle) == pytest.approx(forecast, abs=1e-9)


@calm
@given(neck=necks, saddle=saddles, gap=st.floats(-0.5, 2.0))
def test_nut_for_gap_gives_that_open_gap_over_fret_one(neck: Neck, saddle: float, gap: float) -> None:
    nut = neck.nut_for_gap(gap, saddle)
    assert neck.action(saddle, hold=0, gap=1, nut_mm=nut) == pytest.approx(gap, abs=1e-9)


@calm
@given(neck=necks, saddle=saddles)
def test_nut_height_matters_only_for_the_open_string(neck: Neck, saddle: float) -> None:
    assert neck.action(saddle, 1, 12, nut_mm=1.0) == neck.action(saddle, 1, 12)
    raised = neck.action(saddle, 0, 12, nut_mm=1.0) - neck.action(saddle, 0, 12)
    assert raised == pytest.approx(0.5, abs=1e-9)


@calm
@given(neck=necks, saddle=saddles)
def test_doubling_every_length_doubles_every_height(neck: Neck, saddle: float) -> None:
    double = Neck(2 * neck.scale_mm, neck.joint_fret, neck.fret_count, neck.curvature_per_mm / 2)
    assert double.fret_top(3) == pytest.approx(2 * neck.fret_top(3), abs=1e-9)
    assert double.action(2 * saddle) == pytest.approx(2 * neck.action(saddle), abs=1e-9)
    assert double.relief(1, 12, 7) == pytest.approx(2 * neck.relief(1, 12, 7), abs=1e-9)


def test_back_bow_reads_negative_and_the_body_end_stays_flat() -> None:
    neck = Neck.from_relief(*BASS, -0.2)
    assert neck.curvature_per_mm < 0
    assert [neck.fret_top(fret) for fret in (16, 18, 20)] == [0.0, 0.0, 0.0]
    assert neck.fret_top(1) < neck.fret_top(8) < 0


@pytest.mark.parametrize(
    "frets", [(1, 13, 13), (7, 13, 1), (1, 7, 13), (1, 21, 7), (-1, 13, 7), (16, 20, 18)]
)
def test_frets_that_cannot_give_a_relief_are_refused(frets: tuple[int, int, int]) -> None:
    with pytest.raises(ValueError, match="fret|held"):
        Neck.from_relief(*BASS, 0.3, *frets)


@pytest.mark.parametrize(
    ("scale", "joint", "count", "curve"),
    [(0, 16, 20, 0), (863.6, 0, 20, 0), (863.6, 21, 20, 0), (863.6, 1, 0, 0), (863.6, 16, 20, float("inf"))],
)
def test_impossible_necks_are_refused(scale: float, joint: int, count: int, curve: float) -> None:
    with pytest.raises(ValueError, match="must|needs"):
        Neck(scale, joint, count, curve)


def test_height_is_read_past_the_fret_held() -> None:
    with pytest.raises(ValueError, match="past the fret"):
        Neck(*BASS).action(3.0, hold=12, gap=12)
