"""The pull of the strings: bars from nothing, to one scale."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from webapp.drawings.bands.pull import Pull, pull_bars
from webapp.drawings.shapes import Circle, Drawing, Rect

Judge = Callable[[Drawing], None]
BASS = [Pull("E", 180, "180 N"), Pull("A", 210, "210 N"), Pull("D", 219, "219 N"), Pull("G", 191, "191 N")]


def bars(drawing: Drawing) -> list[Rect]:
    return [s for s in drawing.flat() if isinstance(s, Rect)]


def test_each_bar_is_as_long_as_its_string_pulls() -> None:
    found = bars(pull_bars(BASS, "Pull"))
    assert len({bar.x for bar in found}) == 1
    assert [bar.w / found[0].w for bar in found] == pytest.approx([p.newton / 180 for p in BASS])


def test_what_pulled_before_stands_on_the_same_scale() -> None:
    drawing = pull_bars([Pull("E", 100, "100 N, less", 200.0)], "Pull")
    (bar,), (ring,) = bars(drawing), [s for s in drawing.flat() if isinstance(s, Circle)]
    assert ring.cx - bar.x == pytest.approx(2 * bar.w)
    assert drawing.description == "E: 100 N, less, before 200 N."


def test_nothing_overlaps_and_nothing_leaves_the_paper(on_paper: Judge, no_overlap: Judge) -> None:
    long = [Pull(f"E (1)/E ({n})", 80.0 + n, "180 N, slacker", 60.0) for n in range(12)]
    for rows in (BASS, long):
        drawing = pull_bars(rows, "Pull")
        on_paper(drawing)
        no_overlap(drawing)
        assert min(bar.w for bar in bars(drawing)) > 20


def test_without_any_pull_there_is_nothing_to_draw() -> None:
    for none in ([], [Pull("E", 0.0, "0 N")]):
        with pytest.raises(ValueError, match="pulls is needed"):
            pull_bars(none, "Pull")
