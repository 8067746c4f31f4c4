"""The plucked string's space against the wave equation solved numerically."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.fft import dst, idst

from webapp.physics.swing import envelope


def lowest_by_modes(points: int, corner: int) -> NDArray[np.float64]:
    """Lowest place of every point over one period: sine modes of the pluck, each swinging at its own rate.

    Pluck height 1, let go from above; from below is the same turned over, so the highest counts too.
    """
    places = np.arange(points + 1)
    pluck = np.interp(places, [0, corner, points], [0, 1, 0])
    modes = dst(pluck[1:-1], type=1)
    times = np.linspace(0, 1, 1001)[:, None]
    motion = idst(modes * np.cos(np.pi * times * np.arange(1, points)), type=1, axis=1)
    reached = np.maximum(-motion.min(axis=0), motion.max(axis=0))
    return np.concatenate([[0.0], reached, [0.0]])


@pytest.mark.library("scipy.fft: the wave equation by its sine modes")
@pytest.mark.parametrize("share", [0.05, 0.13, 0.25, 0.4, 0.5])
@pytest.mark.parametrize("length", [863.6, 260.0])
def test_the_space_is_the_wave_equations(share: float, length: float) -> None:
    points = 400
    corner = round(points * (1 - share))
    pluck = length * (points - corner) / points
    places = np.linspace(0, length, points + 1)
    assert np.abs(envelope(places, length, pluck) - lowest_by_modes(points, corner)).max() < 0.02
