"""The board's arc against a handbook's table and what players see."""

from __future__ import annotations

import pytest

from webapp.physics.arc import drop, string_offset

HANDBOOK = (
    "Machinery's Handbook (Industrial Press), table of segments of circles for radius 1, 29th ed. 2012: "
    "chord and height by the angle (recalled)"
)


@pytest.mark.memory(HANDBOOK)
@pytest.mark.parametrize(
    ("chord", "height"),
    [(0.17431, 0.00381), (0.34730, 0.01519), (0.51764, 0.03407), (0.68404, 0.06031), (1.00000, 0.13397)],
    ids=["10 deg", "20 deg", "30 deg", "40 deg", "60 deg"],
)
def test_a_board_falls_away_as_a_segment_of_a_circle(chord: float, height: float) -> None:
    for radius in (1.0, 184.15, 241.3, 406.4):
        assert drop(radius, radius * chord / 2) == pytest.approx(radius * height, abs=radius * 6e-6)


@pytest.mark.practice
def test_inner_strings_stand_a_little_higher_than_the_outer_ones() -> None:
    for index in (1, 2):
        above = drop(241.3, 44.5 / 2) - drop(241.3, string_offset(index, 4, 44.5))
        assert 0.3 < above < 1.5
