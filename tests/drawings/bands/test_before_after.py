"""Before and after: every row true to its own target, all targets in one line, units with their numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.drawings.bands.before_after import Change, before_after
from webapp.drawings.bands.strip import Range, Value
from webapp.drawings.marks import REPAIRER
from webapp.drawings.shapes import Circle, Drawing, Line, Polyline, Rect, Text
from webapp.drawings.units import CENTS, INCH, MM
from webapp.setups.states import Word

Judge = Callable[[Drawing], None]
RELIEF = Change("Relief", MM, (0.08, 0.65), (0.15, 0.45), Value(0.6, 0.05), Value(0.3, 0.05), "good", "good")
HEIGHT = Change("Height E", MM, (1.5, 3.6), (2.0, 3.0), Value(3.3), Value(3.0), "good", "good")
NUT = Change("Nut A", MM, (0.15, 0.7), (0.25, 0.5), Value(0.2), None, REPAIRER, "a touch low")
CENT = Change("Tuning D, fret 12", CENTS, (-8, 8), (-3, 3), Value(-5), Value(-2), "good", "good")


def target(drawing: Drawing) -> Rect:
    (found,) = [s for s in drawing.flat() if isinstance(s, Rect) and s.kind == "target"]
    return found


def dots(drawing: Drawing, kind: str) -> list[float]:
    return [s.cx for s in drawing.flat() if isinstance(s, Circle) and s.kind == kind]


def texts(drawing: Drawing) -> list[str]:
    return [s.text for s in drawing.flat() if isinstance(s, Text)]


def test_each_row_is_laid_on_its_own_target() -> None:
    drawing = before_after([RELIEF, HEIGHT, NUT])
    band = target(drawing)

    def share(x: float) -> float:
        return (x - band.x) / band.w

    assert list(map(share, dots(drawing, "before"))) == pytest.approx([1.5, 1.3, -0.2])
    assert list(map(share, dots(drawing, "ink-fill"))) == pytest.approx([0.5, 1.0])
    usual = [s for s in drawing.flat() if isinstance(s, Rect) and s.kind == "usual"]
    assert share(usual[0].x + usual[0].w) == pytest.approx((0.65 - 0.15) / 0.30)
    assert share(usual[1].x) == pytest.approx(-0.5)
    edges = [s for s in drawing.flat() if isinstance(s, Line) and s.kind == "band-edge"]
    assert [e.x1 for e in edges] == pytest.approx([band.x, band.x + band.w])


def test_the_arrow_points_from_before_to_after() -> None:
    drawing = before_after([RELIEF])
    (head,) = [s for s in drawing.flat() if isinstance(s, Polyline) and s.kind == "ink-fill"]
    (before,), (after,) = dots(drawing, "before"), dots(drawing, "ink-fill")
    assert after < head.points[0][0] < head.points[1][0] < before


def test_units_stand_over_their_numbers_and_anew_where_they_change() -> None:
    found = texts(before_after([RELIEF, CENT, HEIGHT]))
    order = [
        found.index("0.60 \N{RIGHTWARDS ARROW} 0.30"),
        found.index("\N{MINUS SIGN}5 \N{RIGHTWARDS ARROW} \N{MINUS SIGN}2"),
    ]
    assert found.index("mm") < order[0] < found.index("cents") < order[1]
    assert found.count("mm") == 2 and found.count("cents") == 1
    assert "in" in texts(before_after([replace(RELIEF, units=INCH)]))


def test_what_is_left_for_a_repairer_has_no_after_and_says_so() -> None:
    drawing = before_after([NUT])
    assert "0.20" in texts(drawing) and not dots(drawing, "ink-fill")
    assert drawing.description == "Nut A: left at 0.20 mm, for a repairer; target 0.25 to 0.50 mm."
    both = before_after([RELIEF]).description
    assert both == (
        "Relief: 0.60 mm, give or take 0.05, then 0.30 mm, give or take 0.05, good; target 0.15 to 0.45 mm."
    )


def test_a_reading_far_out_is_behind_a_break_and_a_range_is_no_circle() -> None:
    far = replace(HEIGHT, before=Value(9.0))
    drawing = before_after([far, replace(HEIGHT, before=Range(3.2, inf))])
    band = target(drawing)
    assert band.x + band.w < dots(drawing, "before")[0] < 300
    assert sum(isinstance(s, Rect) and s.kind == "paper" for s in drawing.flat()) == 1
    assert len(dots(drawing, "before")) == 1
    assert any(isinstance(s, Polyline) and s.kind == "before" for s in drawing.flat())


def test_no_rows_are_refused() -> None:
    with pytest.raises(ValueError, match="no rows"):
        before_after([])


def test_a_target_of_one_value_stands_in_the_middle_of_where_targets_stand() -> None:
    drawing = before_after([replace(HEIGHT, target=(2.0, 2.0), before=Value(2.0, 0.1), after=None)])
    band = target(drawing)
    assert dots(drawing, "before")[0] == pytest.approx(band.x + band.w / 2, abs=0.1)


values = st.floats(-30, 30).map(lambda v: round(v, 2))
reads = st.builds(Value, values, st.just(0.1)) | st.builds(
    lambda a, w: Range(a, a + w), values, st.floats(0.1, 3)
)
names = st.sampled_from(["Relief", "Height E", "Tuning D, fret 12", "Pickup 1, treble side"])
changes = st.builds(
    lambda name, units, low, width, beyond, before, after, word: Change(
        name, units, (low - beyond, low + width + beyond), (low, low + width), before, after, word, word
    ),
    names, st.sampled_from([MM, INCH, CENTS]), values, st.just(0.0) | st.floats(0.05, 3), st.floats(0, 3),
    reads, st.none() | reads, st.sampled_from([*map(str, Word), REPAIRER]),
)  # fmt: skip


@settings(max_examples=120, deadline=None)
@given(rows=st.lists(changes, min_size=1, max_size=12))
def test_nothing_overlaps_and_nothing_leaves_the_paper(
    rows: list[Change], on_paper: Judge, no_overlap: Judge
) -> None:
    drawing = before_after(rows)
    on_paper(drawing)
    no_overlap(drawing)
    assert target(drawing).w > 40
