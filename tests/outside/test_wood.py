"""Moisture in wood against the printed table."""

from __future__ import annotations

import pytest

from webapp.physics.wood import moisture_content

TABLE = "Wood Handbook (FPL-GTR-190 / 282), chapter 4, table 4-2, row for 21.1 C / 70 F (recalled)"


@pytest.mark.memory(TABLE)
@pytest.mark.parametrize(
    ("humidity", "percent"),
    [(30, 6.2), (40, 7.7), (50, 9.2), (60, 11.0), (65, 12.0), (70, 13.1), (80, 16.0), (90, 20.5)],
)
def test_the_room_temperature_row_to_a_tenth_of_a_point(humidity: float, percent: float) -> None:
    assert moisture_content(21.1, humidity) == pytest.approx(percent, abs=0.1)
