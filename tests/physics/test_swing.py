"""The space a plucked string swings in."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from webapp.physics.swing import envelope, pluck_from_saddle, reach

calm = settings(deadline=None)
lengths = st.floats(200, 900)
shares = st.floats(0.05, 0.5)


def furthest_below(length: float, pluck: float, places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lowest point over one period at each place, by adding up the string's own modes, pluck height 1.

    A corner at b from the left has the modes ``2 l^2 sin(n pi b / l) / (n^2 pi^2 b (l - b))``.
    """
    corner = length - pluck
    mode = np.arange(1, 400)
    weight = 2 * length**2 / (np.pi**2 * mode**2 * corner * pluck) * np.sin(mode * np.pi * corner / length)
    shape = weight[:, None] * np.sin(mode[:, None] * np.pi * places[None, :] / length)
    times = np.linspace(0, 1, 801)
    motion = np.cos(np.pi * times[:, None] * mode[None, :]) @ shape
    # let go from above it dips to -min; let go from below everything is turned over
    return np.asarray(np.maximum(-motion.min(axis=0), motion.max(axis=0)))


@pytest.mark.parametrize("length", [863.6, 500.0, 260.0])
@pytest.mark.parametrize("share", [0.08, 0.13, 0.3, 0.5])
def test_the_parallelogram_is_where_the_modes_take_the_string(length: float, share: float) -> None:
    places = np.linspace(0, length, 41)
    by_modes = furthest_below(length, share * length, places)
    assert np.abs(envelope(places, length, share * length) - by_modes).max() < 0.02


@calm
@given(length=lengths, share=shares)
def test_the_corners_stand_at_the_pluck_and_its_mirror(length: float, share: float) -> None:
    pluck = share * length
    at = envelope(np.array([0.0, pluck, length - pluck, length]), length, pluck)
    assert at == pytest.approx([0, 1, 1, 0], abs=1e-9)


@calm
@given(length=lengths, share=shares, place=st.floats(0, 1))
def test_the_space_is_the_same_seen_from_either_end(length: float, share: float, place: float) -> None:
    here = envelope(place * length, length, share * length)
    there = envelope((1 - place) * length, length, share * length)
    assert float(here) == pytest.approx(float(there), abs=1e-9)
    assert 0 <= float(here) <= 1 + 1e-12


def test_past_the_middle_the_pluck_stays_at_the_middle() -> None:
    assert pluck_from_saddle(np.array([863.6, 150.0]), 110.0) == pytest.approx([110.0, 75.0])
    assert float(envelope(75.0, 150.0, 110.0)) == pytest.approx(1.0)


def test_the_same_force_swings_a_shorter_string_less() -> None:
    lengths = np.array([863.6, 650.0, 431.8, 220.0, 110.0])
    sizes = reach(863.6, lengths, 110.0)
    assert sizes[0] == pytest.approx(1.0)
    assert np.all(np.diff(sizes) < 0)
    # a force at p bends the string by F p (l - p) / (l T): half the length at the same p
    assert sizes[2] == pytest.approx((110 * (431.8 - 110) / 431.8) / (110 * (863.6 - 110) / 863.6))


@pytest.mark.parametrize("pluck", [0.0, -5.0, float("nan")])
def test_a_pluck_at_the_saddle_is_refused(pluck: float) -> None:
    with pytest.raises(ValueError, match="plucked"):
        envelope(10.0, 500.0, pluck)
