"""The board's arc against a handbook's sagitta and what players see."""

from __future__ import annotations

import math

import pytest

from webapp.physics.arc import drop, string_offset

HANDBOOK = "Machinery's Handbook, segments of circles: height of a segment from its chord (recalled)"


@pytest.mark.memory(HANDBOOK)
@pytest.mark.parametrize("radius", [184.15, 241.3, 304.8, 406.4])
@pytest.mark.parametrize("chord", [10.0, 36.0, 44.5, 57.0])
def test_drop_at_half_a_chord_is_its_sagitta(radius: float, chord: float) -> None:
    sagitta = radius - math.sqrt(radius**2 - (chord / 2) ** 2)
    assert drop(radius, chord / 2) == pytest.approx(sagitta, abs=1e-10)


@pytest.mark.memory(HANDBOOK)
@pytest.mark.parametrize("radius", [184.15, 241.3, 406.4])
def test_sagitta_by_the_angle_of_the_segment(radius: float) -> None:
    # the same table gives the height as r (1 - cos(angle / 2)), with the chord 2 r sin(angle / 2)
    for degrees in (1.0, 4.0, 8.0, 15.0):
        half = math.radians(degrees) / 2
        assert drop(radius, radius * math.sin(half)) == pytest.approx(
            radius * (1 - math.cos(half)), abs=1e-10
        )


@pytest.mark.practice
def test_inner_strings_stand_a_little_higher_than_the_outer_ones() -> None:
    for index in (1, 2):
        above = drop(241.3, 44.5 / 2) - drop(241.3, string_offset(index, 4, 44.5))
        assert 0.3 < above < 1.5
