"""The neck's closed forms against the curve integrated numerically, small angles and exact ones."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from webapp.physics.neck import Neck, action_per_relief, convert_relief

SEMITONE = 2 ** (1 / 12)
Curve = Callable[[int], tuple[float, float]]
INSTRUMENTS = [(863.6, 16, 20), (762.0, 16, 20), (648.0, 17, 22), (645.0, 14, 20), (650.0, 12, 19)]


def along(scale: float, fret: int) -> float:
    left = scale
    for _ in range(fret):
        left /= SEMITONE
    return scale - left


def bent(scale: float, joint: int, curvature: float, exact: bool = False) -> Curve:
    """Fret tops (x, y) of a beam of constant curvature, integrated from the joint back to the nut.

    Small angles: y'' = curvature. Exact: the tangent turns by the curvature per mm along the neck.
    """
    fixed = along(scale, joint)

    def small(_: float, state: NDArray[np.float64]) -> list[float]:
        return [1.0, state[2], curvature]

    def turning(_: float, state: NDArray[np.float64]) -> list[float]:
        return [float(np.cos(state[2])), float(np.sin(state[2])), curvature]

    run = solve_ivp(
        turning if exact else small,
        (fixed, 0.0),
        [fixed, 0.0, 0.0],
        dense_output=True,
        rtol=1e-11,
        atol=1e-13,
    )

    def fret_top(fret: int) -> tuple[float, float]:
        place = along(scale, fret)
        if place >= fixed:
            return place, 0.0
        x, y, _ = run.sol(place)
        return float(x), float(y)

    return fret_top


def gap_under(start: tuple[float, float], end: tuple[float, float], fret: tuple[float, float]) -> float:
    """Height of the line through two points over a third."""
    share = (fret[0] - start[0]) / (end[0] - start[0])
    return start[1] + share * (end[1] - start[1]) - fret[1]


def curvature_of(scale: float, joint: int, relief: float, frets: tuple[int, int, int]) -> float:
    """Curvature y'' at which the integrated curve reads this relief."""
    hold, press, gap = frets

    def miss(curvature: float) -> float:
        tops = bent(scale, joint, curvature)
        return gap_under(tops(hold), tops(press), tops(gap)) - relief

    return float(brentq(miss, -1e-3, 1e-3, xtol=1e-16))


@pytest.mark.library("scipy.integrate.solve_ivp, scipy.optimize.brentq")
@pytest.mark.parametrize(("scale", "joint", "count"), INSTRUMENTS)
@pytest.mark.parametrize("relief", [-0.24, 0.1, 0.3, 0.65])
def test_every_fret_top_and_reading_is_the_integrated_curves(
    scale: float, joint: int, count: int, relief: float
) -> None:
    frets = (1, 13, 7)
    tops = bent(scale, joint, curvature_of(scale, joint, relief, frets))
    neck = Neck.from_relief(scale, joint, count, relief, *frets)
    for fret in range(count + 1):
        assert neck.fret_top(fret) == pytest.approx(tops(fret)[1], abs=1e-7)
    for hold, press, gap in [(1, count, 8), (2, joint, 7), (3, 14, 8)]:
        assert neck.relief(hold, press, gap) == pytest.approx(
            gap_under(tops(hold), tops(press), tops(gap)), abs=1e-7
        )


@pytest.mark.library("scipy.integrate.solve_ivp, scipy.optimize.brentq")
@pytest.mark.parametrize(("scale", "joint", "count"), INSTRUMENTS)
@pytest.mark.parametrize("action", [1.2, 2.5, 4.0])
def test_the_saddle_is_where_a_root_search_puts_it(
    scale: float, joint: int, count: int, action: float
) -> None:
    tops = bent(scale, joint, curvature_of(scale, joint, 0.3, (1, 13, 7)))
    neck = Neck.from_relief(scale, joint, count, 0.3)

    def miss(height: float, hold: int, gap: int) -> float:
        return gap_under(tops(hold), (scale, height), tops(gap)) - action

    for hold, gap in [(1, 12), (0, 12), (1, count)]:
        saddle = brentq(miss, -50, 50, args=(hold, gap))
        assert neck.saddle_for_action(action, hold, gap) == pytest.approx(saddle, abs=1e-6)
        assert neck.action(saddle, hold, gap) == pytest.approx(action, abs=1e-6)


@pytest.mark.library("scipy.integrate.solve_ivp, scipy.optimize.brentq")
def test_the_two_ways_of_reading_the_same_bass() -> None:
    tops = bent(863.6, 16, curvature_of(863.6, 16, 0.30, (1, 13, 7)))
    numeric = gap_under(tops(1), tops(20), tops(8))
    assert numeric == pytest.approx(0.53, abs=0.005)
    assert convert_relief(0.30, 16, 20, (1, 13, 7), (1, 20, 8)) == pytest.approx(numeric, abs=1e-6)


@pytest.mark.library("scipy.integrate.solve_ivp, scipy.optimize.brentq")
def test_relief_moves_the_action_by_the_forecast() -> None:
    actions = []
    for relief in (0.2, 0.3):
        tops = bent(863.6, 16, curvature_of(863.6, 16, relief, (1, 13, 7)))
        actions.append(gap_under(tops(1), (863.6, 3.5), tops(12)))
    assert (actions[1] - actions[0]) / 0.1 == pytest.approx(2.74, abs=0.005)
    assert action_per_relief(16, 20) == pytest.approx((actions[1] - actions[0]) / 0.1, abs=1e-5)


@pytest.mark.library("scipy.integrate.solve_ivp")
@pytest.mark.parametrize(("scale", "joint", "count"), INSTRUMENTS)
def test_small_angles_cost_a_thousandth_of_a_millimetre(scale: float, joint: int, count: int) -> None:
    neck = Neck.from_relief(scale, joint, count, 0.65)
    exact = bent(scale, joint, 2 * neck.curvature_per_mm, exact=True)
    for fret in range(count + 1):
        assert neck.fret_top(fret) == pytest.approx(exact(fret)[1], abs=1e-3)
    assert neck.relief(1, 13, 7) == pytest.approx(gap_under(exact(1), exact(13), exact(7)), abs=1e-4)
