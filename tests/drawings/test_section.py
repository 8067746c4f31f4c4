"""The cross-section: true to scale, the same seen in a mirror, readable, and told in words."""

from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.drawings.section import SectionString, cross_section, sagitta
from webapp.drawings.shapes import Circle, Drawing, Line, Polyline, Rect, Text
from webapp.drawings.units import INCH, SIXTY_FOURTHS

Judge = Callable[[Drawing], None]
Numbers = tuple[float, float, float | None, float, float, float | None]

BASS = (
    SectionString("4 E1", -22.25, 2.67, 2.40, 2.0, 3.0),
    SectionString("3 A1", -7.4, 2.16, 3.10, 1.9, 2.8, 2.35),
    SectionString("2 D2", 7.4, 1.65, None, 1.7, 2.7, 2.20),
    SectionString("1 G2", 22.25, 1.14, 1.40, 1.6, 2.5),
)
RADIUS = 241.3


def px_per_mm(drawing: Drawing, strings: tuple[SectionString, ...] = BASS) -> float:
    """The scale along the board, read off the circles themselves: their diameters are the strings' gauges."""
    circle = next(s for s in drawing.shapes if isinstance(s, Circle))
    first = min(strings, key=lambda s: s.offset_mm)
    return 2 * circle.r / first.gauge_mm


def arc(drawing: Drawing) -> Polyline:
    return next(s for s in drawing.shapes if isinstance(s, Polyline) and s.kind == "fret")


def fret_y(drawing: Drawing, x: float) -> float:
    """The drawn fret top at x, between the points of its polyline."""
    for (xa, ya), (xb, yb) in pairwise(arc(drawing).points):
        if xa <= x <= xb:
            return ya + (yb - ya) * (x - xa) / (xb - xa)
    raise AssertionError(f"the fret does not reach x = {x}")


@pytest.mark.parametrize("radius_mm", [RADIUS, 184.0, 508.0, None])
def test_undersides_stand_at_their_gaps(radius_mm: float | None) -> None:
    drawing = cross_section(radius_mm, BASS, fret=12, title="Over fret 12")
    px = px_per_mm(drawing)
    assert drawing.stretch is not None
    solid = [s for s in drawing.shapes if isinstance(s, Circle) and s.kind == "string"]
    measured = [s for s in BASS if s.gap_mm is not None]
    assert len(solid) == len(measured)
    for circle, string in zip(solid, measured, strict=True):
        assert string.gap_mm is not None
        assert circle.cx == pytest.approx(drawing.width / 2 + string.offset_mm * px)
        assert 2 * circle.r == pytest.approx(string.gauge_mm * px)
        gap_px = fret_y(drawing, circle.cx) - (circle.cy + circle.r)
        assert gap_px == pytest.approx(string.gap_mm * drawing.stretch * px, abs=0.3)


def test_the_target_bar_spans_the_target() -> None:
    drawing = cross_section(RADIUS, BASS, fret=12, title="t")
    px = px_per_mm(drawing)
    assert drawing.stretch is not None
    bars = [s for s in drawing.shapes if isinstance(s, Rect) and s.kind == "target"]
    for bar, string in zip(bars, BASS, strict=True):
        width_mm = string.target_high_mm - string.target_low_mm
        assert bar.h == pytest.approx(width_mm * px * drawing.stretch)
        low_px = fret_y(drawing, bar.x + bar.w / 2) - (bar.y + bar.h)
        assert low_px == pytest.approx(string.target_low_mm * px * drawing.stretch, abs=0.3)


def test_the_board_falls_away_as_a_circle_does() -> None:
    drawing = cross_section(RADIUS, BASS, fret=12, title="t")
    px = px_per_mm(drawing)
    assert drawing.stretch is not None
    points = arc(drawing).points
    crown = min(y for _, y in points)
    for x, y in points:
        across, down = (x - 180) / px, (y - crown) / px / drawing.stretch
        assert across**2 + (RADIUS - down) ** 2 == pytest.approx(RADIUS**2, rel=1e-9)
    assert sagitta(None, 20) == 0


def test_unmeasured_strings_look_different() -> None:
    drawing = cross_section(RADIUS, BASS, fret=12, title="t")
    kinds = [s.kind for s in drawing.shapes if isinstance(s, Circle)]
    # The A has a reading and what it should read, the D only what it should read.
    assert kinds == ["string", "string", "forecast", "forecast", "string"]


