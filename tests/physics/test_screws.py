"""Turns of a screw."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics import screws

calm = settings(deadline=None)


@calm
@given(travel=st.floats(-10, 10), pitch=st.floats(0.2, 2.0))
def test_so_many_turns_travel_so_far(travel: float, pitch: float) -> None:
    count = screws.turns(travel, pitch)
    assert count * pitch == pytest.approx(travel, abs=1e-12)
    assert screws.turns(-travel, pitch) == -count


@pytest.mark.parametrize("pitch", [0.0, -0.7, float("nan")])
def test_a_pitch_must_be_above_zero(pitch: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        screws.turns(1.0, pitch)
