"""The neck from the side: true, and as lines whose written factor is the drawn one."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.drawings.conftest import Judge
from tests.drawings.gallery.reading import COMMON, side_of, trade
from webapp.drawings.reading.side import (
    HEAD_MM,
    NECK_MM,
    Along,
    SideString,
    lines_for,
    neck_side,
    true_strip,
    under_chord,
    under_string,
)
from webapp.drawings.shapes import WIDTH, Drawing, Line, Path, Polyline, Rect, Text
from webapp.drawings.units import INCH
from webapp.physics.neck import Neck

BASS = Neck.from_relief(863.6, 16, 20, 0.30)
ALONG = Along(-HEAD_MM, 500, 0, WIDTH)


def texts(drawing: Drawing) -> list[str]:
    return [s.text for s in drawing.shapes if isinstance(s, Text)]


def gaps(drawing: Drawing) -> list[Line]:
    return [s for s in drawing.shapes if isinstance(s, Line) and s.kind == "gap"]


@pytest.mark.parametrize("relief", [-0.4, -0.02, 0.0, 0.1, 0.3, 2.0])
def test_the_frets_under_a_chord_are_the_necks_reliefs(relief: float) -> None:
    neck = Neck.from_relief(863.6, 16, 20, relief)
    found = under_chord(neck, 1, 13).gaps
    assert [mm for mm, _ in found] == pytest.approx([neck.fret_at(f) for f in range(1, 14)])
    assert [gap for _, gap in found[1:-1]] == pytest.approx([neck.relief(1, 13, f) for f in range(2, 13)])
    assert (found[0][1], found[-1][1]) == pytest.approx((0, 0))


@pytest.mark.parametrize(("hold", "nut"), [(0, 0.5), (1, 0.0), (3, 0.0)])
def test_the_frets_under_a_string_are_the_necks_heights(hold: int, nut: float) -> None:
    found = under_string(BASS, 3.571, hold, nut).gaps[1 if hold else 0 :]
    for fret, (mm, gap) in enumerate(found, start=hold + 1):
        assert mm == pytest.approx(BASS.fret_at(fret))
        assert gap == pytest.approx(BASS.action(3.571, hold, fret, nut))
    assert len(found) == 20 - hold


@given(relief=st.floats(-1, 2), tall=st.floats(8, 60))
def test_heights_are_multiplied_by_the_factor_and_fit(relief: float, tall: float) -> None:
    neck = Neck.from_relief(863.6, 16, 20, relief)
    level = under_chord(neck, 1, 13)
    lines = lines_for(neck, ALONG, 10, tall, [level])
    mark = lines.gap(7, relief)
    assert mark.y2 - mark.y1 == pytest.approx(relief * ALONG.px_per_mm * lines.factor)
    assert mark.x1 == pytest.approx((neck.fret_at(7) + HEAD_MM) * WIDTH / (500 + HEAD_MM))
    assert lines.factor == 1 or lines.foot <= 10 + tall + 1e-6
    assert lines.top - 1e-6 <= lines.level <= lines.foot + 1e-6


def test_the_strip_has_one_scale_both_ways() -> None:
    shapes = true_strip(BASS, ALONG, 20)
    neck = [s for s in shapes if isinstance(s, Rect) and s.kind == "wood"][-1]
    frets = next(s for s in shapes if isinstance(s, Path))
    assert neck.h == pytest.approx(NECK_MM * ALONG.px_per_mm)
    xs = [float(x) for x in re.findall(r"M([-\d.]+) ", frets.d)]
    within = [f for f in range(1, 21) if BASS.fret_at(f) < 500]
    assert xs == pytest.approx([ALONG.x(BASS.fret_at(f)) for f in within], abs=0.06)


@pytest.mark.parametrize("kind", trade().kinds)
def test_every_kind_is_on_the_paper_and_readable(kind: str, on_paper: Judge, no_overlap: Judge) -> None:
    for drawing in (side_of(kind), side_of(kind, left_handed=True), side_of(kind, relief=-0.25)):
        on_paper(drawing)
        no_overlap(drawing)
        assert drawing.height <= 200
        assert not any(isinstance(s, Polyline) and s.kind in ("wood", "board") for s in drawing.shapes)


def test_written_factors_and_sizes_are_the_drawn_ones() -> None:
    drawing = side_of(COMMON)
    bow, height = gaps(drawing)
    along = Along(-HEAD_MM, 863.6 + 12, 2.0, WIDTH - 2)
    written = [int(n) for text in texts(drawing) for n in re.findall(r"× (\d+)", text)]
    drawn = [(line.y2 - line.y1) / along.px_per_mm / mm for line, mm in ((bow, 0.3), (height, 2.5))]
    assert written == pytest.approx(drawn)
    for factor in written:
        assert f"{factor} times as high" in drawing.description
    assert {"E: 2.50 mm", "G: 1.90 mm"} <= set(texts(drawing))
    assert any("0.30 mm over fret 7" in text for text in texts(drawing))


def test_in_words() -> None:
    words = side_of(COMMON).description
    for part in (
        "864 mm",
        "20 frets",
        "at fret 16",
        "over fret 7 is 0.30 mm: forward bow",
        "E string 2.50 mm, G string 1.90 mm",
        "held at fret 1",
        "drawn true",
    ):
        assert part in words
    assert "−0.25 mm: back bow" in side_of(COMMON, relief=-0.25).description
    inches = neck_side([SideString("E string", BASS, 3.571)], (1, 13, 7), units=INCH)
    assert "34.00 in" in inches.description and "0.098 in" in inches.description


def test_left_handed_is_the_mirror_image() -> None:
    plain, mirrored = (gaps(side_of(COMMON, left_handed=m)) for m in (False, True))
    assert [line.x1 for line in mirrored] == pytest.approx([WIDTH - line.x1 for line in plain])
