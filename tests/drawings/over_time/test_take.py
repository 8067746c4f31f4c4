"""What to play, and what was heard: every note where it was, on paper, in words."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from webapp.drawings.over_time.take import Played, Step, steps_drawing, take_drawing
from webapp.drawings.shapes import Circle, Drawing, Rect, Text
from webapp.physics.frets import fret_position

Judge = Callable[[Drawing], None]


@pytest.mark.parametrize(("scale_mm", "last", "high"), [(863.6, 20, 19), (650.0, 19, 15), (600.0, 13, 13)])
def test_the_steps_lie_where_the_finger_goes(
    scale_mm: float, last: int, high: int, on_paper: Judge, no_overlap: Judge
) -> None:
    drawing = steps_drawing(scale_mm, [Step(0, 2), Step(12, 2), Step(high, 2), Step(0, 2)], last)
    on_paper(drawing)
    no_overlap(drawing)
    discs = [shape for shape in drawing.flat() if isinstance(shape, Circle)]
    assert len(discs) == 4
    board = next(shape for shape in drawing.flat() if isinstance(shape, Rect))
    per_mm = (board.w - 6) / fret_position(scale_mm, last)
    behind, at = (board.x + per_mm * fret_position(scale_mm, fret) for fret in (11, 12))
    assert high < 15 or behind < discs[1].cx < at
    assert discs[0].cx == discs[3].cx and discs[0].cy < discs[3].cy
    assert drawing.description == (
        f"1: the open string twice, 2: fret 12 twice, 3: fret {high} twice, 4: the open string twice."
    )


@pytest.mark.parametrize(("lanes", "each_s"), [(2, 3.0), (12, 2.5), (3, 20.0)])
def test_each_note_is_where_it_was_heard(
    lanes: int, each_s: float, on_paper: Judge, no_overlap: Judge
) -> None:
    names = [f"E string ({number})" for number in range(lanes)]
    played = [
        Played(number + 1, names[number // 2], 1 + each_s * number, number != 1, f"{number} cents")
        for number in range(2 * lanes)
    ]
    seconds = 2 + each_s * 2 * lanes
    drawing = take_drawing(names, played, [0.4], seconds)
    on_paper(drawing)
    no_overlap(drawing)
    bars = [shape for shape in drawing.flat() if isinstance(shape, Rect)]
    starts = [bar.x for bar in bars]
    assert starts == sorted(starts) and len(bars) == len(played)
    per_s = (starts[-1] - starts[0]) / (each_s * (2 * lanes - 1))
    assert bars[0].w <= max(8, 3 * per_s) and all(
        a.x + a.w < b.x for a, b in zip(bars, bars[1:], strict=False)
    )
    assert [bar.kind for bar in bars].count("forecast") == 1
    for one in played:
        assert f"{one.number}, {one.lane}, {one.said}" in drawing.description
    assert "something else at 0 s" in drawing.description
    assert any(isinstance(shape, Text) and shape.text == "0 s" for shape in drawing.flat())
