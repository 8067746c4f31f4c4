"""Where a setting touches first, and the lowest clean action, against practice and a general optimiser."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import linprog

from webapp.physics.clearance import clean_swing
from webapp.physics.neck import Neck
from webapp.physics.touch import lowest_clean

BASS = (863.6, 16, 20)
GUITAR = (648.0, 16, 22)
LONG_NECKS = [(*BASS, 2.5, 110), (762.0, 16, 20, 2.3, 100), (*GUITAR, 1.8, 110), (645.0, 14, 20, 2.4, 120)]


@pytest.mark.practice
@pytest.mark.parametrize(("scale", "joint", "count", "action", "pluck"), LONG_NECKS)
def test_a_straight_neck_touches_within_the_first_three_frets(
    scale: float, joint: int, count: int, action: float, pluck: float
) -> None:
    neck = Neck.from_relief(scale, joint, count, 0.0)
    first = clean_swing(neck, neck.saddle_for_action(action), pluck)
    assert first.fretted <= 3
    assert first.over <= 3


@pytest.mark.practice
@pytest.mark.parametrize(("scale", "joint", "count", "action", "pluck"), LONG_NECKS)
def test_an_overbowed_neck_touches_past_the_twelfth(
    scale: float, joint: int, count: int, action: float, pluck: float
) -> None:
    neck = Neck.from_relief(scale, joint, count, 0.8)
    assert clean_swing(neck, neck.saddle_for_action(action), pluck).over > 12


@pytest.mark.practice
def test_a_little_relief_lets_the_strings_lower_than_none_or_a_lot() -> None:
    for scale, joint, count, _, pluck in LONG_NECKS:
        best = lowest_clean(scale, joint, count, 0.7, pluck)
        straight = lowest_clean(scale, joint, count, 0.7, pluck, 0.0, 0.0)
        bowed = lowest_clean(scale, joint, count, 0.7, pluck, 0.8, 0.8)
        assert 0.05 < best.relief_mm < 0.65
        assert best.action_mm < min(straight.action_mm, bowed.action_mm) - 0.2


@pytest.mark.practice
def test_a_medium_bass_action_clears_a_swing_of_just_under_a_millimetre() -> None:
    neck = Neck.from_relief(*BASS, 0.30)
    swing = clean_swing(neck, neck.saddle_for_action(3 / 32 * 25.4), 110).swing_mm
    assert 0.7 < swing < 1.1


def fret_places(scale: float, count: int) -> NDArray[np.float64]:
    left = [scale]
    for _ in range(count):
        left.append(left[-1] / 2 ** (1 / 12))
    return scale - np.array(left)


def by_linear_programme(
    scale: float, joint: int, count: int, swing: float, pluck: float, low: float, high: float
) -> float:
    """The lowest action at 12 as a linear programme in the saddle height and the relief."""
    x = fret_places(scale, count)
    bow = np.clip(x[joint] - x, 0, None) ** 2

    def line(start: int, end: int, at: int) -> float:
        return float(np.interp(x[at], [x[start], x[end]], [bow[start], bow[end]]))

    tops = bow / (line(1, 13, 7) - bow[7])  # fret tops for one mm of relief, read 1-13-7
    rows, limits = [], []
    for fretted in range(1, count):
        length = scale - x[fretted]
        near, open_near = min(pluck, length / 2), min(pluck, scale / 2)
        size = swing * (near * (length - near) / length) / (open_near * (scale - open_near) / scale)
        for over in range(fretted + 1, count + 1):
            s = x[over] - x[fretted]
            corners = [0.0, near, length - near, length]
            dip = size * max(
                np.interp(s, [0, corners[1], length], [0, 1, 0]),
                np.interp(s, [0, corners[2], length], [0, 1, 0]),
            )
            # tops[n] r (1 - s/l) + h s/l - tops[m] r >= dip
            rows.append([-s / length, -(tops[fretted] * (1 - s / length) - tops[over])])
            limits.append(-dip)
    at = (x[12] - x[1]) / (scale - x[1])
    goal = [at, tops[1] * (1 - at) - tops[12]]
    found = linprog(goal, A_ub=rows, b_ub=limits, bounds=[(None, None), (low, high)], method="highs")
    assert found.success
    return float(found.fun)


@pytest.mark.library("scipy.optimize.linprog (HiGHS)")
def test_lowest_clean_is_the_optimisers_on_200_random_instruments() -> None:
    random = np.random.default_rng(20240229)
    for _ in range(200):
        scale, swing, pluck = random.uniform(500, 920), random.uniform(0.2, 1.6), random.uniform(50, 160)
        joint, more = int(random.integers(12, 18)), int(random.integers(3, 8))
        low = random.uniform(-0.1, 0.3)
        high = low + random.uniform(0.0, 0.8)
        expected = by_linear_programme(scale, joint, joint + more, swing, pluck, low, high)
        best = lowest_clean(scale, joint, joint + more, swing, pluck, low, high)
        assert low <= best.relief_mm <= high
        assert best.action_mm == pytest.approx(expected, abs=1e-6)
        neck = Neck.from_relief(scale, joint, joint + more, best.relief_mm)
        assert clean_swing(neck, best.saddle_mm, pluck).swing_mm == pytest.approx(swing, abs=1e-9)
