"""The strip: true to scale, its band readable whatever was read, no label on another, the same in words."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.drawings.bands.rows import StripRow, side_by_side
from webapp.drawings.bands.strip import (
    LEAST_TARGET,
    Pair,
    Range,
    Read,
    Scale,
    Value,
    ends_of,
    in_full,
    scale_for,
    short,
    strip,
)
from webapp.drawings.shapes import WIDTH, Drawing, Line, Polyline, Rect, Text
from webapp.drawings.units import CENTS, INCH, MM, SIXTY_FOURTHS, THOU, Units
from webapp.trade.words import Check

Judge = Callable[[Drawing], None]
USUAL, TARGET = (0.08, 0.65), (0.15, 0.45)


def texts(drawing: Drawing) -> set[str]:
    return {s.text for s in drawing.flat() if isinstance(s, Text)}


def band_edges(drawing: Drawing) -> list[float]:
    return [s.x1 for s in drawing.flat() if isinstance(s, Line) and s.kind == "band-edge"]


def tips(drawing: Drawing) -> list[float]:
    """Where pointers stand: the shaft of each."""
    return [s.x1 for s in drawing.flat() if isinstance(s, Line) and s.kind == "ruling"]


def test_a_reading_and_what_is_expected_stand_where_they_belong() -> None:
    drawing = strip("Relief", MM, USUAL, TARGET, Value(0.6, 0.05), Value(0.54, 0.04), (0.48,))
    low, high = band_edges(drawing)
    mm = (high - low) / 0.30
    (now,) = tips(drawing)
    assert now == pytest.approx(low + 0.45 * mm)
    diamonds = [s for s in drawing.flat() if isinstance(s, Polyline) and s.kind == "after"]
    assert [d.points[0][0] for d in diamonds] == pytest.approx([low + 0.33 * mm, low + 0.39 * mm])
    (bar,) = [s for s in drawing.flat() if isinstance(s, Line) and s.kind == "after-bar"]
    assert (bar.x2 - bar.x1) == pytest.approx(0.08 * mm)
    whisker = max(
        (s for s in drawing.flat() if isinstance(s, Line) and s.y1 == s.y2 < 30), key=lambda s: s.x1
    )
    assert (whisker.x2 - whisker.x1) == pytest.approx(0.10 * mm)


def test_the_labels_and_the_words_say_the_same() -> None:
    drawing = strip(
        "Relief", MM, USUAL, TARGET, Value(0.6, 0.05), Value(0.54, 0.04), (0.48,), ends=ends_of(Check.RELIEF)
    )
    assert texts(drawing) == {"now 0.60", "after 0.54", "0.15", "0.45 mm", "target", "straight", "bowed"}
    assert drawing.description == (
        "Now 0.60 mm, give or take 0.05. Target 0.15 to 0.45 mm, usual 0.08 to 0.65 mm. After the turn 0.54 "
        "mm, give or take 0.04. Then 0.48 mm. To the left is straight, to the right bowed."
    )


def test_a_range_is_a_bar_between_two_pointers_and_never_a_point() -> None:
    drawing = strip("Relief", MM, USUAL, TARGET, Range(0.3, 0.6))
    low, high = band_edges(drawing)
    mm = (high - low) / 0.30
    assert tips(drawing) == pytest.approx([low + 0.15 * mm, low + 0.45 * mm])
    (bar,) = [s for s in drawing.flat() if isinstance(s, Line) and s.kind == "range-bar"]
    assert [bar.x1, bar.x2] == pytest.approx(tips(drawing))
    assert "now 0.30 to 0.60" in texts(drawing) and "Now 0.30 to 0.60 mm." in drawing.description


@pytest.mark.parametrize(
    ("read", "label", "edge"),
    [(Range(0.9, inf), "now over 0.90", 350.0), (Range(-inf, 0.1), "now under 0.10", 10.0)],
)
def test_an_open_range_runs_to_the_end_with_one_pointer(read: Range, label: str, edge: float) -> None:
    drawing = strip("Relief", MM, USUAL, TARGET, read)
    (bar,) = [s for s in drawing.flat() if isinstance(s, Line) and s.kind == "range-bar"]
    assert edge in (bar.x1, bar.x2) and len(tips(drawing)) == 1
    assert label in texts(drawing)


def test_a_reading_far_outside_leaves_the_band_readable() -> None:
    drawing = strip("Height, G", MM, (1.5, 3.6), (2.0, 3.0), Value(40.0, 0.1), Value(20.0), (2.5,))
    low, high = band_edges(drawing)
    assert high - low >= LEAST_TARGET
    (now,) = tips(drawing)
    middle = [s.points[0][0] for s in drawing.flat() if isinstance(s, Polyline) and s.kind == "after"]
    assert high < middle[1] < now < WIDTH and low < middle[0] < high
    assert any(isinstance(s, Rect) and s.kind == "paper" for s in drawing.flat())  # the axis is broken
    assert "now 40.0" in texts(drawing)


def test_the_word_target_gives_way_to_what_covers_it() -> None:
    beside = strip("Gap", MM, (1.5, 3.6), (1.9, 2.7), Value(5.0), Value(3.3, 0.2))
    over = strip("Gap", MM, (1.5, 3.6), (1.9, 2.7), Value(5.0), Value(2.31, 0.6))
    assert "target" in texts(beside) and "target" not in texts(over)


def test_nothing_measured_yet() -> None:
    drawing = strip("Relief", MM, USUAL, TARGET, after=Value(0.5, 0.1))
    assert drawing.description.startswith("Not measured.") and "expected 0.50" in texts(drawing)
    assert not tips(drawing)


@pytest.mark.parametrize(
    ("check", "ends"),
    [
        (Check.RELIEF, ("straight", "bowed")),
        (Check.HEIGHT, ("low", "high")),
        (Check.NUT, ("low", "high")),
        (Check.INTONATION, ("flat", "sharp")),
        (Check.PICKUPS, ("close", "far")),
    ],
)
def test_the_words_at_the_ends_follow_the_check(check: Check, ends: tuple[str, str]) -> None:
    assert ends_of(check) == ends


@pytest.mark.parametrize(
    ("read", "units", "words", "full"),
    [
        (Value(-0.2), MM, "\N{MINUS SIGN}0.20", "\N{MINUS SIGN}0.20 mm"),
        (Value(2.38125, 0.254), INCH, ".094", "0.094 in, give or take .010"),
        (Value(-9, 1.5), CENTS, "\N{MINUS SIGN}9", "\N{MINUS SIGN}9 cents, give or take 1.5"),
        (Value(2), CENTS, "+2", "+2 cents"),
        (Value(-1), CENTS, "\N{MINUS SIGN}1", "\N{MINUS SIGN}1 cent"),
        (
            Range(-8, -2.5),
            CENTS,
            "\N{MINUS SIGN}8 to \N{MINUS SIGN}2.5",
            "\N{MINUS SIGN}8 to \N{MINUS SIGN}2.5 cents",
        ),
        (Range(0.9, inf), MM, "over 0.90", "over 0.90 mm"),
    ],
)
def test_values_in_the_players_unit(read: Read, units: Units, words: str, full: str) -> None:
    assert short(read, units) == words and in_full(read, units) == full


def test_small_lengths_in_64ths_are_said_in_thou() -> None:
    assert "18 thou" in texts(strip("Relief", SIXTY_FOURTHS, USUAL, TARGET))
    assert "7.6 64ths" in texts(strip("Height", SIXTY_FOURTHS, (1.5, 3.6), (2.0, 3.0)))


def test_what_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="numbers"):
        strip("Relief", MM, USUAL, TARGET, Value(float("nan")))


READ = [Check.RELIEF, Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS]
numbers = st.floats(-60, 60).map(lambda v: round(v, 3))
widths = st.floats(0.02, 20).map(lambda v: round(v, 3))
gives = st.floats(0, 3).map(lambda v: round(v, 3))
readings = st.builds(Value, numbers, gives) | st.tuples(
    numbers | st.just(-inf), numbers | st.just(inf)
).filter(lambda r: r[0] < r[1] and r != (-inf, inf)).map(lambda r: Range(*r))


@st.composite
def bands(draw: st.DrawFn) -> tuple[Pair, Pair]:
    """Usual and target, the one around the other."""
    low, below, width, above = draw(numbers), draw(widths), draw(widths), draw(widths)
    return (low, low + below + width + above), (low + below, low + below + width)


@settings(max_examples=150, deadline=None)
@given(
    both=bands(), now=st.none() | readings, after=st.none() | st.builds(Value, numbers, gives),
    later=st.lists(numbers, max_size=4), units=st.sampled_from([MM, INCH, THOU, SIXTY_FOURTHS, CENTS]),
    check=st.sampled_from(READ),
)  # fmt: skip
def test_no_label_lies_on_another_or_leaves_the_paper(
    both: tuple[Pair, Pair], now: Read | None, after: Value | None, later: list[float], units: Units,
    check: Check, on_paper: Judge, no_overlap: Judge,
) -> None:  # fmt: skip
    drawing = strip("x", units, *both, now, after, later, ends=ends_of(check))
    on_paper(drawing)
    no_overlap(drawing)
    assert drawing.height <= 90


@settings(max_examples=150, deadline=None)
@given(both=bands(), values=st.lists(numbers, min_size=1, max_size=6))
def test_places_rise_with_their_values_and_are_true_between_the_breaks(
    both: tuple[Pair, Pair], values: list[float]
) -> None:
    usual, target = both
    scale = scale_for(values, usual, target)
    told = sorted({*values, *usual, *target})
    for one, other in pairwise(told):
        assert scale.x(one) < scale.x(other)
    assert scale.low <= usual[0] and scale.high >= usual[1]
    assert all(10 <= scale.x(v) <= 350 for v in told)
    true = [v for v in told if scale.low <= v <= scale.high]
    unit = (scale.x(target[1]) - scale.x(target[0])) / (target[1] - target[0])
    for one, other in pairwise(true):
        assert scale.x(other) - scale.x(one) == pytest.approx(unit * (other - one), abs=1e-6)
    if (usual[1] - usual[0]) / (target[1] - target[0]) < 2.5:
        assert scale.x(target[1]) - scale.x(target[0]) >= LEAST_TARGET


# side by side

ROWS = [
    StripRow("E", (1.5, 3.6), (2.0, 3.0), Value(3.2, 0.1), "a touch high", "a touch high"),
    StripRow("A", (1.4, 3.4), (1.9, 2.8), Range(2.2, 2.6), "good", "good"),
    StripRow("D", (1.3, 3.2), (1.7, 2.6), None, "not measured", "not measured"),
]


def test_rows_share_one_axis() -> None:
    drawing = side_by_side("Heights", MM, ROWS)
    edges = band_edges(drawing)
    mm = edges[1] - edges[0]
    assert [edges[2] - edges[0], edges[3] - edges[0], edges[4] - edges[0]] == pytest.approx(
        [-0.1 * mm, 0.8 * mm, -0.3 * mm]
    )
    assert [x - edges[0] for x in tips(drawing)] == pytest.approx([1.2 * mm, 0.2 * mm, 0.6 * mm])
    assert {"3.20", "2.20 to 2.60", "mm"} <= texts(drawing)
    assert "E: 3.20 mm, give or take 0.10, a touch high; target 2.00 to 3.00 mm" in drawing.description
    assert "D: not measured; target 1.70 to 2.60 mm" in drawing.description


@settings(max_examples=60, deadline=None)
@given(
    rows=st.lists(st.tuples(bands(), st.none() | readings), min_size=1, max_size=7),
    units=st.sampled_from([MM, INCH, CENTS]), names=st.sampled_from(["E", "4, E", "Tuning D, fret 12"]),
)  # fmt: skip
def test_rows_never_touch(
    rows: list[tuple[tuple[Pair, Pair], Read | None]], units: Units, names: str, on_paper: Judge,
    no_overlap: Judge,
) -> None:  # fmt: skip
    made = [StripRow(names, *both, now, "good", "good") for both, now in rows]
    drawing = side_by_side("x", units, made)
    on_paper(drawing)
    no_overlap(drawing)


def test_a_scale_that_is_broken_on_both_sides_keeps_its_order() -> None:
    scale = Scale(0.0, 1.0, 10.0, 350.0, (-50.0, 90.0))
    places = [scale.x(v) for v in (-50.0, -3.0, 0.0, 0.5, 1.0, 2.0, 90.0)]
    assert places == sorted(places) and places[0] > 10 and places[-1] < 350
    assert len(scale.breaks()) == 2 and places[1] < scale.breaks()[0] < places[2]
