"""Moisture in wood against printed tables, and how slowly a first-order lag follows."""

from __future__ import annotations

import numpy as np
import pytest

from webapp.physics.drift import lagged_moisture
from webapp.physics.wood import moisture_content

TABLE = "Wood Handbook (FPL-GTR-190, 2010, and -282, 2021), chapter 4, table 4-2, row for 21.1 C (recalled)"
ROUNDED = (
    "E. M. Wengert in Woodweb Knowledge Base, Ratios: Relative humidity to moisture content, 31 October 2000"
)
BLOG = "C. Ray, Go Wood, Wood Science 101(14): Equilibrium Moisture Content, 24 September 2013"
EUROCODE = "EN 1995-1-1:2004, Eurocode 5, section 2.3.1.3, service classes of timber: 20 C"
HANDBOOK = "M. Kutz (ed.), Mechanical Engineers' Handbook, 3rd ed. 2006, volume 2, page 333, table 6"


@pytest.mark.memory(TABLE)
@pytest.mark.parametrize(
    ("humidity", "percent"),
    [(30, 6.2), (40, 7.7), (50, 9.2), (60, 11.0), (65, 12.0), (70, 13.1), (80, 16.0), (90, 20.5)],
)
def test_the_room_temperature_row_to_a_tenth_of_a_point(humidity: float, percent: float) -> None:
    assert moisture_content(21.1, humidity) == pytest.approx(percent, abs=0.1)


@pytest.mark.published(ROUNDED)
@pytest.mark.parametrize(("humidity", "percent"), [(30, 6), (50, 9), (65, 12), (80, 16)])
def test_the_woodworkers_round_numbers(humidity: float, percent: float) -> None:
    for room_c in (18, 21, 24):
        assert moisture_content(room_c, humidity) == pytest.approx(percent, abs=0.5)


@pytest.mark.published(BLOG)
@pytest.mark.parametrize(("humidity", "percent"), [(60, 11.1), (30, 6.2)])
def test_a_house_at_65_fahrenheit(humidity: float, percent: float) -> None:
    assert moisture_content((65 - 32) / 1.8, humidity) == pytest.approx(percent, abs=0.06)


@pytest.mark.published(EUROCODE)
@pytest.mark.parametrize(("humidity", "most_percent"), [(65, 12), (85, 20)])
def test_timber_is_no_wetter_than_its_service_class(humidity: float, most_percent: float) -> None:
    assert most_percent - 2.5 < moisture_content(20, humidity) < most_percent + 0.1


@pytest.mark.published(HANDBOOK)
@pytest.mark.parametrize(
    ("lags", "reached"), [(1, 0.632), (2, 0.865), (3, 0.950), (4, 0.982), (5, 0.993), (6, 0.998)]
)
def test_wood_follows_a_step_of_the_air_as_a_first_order_system(lags: int, reached: float) -> None:
    # Dry air for a hundred days, then one percent more from one moment to the next.
    days, air = np.array([-100.0, 0.0, 1e-9, 500.0]), np.array([9.0, 9.0, 10.0, 10.0])
    for lag_days in (7.0, 21.0, 60.0):
        wood = lagged_moisture(days, air, lag_days, np.array([lags * lag_days]))
        assert wood[0] - 9.0 == pytest.approx(reached, abs=6e-4)
