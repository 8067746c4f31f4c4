"""Water in wood."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics.wood import moisture_content

calm = settings(deadline=None)
rooms = st.floats(0, 40)
heated = st.floats(15, 40)  # near freezing the printed table is level too


@calm
@given(temperature=rooms, humidity=st.floats(0, 95), more=st.floats(0.5, 5))
def test_damper_air_makes_damper_wood(temperature: float, humidity: float, more: float) -> None:
    assert moisture_content(temperature, humidity + more) > moisture_content(temperature, humidity)


@calm
@given(temperature=heated, humidity=st.floats(35, 95), more=st.floats(1, 10))
def test_warmer_air_makes_drier_wood_above_a_third_humidity(
    temperature: float, humidity: float, more: float
) -> None:
    assert moisture_content(temperature + more, humidity) < moisture_content(temperature, humidity)


def test_dry_air_leaves_nothing() -> None:
    assert moisture_content(20, 0) == 0.0


@pytest.mark.parametrize(
    ("temperature", "humidity"), [(-20, 50), (120, 50), (21, -1), (21, 101), (21, float("nan"))]
)
def test_air_that_is_not_is_refused(temperature: float, humidity: float) -> None:
    with pytest.raises(ValueError, match="must lie between"):
        moisture_content(temperature, humidity)
