"""Fret places along one string."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics.frets import fret_position

calm = settings(deadline=None)
scales = st.floats(300, 1200)


@calm
@given(scale=scales, fret=st.integers(0, 24))
def test_an_octave_up_halves_what_is_left(scale: float, fret: int) -> None:
    left, above = (scale - fret_position(scale, number) for number in (fret, fret + 12))
    assert above == pytest.approx(left / 2, rel=1e-12)


@calm
@given(scale=scales, fret=st.integers(1, 36))
def test_fret_gaps_shrink_by_the_same_ratio_all_along(scale: float, fret: int) -> None:
    below, here, above = (fret_position(scale, number) for number in (fret - 1, fret, fret + 1))
    assert (here - below) / (above - here) == pytest.approx(2 ** (1 / 12), rel=1e-9)


def test_nut_is_zero_and_twelve_is_half() -> None:
    assert fret_position(863.6, 0) == 0.0
    assert fret_position(863.6, 12) == pytest.approx(431.8, abs=1e-10)


def test_arrays_broadcast_and_numbers_give_numbers() -> None:
    table = fret_position(np.array([[863.6], [650.0]]), np.arange(25))
    assert isinstance(table, np.ndarray) and table.shape == (2, 25)
    single = fret_position(650.0, 7)
    assert isinstance(single, float)
    assert table[1, 7] == pytest.approx(single, abs=1e-12)


@pytest.mark.parametrize(
    ("scale", "fret"), [(0, 1), (-863.6, 1), (float("nan"), 1), (650, -1), (650, np.inf)]
)
def test_impossible_lengths_and_frets_are_refused(scale: float, fret: float) -> None:
    with pytest.raises(ValueError, match="must be"):
        fret_position(scale, fret)
