"""The magnifier: one scale for everything in it, and nothing outside its ring."""

import re
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webapp.drawings.reading.magnifier import (
    FRET_HIGH_MM,
    FRET_WIDE_MM,
    Magnifier,
    Seen,
    magnify,
    seen_through,
)
from webapp.drawings.shapes import Circle, Line, Path, Plain, Rect, extent
from webapp.trade.spec import OneString

BASS_E = OneString(note="E1", gauge_mm=2.67, wound=True)
PLAIN = OneString(note="E4", gauge_mm=0.25, wound=False)
NUMBERS = re.compile(r"-?\d+\.?\d*")


def of_kind(shapes: list[Plain], kind: str) -> list[Plain]:
    return [s for s in shapes if s.kind == kind]


def tall(shape: Plain) -> float:
    _, top, _, bottom = extent(shape)
    return bottom - top


def looking(
    string: OneString = BASS_E, gap: float = 0.3, tool: str = "feeler", **more: object
) -> list[Plain]:
    return seen_through(glass_for(string, gap), Seen(string, gap, tool, **more))  # type: ignore[arg-type]


def glass_for(string: OneString, gap: float) -> Magnifier:
    return magnify(60, 60, 56, string.gauge_mm, max(gap, 0.45))


@pytest.mark.parametrize("gap", [0.1, 0.3, 2.0])
@pytest.mark.parametrize("string", [BASS_E, PLAIN], ids=["wound", "plain"])
def test_gap_string_and_fret_share_one_scale_both_ways(string: OneString, gap: float) -> None:
    shapes = looking(string, gap)
    s = glass_for(string, gap).px_per_mm
    blade = of_kind(shapes, "blade")[0]
    band, tang, dome = of_kind(shapes, "metal")
    assert tall(blade) == pytest.approx(gap * s)
    assert tall(band) == pytest.approx(string.gauge_mm * s)
    assert tall(dome) == pytest.approx(FRET_HIGH_MM * s)
    left, _, right, _ = extent(dome)
    assert right - left == pytest.approx(FRET_WIDE_MM * s)
    assert extent(band)[3] == pytest.approx(extent(blade)[1])
    assert extent(blade)[3] == pytest.approx(extent(dome)[1])
    assert extent(tang)[1] == pytest.approx(extent(dome)[3])


def test_only_a_wound_string_has_turns() -> None:
    assert of_kind(looking(BASS_E), "thin")
    assert not of_kind(looking(PLAIN), "thin")


@pytest.mark.parametrize(("gap", "cards"), [(0.29, 0), (0.3, 1), (0.59, 1), (0.6, 2), (0.95, 3)])
def test_as_many_cards_as_fit_each_as_thick_as_it_is(gap: float, cards: int) -> None:
    shapes = looking(gap=gap, tool="card", card_mm=0.3)
    s = glass_for(BASS_E, gap).px_per_mm
    pile = of_kind(shapes, "blade")
    assert len(of_kind(shapes, "card-edge")) == max(cards - 1, 0)
    assert bool(of_kind(shapes, "cross")) == (cards == 0)
    # One that does not fit is drawn as thick as it is all the same.
    assert tall(pile[0]) == pytest.approx(max(cards, 1) * 0.3 * s)


@pytest.mark.parametrize("tool", ["ruler", "gauge"])
def test_a_rules_zero_is_at_the_fret_and_its_marks_end_at_the_string(tool: str) -> None:
    shapes = looking(gap=2.4, tool=tool, marks_mm=0.5)
    glass = glass_for(BASS_E, 2.4)
    marks = of_kind(shapes, "mark-line")[0]
    assert isinstance(marks, Path)
    levels = [float(y) for y in re.findall(r"M[-\d.]+ ([-\d.]+)h", marks.d)]
    assert levels == pytest.approx([glass.floor - n * 0.5 * glass.px_per_mm for n in range(5)], abs=0.06)


def test_where_the_underside_belongs() -> None:
    shapes = looking(gap=0.08, tool="", belongs_mm=(0.25, 0.5))
    glass = glass_for(BASS_E, 0.08)
    low, high = of_kind(shapes, "belongs")
    assert isinstance(low, Line) and isinstance(high, Line)
    assert glass.floor - low.y1 == pytest.approx(0.25 * glass.px_per_mm)
    assert glass.floor - high.y1 == pytest.approx(0.5 * glass.px_per_mm)


def test_a_back_bow_leaves_the_string_on_the_fret() -> None:
    shapes = looking(gap=-0.25)
    assert not of_kind(shapes, "blade")
    assert extent(of_kind(shapes, "metal")[0])[3] == pytest.approx(glass_for(BASS_E, -0.25).floor)


@given(
    gap=st.floats(-1, 8),
    gauge=st.floats(0.2, 4),
    wound=st.booleans(),
    tool=st.sampled_from(["feeler", "card", "ear", "ruler", "gauge"]),
    pickup=st.booleans(),
    marks=st.sampled_from([0.05, 0.25, 0.254, 0.396875, 0.5, 1.0]),
)
def test_all_within_the_ring(
    gap: float, gauge: float, wound: bool, tool: str, pickup: bool, marks: float
) -> None:
    string = OneString(note="E1", gauge_mm=gauge, wound=wound)
    glass = glass_for(string, gap)
    for shape in seen_through(glass, Seen(string, gap, tool, pickup=pickup, marks_mm=marks)):
        left, top, right, bottom = extent(shape)
        assert max(abs(left - 60), abs(right - 60), abs(top - 60), abs(bottom - 60)) <= 56.1, shape
        if isinstance(shape, Line):
            assert max(hypot(shape.x1 - 60, shape.y1 - 60), hypot(shape.x2 - 60, shape.y2 - 60)) < 56.2
        if isinstance(shape, Path) and shape.kind == "thin":
            xy = [float(n) for n in NUMBERS.findall(shape.d)]
            assert max(hypot(x - 60, y - 60) for x, y in zip(xy[::2], xy[1::2], strict=True)) < 56.2


def test_the_ring_comes_last_and_is_as_large_as_the_glass() -> None:
    ring = looking()[-1]
    assert isinstance(ring, Circle) and (ring.kind, ring.r) == ("ruling", 56)


def test_under_a_pickup_string_the_pole_takes_the_frets_place() -> None:
    shapes = looking(gap=2.0, tool="ruler", pickup=True)
    poles = [s for s in of_kind(shapes, "metal") if isinstance(s, Rect)]
    assert len(poles) == 1 and poles[0].y == pytest.approx(glass_for(BASS_E, 2.0).floor)
    assert not of_kind(shapes, "board")
