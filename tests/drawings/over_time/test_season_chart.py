"""The season chart: true to value and time, both series, thinned without losing a peak, all in words."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from statistics import NormalDist
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.drawings.over_time.axes import TimeAxis, thin, time_axis
from webapp.drawings.over_time.season_chart import (
    EVEN_ODDS,
    MOST_POINTS,
    Ahead,
    AirValue,
    SeasonPoint,
    SeasonSeries,
    SeasonTurn,
    season_chart,
)
from webapp.drawings.shapes import Circle, Drawing, Line, LinkedShape, Polyline, Rect, Text

Judge = Callable[[Drawing], None]
DAY = datetime(2024, 3, 3, 9, tzinfo=UTC)


def after(days: float) -> datetime:
    return DAY + timedelta(days=days)


def point(days: float, measured: float, itself: float = 0.3, **changes: Any) -> SeasonPoint:
    number = f"p-{days:g}"
    return SeasonPoint(
        after(days), measured, itself, f"{measured:g} mm", f"?point={number}", number, **changes
    )


def series(points: list[SeasonPoint], **changes: Any) -> SeasonSeries:
    told: dict[str, Any] = {
        "points": points, "turns": [], "air": [], "target": (0.15, 0.45), "usual": (0.08, 0.65), "unit": "mm",
        "places": 2,
    }  # fmt: skip
    return SeasonSeries(**(told | changes))


def turn(days: float, number: int, words: str = "") -> SeasonTurn:
    return SeasonTurn(after(days), words or f"Turn {number}.", f"#turn-{number}", number)


def texts(drawing: Drawing) -> list[str]:
    return [s.text for s in drawing.flat() if isinstance(s, Text)]


def links(drawing: Drawing) -> list[LinkedShape]:
    return [s for s in drawing.shapes if isinstance(s, LinkedShape)]


THREE = [point(0, 0.3, 0.3), point(100, 0.5, 0.4), point(300, 0.2, 0.45)]


def test_points_lie_true_to_value_and_time() -> None:
    drawing = season_chart(series(THREE), "Relief")
    marks = [s for link in links(drawing) for s in link.shapes if isinstance(s, Circle) and s.kind == "point"]
    target = next(s for s in drawing.shapes if isinstance(s, Rect) and s.kind == "target")
    px = target.h / 0.30
    assert marks[0].cy - marks[1].cy == pytest.approx(0.2 * px)
    assert target.y + target.h - marks[2].cy == pytest.approx((0.2 - 0.15) * px)
    assert (marks[2].cx - marks[1].cx) / (marks[1].cx - marks[0].cx) == pytest.approx(2)


def test_the_neck_by_itself_is_a_line_of_its_own() -> None:
    drawing = season_chart(series(THREE), "Relief")
    (itself,) = [s for s in drawing.shapes if isinstance(s, Polyline) and s.kind == "itself"]
    (measured,) = [s for s in drawing.shapes if isinstance(s, Polyline) and s.kind == "series"]
    assert len(itself.points) == len(measured.points) == 3
    assert itself.points[0] == measured.points[0] and itself.points[1][1] > measured.points[1][1]
    assert {"as measured", "the neck by itself"} <= set(texts(drawing))


def test_a_range_is_drawn_as_far_as_it_reaches_and_an_open_end_to_the_edge() -> None:
    points = [
        point(0, 0.45, reach=(0.3, 0.6)), point(100, 0.5), point(200, 0.6, reach=(0.45, float("inf"))),
    ]  # fmt: skip
    drawing = season_chart(series(points), "Relief")
    closed, open_end = [s for s in drawing.flat() if isinstance(s, Line) and s.kind == "reach"]
    target = next(s for s in drawing.shapes if isinstance(s, Rect) and s.kind == "target")
    px = target.h / 0.30
    assert abs(closed.y1 - closed.y2) == pytest.approx(0.3 * px)
    assert min(open_end.y1, open_end.y2) < target.y - 0.2 * px
    assert "As measured: 0.30 to 0.60 mm." in drawing.description


def test_every_point_and_turn_is_a_link_in_order_of_time() -> None:
    turns = [turn(50, 1, "Rod: tightened."), turn(250, 2, "Strings.")]
    drawing = season_chart(series(THREE, turns=turns), "Relief")
    assert [link.href for link in links(drawing)] == [
        "?point=p-0", "#turn-1", "?point=p-100", "#turn-2", "?point=p-300",
    ]  # fmt: skip
    assert links(drawing)[1].label == "Rod: tightened."
    assert links(drawing)[0].id == "p-0" and drawing.has_links
    flags = [s for s in drawing.flat() if isinstance(s, Text) and s.kind == "disc-number"]
    assert [flag.text for flag in flags] == ["1", "2"]
    assert "Turned: 22 Apr 2024, 8 Nov 2024." in drawing.description


def test_the_chosen_point_is_ringed_and_named() -> None:
    points = [THREE[0], point(100, 0.5, 0.4, chosen=True), THREE[2]]
    drawing = season_chart(series(points), "Relief")
    assert [link.current for link in links(drawing)] == [False, True, False]
    assert sum(isinstance(s, Circle) and s.kind == "chosen" for s in drawing.flat()) == 2


def test_the_air_lies_beneath_on_the_same_axis_of_time() -> None:
    air = [AirValue(after(d), 40 + d / 20) for d in range(-60, 301)]
    drawing = season_chart(series(THREE, air=air), "Relief")
    (line,) = [s for s in drawing.shapes if isinstance(s, Polyline) and s.kind == "air"]
    first, last = links(drawing)[0].shapes[0], links(drawing)[-1].shapes[0]
    assert isinstance(first, Circle) and isinstance(last, Circle)
    assert line.points[-1][0] == pytest.approx(last.cx, abs=1)
    assert line.points[0][0] < first.cx
    floor = next(s for s in drawing.shapes if isinstance(s, Line) and s.kind == "outline").y1
    assert all(y > floor for _, y in line.points) and "air, % humidity" in texts(drawing)
    assert "Humidity 38 to 55 %." in drawing.description


def test_where_the_air_is_not_known_no_line_is_drawn() -> None:
    air = [AirValue(after(d), 40) for d in (0, 1, 2, 100, 101)]
    drawing = season_chart(series(THREE, air=air), "Relief")
    assert sum(isinstance(s, Polyline) and s.kind == "air" for s in drawing.shapes) == 2
    assert "air, % humidity" not in texts(season_chart(series(THREE), "Relief"))


def test_ten_years_are_thinned_and_say_so_and_keep_every_peak() -> None:
    points = [point(n * 0.73, 0.3 + 0.1 * ((n * 7919) % 100) / 100, 0.3) for n in range(5000)]
    points[2345] = point(2345 * 0.73, 0.61, 0.3)
    points[3456] = point(3456 * 0.73, 0.3, 0.02)
    drawing = season_chart(series(points), "Relief")
    found = links(drawing)
    assert MOST_POINTS < len(found) < 400
    assert {points[2345].id, points[3456].id, points[0].id} <= {link.id for link in found}
    assert f"Of 5,000 readings {len(found)} are drawn" in drawing.note
    assert drawing.description.startswith("5,000 readings from 3 Mar 2024 to 28 Feb 2034.")


def test_a_chosen_point_is_never_thinned_away() -> None:
    points = [point(n * 0.73, 0.3, 0.3) for n in range(5000)]
    dull = next(
        p for p in points if p.id not in {link.id for link in links(season_chart(series(points), "R"))}
    )
    chosen = [
        p if p is not dull else point((p.at - DAY) / timedelta(days=1), 0.3, 0.3, chosen=True) for p in points
    ]
    assert [link.current for link in links(season_chart(series(chosen), "R"))].count(True) == 1


def test_flags_that_would_cover_each_other_take_two_lanes_and_then_become_one() -> None:
    two = season_chart(series(THREE, turns=[turn(100, 1), turn(110, 2)]), "Relief")
    assert [link.href for link in links(two) if link.href.startswith("#turn")] == ["#turn-1", "#turn-2"]
    drawing = season_chart(series(THREE, turns=[turn(100 + n / 10, n) for n in range(5)]), "Relief")
    words = [link.label for link in links(drawing) if link.href.startswith("#turn")]
    assert words == ["Turn 0. And 4 more soon after."] and "0+" in texts(drawing)


AHEAD = [Ahead(after(300 + d), 0.25 + d / 800, 0.02 + d / 2000) for d in range(0, 101, 20)]


def test_what_is_ahead_is_a_fan_of_two_widths_from_today_on() -> None:
    drawing = season_chart(series(THREE, ahead=AHEAD, rests_on="if it stays dry"), "Relief")
    target = next(s for s in drawing.shapes if isinstance(s, Rect) and s.kind == "target")
    px = target.h / 0.30
    wide, narrow = [s for s in drawing.shapes if isinstance(s, Polyline) and s.kind == "fan"][:2]
    count = len(AHEAD)
    last_wide = wide.points[count][1] - wide.points[count - 1][1]
    last_narrow = narrow.points[count][1] - narrow.points[count - 1][1]
    assert last_wide == pytest.approx(2 * 0.07 * px)
    assert last_narrow == pytest.approx(EVEN_ODDS * last_wide)
    (today,) = [s for s in drawing.shapes if isinstance(s, Line) and s.kind == "centre"]
    assert today.x1 == pytest.approx(wide.points[0][0])
    assert {"today", "expected", "0.38"} <= set(texts(drawing))
    assert "Expected on 7 Apr 2025 if it stays dry: 0.38 mm, give or take 0.07." in drawing.description
    assert drawing.note.startswith("The fan is what to expect if it stays dry: right 1 in 2")
    assert not any(s.kind == "fan" for s in season_chart(series(THREE), "Relief").flat())


def test_even_odds_are_those_of_a_normal_spread() -> None:
    normal = NormalDist()
    assert pytest.approx(normal.inv_cdf(0.75) / normal.inv_cdf(0.95), abs=0.001) == EVEN_ODDS


def test_nothing_and_what_is_no_number_are_refused() -> None:
    with pytest.raises(ValueError):
        season_chart(series([]), "Relief")
    with pytest.raises(ValueError):
        season_chart(series([point(0, float("nan"))]), "Relief")


figures = st.floats(-20, 20).map(lambda v: round(v, 3))
reaches = st.tuples(figures | st.just(float("-inf")), figures | st.just(float("inf"))).filter(
    lambda r: r[0] < r[1]
)
bands = st.tuples(figures, st.floats(0.01, 5)).map(lambda b: (b[0], b[0] + b[1]))


@settings(max_examples=50, deadline=None)
@given(
    rows=st.lists(
        st.tuples(st.floats(0, 4000), figures, figures, st.none() | reaches), min_size=1, max_size=30
    ),
    turned=st.lists(st.floats(-100, 4100), max_size=8),
    days=st.lists(st.tuples(st.integers(-100, 4100), st.floats(0, 100)), max_size=30),
    target=bands,
    usual=bands,
    ahead=st.lists(st.tuples(figures, st.floats(0.01, 5)), max_size=5),
)
def test_any_history_stays_on_the_paper(
    rows: list[tuple[float, float, float, tuple[float, float] | None]],
    turned: list[float],
    days: list[tuple[int, float]],
    target: tuple[float, float],
    usual: tuple[float, float],
    ahead: list[tuple[float, float]],
    on_paper: Judge,
    no_overlap: Judge,
) -> None:
    points = [point(d, m, i, reach=r) for d, m, i, r in sorted(rows, key=lambda row: row[0])]
    turns = [turn(d, n) for n, d in enumerate(sorted(turned), 95)]
    air = [AirValue(after(d), h) for d, h in sorted(dict(days).items())]
    fan = [Ahead(points[-1].at + timedelta(days=30 * n), *one) for n, one in enumerate(ahead)]
    told = series(points, turns=turns, air=air, target=target, usual=usual, ahead=fan)
    drawing = season_chart(told, "t")
    on_paper(drawing)
    no_overlap(drawing)


# the axis of time


@given(st.integers(1, 9000))
def test_dates_on_the_axis_keep_apart_and_lie_where_they_belong(span: int) -> None:
    axis = time_axis(DAY, after(span), 40, 348)
    ticks = axis.ticks()
    places = [x for x, _ in ticks]
    assert places == sorted(places) and len(ticks) <= 8
    assert all(40 <= x <= 348 for x in places)
    if span > 40:
        assert ticks


def test_days_then_months_then_years() -> None:
    short = TimeAxis(DAY, after(120), 40, 348).ticks()
    assert [text for _, text in short] == ["Apr 2024", "May", "Jun", "Jul"]
    over = TimeAxis(DAY, after(500), 40, 348).ticks()
    assert [text for _, text in over] == ["Apr", "Jul", "Oct", "2025", "Apr", "Jul"]
    long = TimeAxis(DAY, after(3650), 40, 348).ticks()
    assert all(len(text) == 4 for _, text in long) and len(long) >= 4
    days = TimeAxis(DAY, after(30), 40, 348).ticks()
    assert [text for _, text in days] == ["17 Mar 2024", "31 Mar"]
    assert TimeAxis(DAY, after(120), 40, 348).x(after(60)) == pytest.approx(194)


@given(st.lists(st.tuples(st.floats(0, 50), st.floats(-9, 9)), min_size=1, max_size=60))
def test_thinning_keeps_the_lowest_and_the_highest_of_every_column(items: list[tuple[float, float]]) -> None:
    items.sort()
    kept = thin(items, lambda i: i[0], (lambda i: i[1],), 5.0)
    assert kept == sorted(kept, key=lambda i: i[0]) and set(kept) <= set(items)
    for column in range(11):
        among = [v for x, v in items if int(x // 5) == column]
        left = [v for x, v in kept if int(x // 5) == column]
        assert len(left) <= 2
        if among:
            assert (min(left), max(left)) == (min(among), max(among))
