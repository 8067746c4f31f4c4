"""Across the board: arc, cone, string places."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics import arc

calm = settings(deadline=None)
radii = st.one_of(st.none(), st.floats(150, 600))
offsets = st.floats(-60, 60)


def test_the_worked_inner_pair() -> None:
    radius, spacing = 9.5 * 25.4, 44.5
    for index in (1, 2):
        offset = arc.string_offset(index, 4, spacing)
        assert arc.drop(radius, spacing / 2) - arc.drop(radius, offset) == pytest.approx(0.914, abs=5e-4)


@calm
@given(radius=radii, offset=offsets)
def test_drop_is_the_same_on_both_sides_and_never_negative(radius: float | None, offset: float) -> None:
    assert arc.drop(radius, offset) == arc.drop(radius, -offset) >= 0


@calm
@given(radius=st.floats(150, 600), offset=offsets)
def test_a_string_on_the_board_is_one_radius_from_its_centre(radius: float, offset: float) -> None:
    below = arc.drop(radius, offset)
    assert math.hypot(offset, radius - below) == pytest.approx(radius, rel=1e-12)


@calm
@given(count=st.integers(1, 12), spacing=st.floats(20, 120))
def test_flipping_bass_and_treble_mirrors_the_places(count: int, spacing: float) -> None:
    places = [arc.string_offset(index, count, spacing) for index in range(count)]
    assert [-place for place in reversed(places)] == pytest.approx(places, abs=1e-12)
    if count > 1:
        assert places[0] < 0 < places[-1]
        assert places[-1] - places[0] == pytest.approx(spacing)


def test_a_cone_goes_straight_from_radius_to_radius_and_on() -> None:
    board = arc.Board(254.0, 406.4, 450.0)
    assert board.radius_at(0) == 254.0
    assert board.radius_at(450.0) == pytest.approx(406.4)
    assert board.radius_at(225.0) == pytest.approx((254.0 + 406.4) / 2)
    assert board.radius_at(900.0) == pytest.approx(406.4 + 152.4)


def test_a_flat_board_has_no_radius_and_no_drop() -> None:
    board = arc.Board(None, None, 450.0)
    assert board.radius_at(200.0) is None
    assert arc.drop(None, 25.0) == 0.0


@pytest.mark.parametrize(("radius", "offset"), [(0, 1), (-241.3, 1), (float("inf"), 1), (20, 21)])
def test_impossible_arcs_are_refused(radius: float, offset: float) -> None:
    with pytest.raises(ValueError, match="radius"):
        arc.drop(radius, offset)


@pytest.mark.parametrize("radii", [(254.0, None), (None, 254.0), (254.0, 0.0), (-1.0, 254.0)])
def test_impossible_boards_are_refused(radii: tuple[float | None, float | None]) -> None:
    with pytest.raises(ValueError, match="radi"):
        arc.Board(*radii, 450.0)


def test_a_cone_that_ran_out_is_refused() -> None:
    with pytest.raises(ValueError, match="cone"):
        arc.Board(300.0, 100.0, 450.0).radius_at(700.0)
    with pytest.raises(ValueError, match="longer"):
        arc.Board(300.0, 100.0, 0.0)


def test_a_string_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match="string index 4"):
        arc.string_offset(4, 4, 50)
