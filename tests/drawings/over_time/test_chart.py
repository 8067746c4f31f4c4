"""The line chart: places true to value and time, dates that keep apart, the same numbers in words."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.drawings.over_time.chart import ChartPoint, line_chart
from webapp.drawings.shapes import Circle, Drawing, Line, LinkedShape, Polyline, Rect, Text

Judge = Callable[[Drawing], None]
Width = tuple[float, float] | None

DAY = datetime(2024, 3, 3, 9, tzinfo=UTC)
POINTS = [
    ChartPoint(DAY, 0.72, "before", "/entries/1"),
    ChartPoint(DAY + timedelta(days=100), 0.35, ""),
    ChartPoint(DAY + timedelta(days=300), 0.50, "if nothing is turned", measured=False),
]
TARGET, USUAL = (0.15, 0.45), (0.08, 0.65)


def test_points_lie_true_to_value_and_time() -> None:
    drawing = line_chart(POINTS, TARGET, USUAL, "mm", "Relief")
    first, second = [s for s in drawing.flat() if isinstance(s, Circle) and s.kind == "point"][:2]
    target = next(s for s in drawing.shapes if isinstance(s, Rect) and s.kind == "target")
    px = target.h / 0.30
    assert second.cy - first.cy == pytest.approx((0.72 - 0.35) * px)
    assert target.y + target.h - second.cy == pytest.approx((0.35 - 0.15) * px)
    diamond = next(s for s in drawing.flat() if isinstance(s, Polyline) and s.kind == "after")
    third = diamond.points[0][0]
    assert (third - second.cx) / (second.cx - first.cx) == pytest.approx(2)


def test_only_points_with_an_address_are_links() -> None:
    drawing = line_chart(POINTS, TARGET, USUAL, "mm", "Relief")
    links = [s for s in drawing.shapes if isinstance(s, LinkedShape)]
    assert [link.href for link in links] == ["/entries/1"]
    assert links[0].label == "3 Mar 2024: 0.72 mm (before)"
    assert drawing.has_links
    assert not line_chart(POINTS[1:], TARGET, USUAL, "mm", "Relief").has_links


def test_words_and_legend() -> None:
    drawing = line_chart(POINTS, TARGET, USUAL, "mm", "Relief")
    for words in (
        "Target 0.15 to 0.45 mm",
        "Usual 0.08 to 0.65 mm",
        "3 Mar 2024: 0.72 mm",
        "11 Jun 2024: 0.35 mm",
        "28 Dec 2024: 0.50 mm, forecast",
    ):
        assert words in drawing.description
    written = {s.text for s in drawing.flat() if isinstance(s, Text)}
    assert {"measured", "forecast", "target", "usual", "mm", "Jul"} <= written


def test_a_range_is_drawn_as_far_as_it_reaches_and_said_as_a_range() -> None:
    points = [
        ChartPoint(DAY, 0.45, "good", said="0.30 to 0.60 mm", reach=(0.3, 0.6)),
        ChartPoint(DAY + timedelta(days=100), 0.15, "cannot tell", said="less than 0.30 mm",
                   reach=(float("-inf"), 0.3)),
    ]  # fmt: skip
    drawing = line_chart(points, TARGET, USUAL, "mm", "Relief")
    target = next(s for s in drawing.shapes if isinstance(s, Rect) and s.kind == "target")
    px = target.h / 0.30
    closed, open_end = [s for s in drawing.flat() if isinstance(s, Line) and s.kind == "reach"]
    assert abs(closed.y1 - closed.y2) == pytest.approx(0.3 * px)
    assert abs(open_end.y1 - open_end.y2) > 0.3 * px - 1
    assert "3 Mar 2024: 0.30 to 0.60 mm (good)." in drawing.description
    assert "less than 0.30 mm (cannot tell)" in drawing.description
    assert "0.45" not in drawing.description.partition("Usual")[2]


def test_a_band_is_named_inside_where_there_is_room_and_else_in_the_legend() -> None:
    drawing = line_chart(POINTS, TARGET, USUAL, "mm", "Relief")
    (name,) = [s for s in drawing.flat() if isinstance(s, Text) and s.text == "target"]
    band = next(s for s in drawing.shapes if isinstance(s, Rect) and s.kind == "target")
    assert band.y <= name.box[1] and name.box[3] <= band.y + band.h
    points = [s for s in drawing.flat() if isinstance(s, Circle) and s.kind == "point"]
    assert not any(name.box[0] < p.cx < name.box[2] and name.box[1] < p.cy < name.box[3] for p in points)
    thin = line_chart(POINTS, (0.30, 0.31), USUAL, "mm", "Relief")
    (name,) = [s for s in thin.flat() if isinstance(s, Text) and s.text == "target"]
    floor = next(s for s in thin.shapes if isinstance(s, Line) and s.kind == "outline").y1
    assert name.y > floor + 20


def test_order_of_the_points_does_not_matter() -> None:
    assert line_chart(POINTS, TARGET, None, "mm", "t") == line_chart(POINTS[::-1], TARGET, None, "mm", "t")


def test_nothing_yet() -> None:
    drawing = line_chart([], TARGET, USUAL, "mm", "Relief")
    assert "No readings yet" in {s.text for s in drawing.flat() if isinstance(s, Text)}
    assert "No readings yet." in drawing.description


def test_a_value_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        line_chart([ChartPoint(DAY, float("nan"), "")], None, None, "mm", "t")


values = st.floats(-100, 100).map(lambda v: round(v, 3))
widths = st.none() | st.tuples(values, st.floats(0, 5))
series = st.lists(st.tuples(st.integers(0, 4000), values, st.booleans()), max_size=30)


@settings(max_examples=60, deadline=None)
@given(rows=series, target=widths, usual=widths)
def test_any_history_stays_on_the_paper(
    rows: list[tuple[int, float, bool]], target: Width, usual: Width, on_paper: Judge, no_overlap: Judge
) -> None:
    points = [ChartPoint(DAY + timedelta(days=d), v, "", "/x", measured=m) for d, v, m in rows]
    bands = [None if band is None else (band[0], band[0] + band[1]) for band in (target, usual)]
    drawing = line_chart(points, bands[0], bands[1], "cents", "t")
    on_paper(drawing)
    no_overlap(drawing)