def test_a_mirrored_set_gives_a_mirrored_drawing() -> None:
    flipped = [
        SectionString(
            s.label, -s.offset_mm, s.gauge_mm, s.gap_mm, s.target_low_mm, s.target_high_mm, s.expected_mm
        )
        for s in reversed(BASS)
    ]
    one = cross_section(RADIUS, BASS, fret=12, title="t")
    other = cross_section(RADIUS, flipped, fret=12, title="t")

    def places(drawing: Drawing, mirror: bool) -> list[tuple[object, ...]]:
        def at(x: float) -> float:
            return round(360 - x if mirror else x, 6) + 0.0

        found: list[tuple[object, ...]] = []
        for s in drawing.shapes:
            if isinstance(s, Circle):
                found.append(("circle", s.kind, at(s.cx), round(s.cy, 6), round(s.r, 6)))
            elif isinstance(s, Rect):
                found.append(("rect", s.kind, at(s.x + s.w / 2), round(s.y, 6), round(s.h, 6)))
            elif isinstance(s, Line):
                found.append(("line", s.kind, *sorted((at(s.x1), at(s.x2))), round(s.y1, 6), round(s.y2, 6)))
            elif isinstance(s, Text) and s.anchor == "middle":
                found.append(("text", s.text, at(s.x), round(s.y, 6)))
        return sorted(found, key=str)

    assert places(one, mirror=False) == places(other, mirror=True)


def test_a_too_tall_drawing_is_stretched_less_and_says_so() -> None:
    tall = [SectionString("1", -10, 1, 8.0, 2, 3), SectionString("2", 10, 1, 2.0, 2, 3)]
    drawing = cross_section(RADIUS, tall, fret=12, title="t")
    assert drawing.stretch is not None and drawing.stretch < 4
    assert f"stretched {drawing.stretch:g} times" in drawing.caption
    assert f"stretched {drawing.stretch:g} times" in drawing.description


def test_the_description_says_every_number() -> None:
    text = cross_section(RADIUS, BASS, fret=12, title="t").description
    for words in (
        "over fret 12",
        "241 mm",
        "String 4 E1",
        "gauge 2.67 mm",
        "gap 2.40 mm",
        "target 2.00 to 3.00 mm",
        "should read 2.35 mm",
        "not measured",
        "high",
        "low",
        "stretched 4 times",
    ):
        assert words in text
    assert "The board is flat" in cross_section(None, BASS, fret=12, title="t").description


def test_the_players_unit_is_used_throughout() -> None:
    inches = cross_section(RADIUS, BASS, fret=12, title="t", units=INCH)
    assert "gap 0.094 in" in inches.description and "mm" not in inches.description
    assert ".094" in {s.text for s in inches.shapes if isinstance(s, Text)}
    assert "6.0" in {
        s.text
        for s in cross_section(RADIUS, BASS, fret=12, title="t", units=SIXTY_FOURTHS).shapes
        if isinstance(s, Text)
    }


def test_a_verdict_from_outside_replaces_the_plain_one() -> None:
    string = SectionString("1", 0, 1, 2.0, 1.0, 3.0, word="measure again")
    drawing = cross_section(None, [string], fret=12, title="t")
    assert "measure again" in {s.text for s in drawing.shapes if isinstance(s, Text)}
    assert "good" not in drawing.description


sections = st.lists(
    st.tuples(
        st.floats(-35, 35),
        st.floats(0.1, 5),
        st.none() | st.floats(-1, 8),
        st.floats(0, 4),
        st.floats(0, 2),
        st.none() | st.floats(0.2, 6),
    ),
    max_size=12,
)


@settings(max_examples=60, deadline=None)
@given(rows=sections, radius_mm=st.none() | st.floats(120, 900), unit=st.sampled_from(["mm", "in"]))
def test_any_strings_stay_on_the_paper(
    rows: list[Numbers], radius_mm: float | None, unit: str, on_paper: Judge
) -> None:
    strings = [
        SectionString(f"{len(rows) - i} E1", o, g, gap, low, low + wide, should)
        for i, (o, g, gap, low, wide, should) in enumerate(rows)
    ]
    units = INCH if unit == "in" else SIXTY_FOURTHS
    on_paper(cross_section(radius_mm, strings, fret=12, title="t", units=units))


@pytest.mark.parametrize("count", range(3, 13))
@pytest.mark.parametrize("paired", [False, True])
def test_labels_keep_clear_of_each_other(count: int, paired: bool, no_overlap: Judge) -> None:
    places = [-24 + 48 * i / (count - 1) for i in range(count)]
    if paired:
        places = [x + (1.2 if i % 2 else -1.2) for i, x in enumerate(places)]
    strings = [
        SectionString(f"{count - i} G#2", x, 1.1, 1.85 + i / 10, 1.45, 2.05) for i, x in enumerate(places)
    ]
    no_overlap(cross_section(300, strings, fret=12, title="t"))


def test_a_number_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        cross_section(None, [SectionString("1", float("nan"), 1, 2, 1, 3)], fret=12, title="t")
