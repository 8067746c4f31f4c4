"""How each place has moved: one axis of time, each line true to its own target, all in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.drawings.bands.strip import Range, Read, Value
from webapp.drawings.over_time.sparkline import Moved, small_multiples
from webapp.drawings.shapes import Circle, Drawing, Line, LinkedShape, Polyline, Rect, Text
from webapp.drawings.units import CENTS, INCH, MM

Judge = Callable[[Drawing], None]
DAY = datetime(2024, 3, 3, 9, tzinfo=UTC)


def at(days: float, read: Read) -> tuple[datetime, Read]:
    return DAY + timedelta(days=days), read


RELIEF = Moved(
    "Relief", MM, (0.15, 0.45), (at(0, Value(0.3)), at(100, Value(0.4)), at(300, Value(0.6))), "a touch high",
    "a touch bowed", "/history/relief",
)  # fmt: skip
NUT = Moved("Nut, A", MM, (0.25, 0.5), (at(200, Value(0.3)),), "good", "good", "/history/nut.3")


def test_each_line_is_true_to_its_target_and_all_share_the_time() -> None:
    drawing = small_multiples([RELIEF, NUT])
    relief, nut = [s for s in drawing.shapes if isinstance(s, LinkedShape)]
    band = next(s for s in relief.shapes if isinstance(s, Rect) and s.kind == "target")
    (line,) = [s for s in relief.shapes if isinstance(s, Polyline) and s.kind == "series"]
    shares = [(band.y + band.h - y) / band.h for _, y in line.points]
    assert shares == pytest.approx([0.5, 5 / 6, 1.5])
    (x1, x2, x3), *_ = [tuple(x for x, _ in line.points)]
    assert (x3 - x2) / (x2 - x1) == pytest.approx(2)
    dot = next(s for s in nut.shapes if isinstance(s, Circle) and s.kind == "point")
    assert dot.cx == pytest.approx(x2 + (x3 - x2) / 2)


def test_each_row_leads_to_its_readings_and_says_all_of_it() -> None:
    drawing = small_multiples([RELIEF, NUT])
    links = [s for s in drawing.shapes if isinstance(s, LinkedShape)]
    assert [link.href for link in links] == ["/history/relief", "/history/nut.3"]
    assert links[0].label == (
        "Relief: 0.60 mm on 28 Dec 2024, 0.30 on 3 Mar 2024; a touch bowed; target 0.15 to 0.45 mm"
    )
    assert links[0].label in drawing.description and links[1].label in drawing.description
    assert {"0.60 mm", "0.30 mm", "Nut, A"} <= {s.text for s in drawing.flat() if isinstance(s, Text)}
    hits = [s for link in links for s in link.shapes if isinstance(s, Rect) and s.kind == "hit"]
    assert all(hit.h >= 44 for hit in hits)


def test_a_reading_far_out_stays_in_its_row_and_a_range_reaches() -> None:
    wild = replace(RELIEF, readings=(at(0, Value(0.3)), at(100, Range(0.9, inf)), at(300, Value(-40))))
    drawing = small_multiples([wild])
    (row,) = [s for s in drawing.shapes if isinstance(s, LinkedShape)]
    (line,) = [s for s in row.shapes if isinstance(s, Polyline) and s.kind == "series"]
    assert all(0 <= y <= 44 for _, y in line.points) and line.points[2][1] > line.points[0][1]
    (reach,) = [s for s in row.shapes if isinstance(s, Line) and s.kind == "reach"]
    assert reach.x1 == reach.x2 == line.points[1][0]


def test_a_place_that_was_never_read_has_its_row_and_none_read_is_refused() -> None:
    never = replace(NUT, readings=(), word="not measured", said="not measured")
    assert "Nut, A: not measured." in small_multiples([RELIEF, never]).description
    with pytest.raises(ValueError, match="nothing was read"):
        small_multiples([never])


values = st.floats(-30, 30).map(lambda v: round(v, 2))
reads = st.builds(Value, values) | st.builds(lambda a, w: Range(a, a + w), values, st.floats(0.1, 3))
moved = st.builds(
    lambda name, units, low, width, some: Moved(
        name, units, (low, low + width), tuple(at(d, r) for d, r in sorted(some, key=lambda s: s[0])), "good",
        "good", "#",
    ),
    st.sampled_from(["Relief", "Tuning D, fret 12", "Pickup 1, treble side"]),
    st.sampled_from([MM, INCH, CENTS]), values, st.floats(0.05, 3),
    st.lists(st.tuples(st.floats(0, 4000), reads), min_size=1, max_size=12),
)  # fmt: skip


@settings(max_examples=80, deadline=None)
@given(rows=st.lists(moved, min_size=1, max_size=8))
def test_nothing_overlaps_and_nothing_leaves_the_paper(
    rows: list[Moved], on_paper: Judge, no_overlap: Judge
) -> None:
    drawing = small_multiples(rows)
    on_paper(drawing)
    no_overlap(drawing)
