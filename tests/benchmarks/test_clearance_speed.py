"""The clearance map against the same sums in plain loops: equal, and at least twenty times faster.

Run as a script it prints the times: ``python tests/benchmarks/test_clearance_speed.py``.
"""

from __future__ import annotations

import math
import timeit
from collections.abc import Sequence

import numpy as np
import pytest

from webapp.physics.clearance import clearances
from webapp.physics.neck import Neck

STRINGS, FRETS, AT_LEAST = 6, 24, 20.0


def place(scale_mm: float, fret: int) -> float:
    return scale_mm * (1 - 2 ** (-fret / 12))


def top(scale_mm: float, joint_fret: int, curvature: float, fret: int) -> float:
    before_joint = place(scale_mm, joint_fret) - place(scale_mm, fret)
    return curvature * before_joint**2 if before_joint > 0 else 0.0


def plain_gap(
    scale_mm: float, joint_fret: int, curvature: float, saddle_mm: float, fretted: int, over: int
) -> float:
    """The equation for one pair of frets, as written in the design; nothing shared with the application."""
    start_x, start_y = place(scale_mm, fretted), top(scale_mm, joint_fret, curvature, fretted)
    share = (place(scale_mm, over) - start_x) / (scale_mm - start_x)
    return start_y + (saddle_mm - start_y) * share - top(scale_mm, joint_fret, curvature, over)


def plain_clearances(
    scale_mm: float, joint_fret: int, fret_count: int, curvature: float, saddles_mm: Sequence[float]
) -> list[list[list[float]]]:
    """The plain loop: every string, every fretted note, every fret ahead."""
    strings = []
    for saddle in saddles_mm:
        rows = []
        for fretted in range(fret_count + 1):
            row = [math.nan] * (fret_count + 1)
            for over in range(fretted + 1, fret_count + 1):
                row[over] = plain_gap(scale_mm, joint_fret, curvature, saddle, fretted, over)
            rows.append(row)
        strings.append(rows)
    return strings


def tuned_clearances(
    scale_mm: float, joint_fret: int, fret_count: int, curvature: float, saddles_mm: Sequence[float]
) -> list[list[list[float]]]:
    """The loop with everything that repeats taken out of it, for an honest second ratio."""
    places = [place(scale_mm, fret) for fret in range(fret_count + 1)]
    tops = [top(scale_mm, joint_fret, curvature, fret) for fret in range(fret_count + 1)]
    strings = []
    for saddle in saddles_mm:
        rows = []
        for fretted, (x, y) in enumerate(zip(places, tops, strict=True)):
            slope = (saddle - y) / (scale_mm - x)
            ahead = range(fretted + 1, fret_count + 1)
            gaps = [y + slope * (places[over] - x) - tops[over] for over in ahead]
            rows.append([math.nan] * (fretted + 1) + gaps)
        strings.append(rows)
    return strings


def times(runs: int = 30) -> tuple[float, float, float]:
    """Best seconds per call of (plain, tuned, vectorised), taken in turn so that all meet the same load."""
    neck = Neck.from_relief(648.0, 16, FRETS, 0.2)
    saddles = [2.5 + 0.2 * string for string in range(STRINGS)]
    given = (neck.scale_mm, neck.joint_fret, neck.fret_count, neck.curvature_per_mm, saddles)
    best = [math.inf] * 3
    for _ in range(runs):
        taken = (
            timeit.timeit(lambda: plain_clearances(*given), number=1),
            timeit.timeit(lambda: tuned_clearances(*given), number=5) / 5,
            timeit.timeit(lambda: clearances(neck, saddles), number=20) / 20,
        )
        best = [min(pair) for pair in zip(best, taken, strict=True)]
    return best[0], best[1], best[2]


@pytest.mark.parametrize("relief", [-0.3, 0.0, 0.3, 1.2])
@pytest.mark.parametrize(("scale", "joint", "frets"), [(863.6, 16, 20), (650.0, 12, 19), (648.0, 17, 24)])
def test_the_map_equals_the_plain_loops(relief: float, scale: float, joint: int, frets: int) -> None:
    neck = Neck.from_relief(scale, joint, frets, relief)
    saddles = [0.5, 3.0, 7.5]
    plain = np.array(plain_clearances(scale, joint, frets, neck.curvature_per_mm, saddles))
    assert np.allclose(clearances(neck, saddles), plain, rtol=0, atol=1e-9, equal_nan=True)


def test_the_tuned_loop_is_the_same_loop() -> None:
    given = (650.0, 14, 20, 6e-6, [2.0, 4.0])
    assert np.allclose(plain_clearances(*given), tuned_clearances(*given), rtol=0, atol=1e-9, equal_nan=True)


def test_six_strings_and_24_frets_are_twenty_times_faster() -> None:
    plain, _, quick = times()
    assert plain / quick >= AT_LEAST, f"plain {plain * 1e6:.0f} µs, vectorised {quick * 1e6:.0f} µs"


if __name__ == "__main__":
    plain, tuned, quick = times(200)
    print(f"Clearance maps of {STRINGS} strings, {FRETS} frets, best of 200:")
    print(f"  vectorised         {quick * 1e6:7.1f} µs")
    print(f"  plain loop         {plain * 1e6:7.1f} µs, {plain / quick:.0f} times as long")
    print(f"  loop, hand tuned   {tuned * 1e6:7.1f} µs, {tuned / quick:.0f} times as long")
