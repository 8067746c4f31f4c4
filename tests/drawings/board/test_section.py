"""The cross-section: one scale for everything, the same seen in a mirror, readable, and told in words."""

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drawings.gallery.section import pictures, section_of, strings_of
from tests.setups.journals import all_kinds, spec_of
from webapp.drawings.board.section import SectionString, cross_section, sagitta
from webapp.drawings.shapes import Circle, Drawing, Path, Rect, Text
from webapp.drawings.units import INCH, SIXTY_FOURTHS, Units
from webapp.setups.geometry import radius_mm
from webapp.setups.states import Word

Judge = Callable[[Drawing], None]
Numbers = tuple[float, float, float | None, float, float]

BASS = (
    SectionString("E", -22.25, 2.67, 2.40, 2.0, 3.0, Word.GOOD),
    SectionString("A", -7.4, 2.16, 3.10, 1.9, 2.8, Word.TOUCH_HIGH),
    SectionString("D", 7.4, 1.65, None, 1.7, 2.7),
    SectionString("G", 22.25, 1.14, 1.40, 1.6, 2.5, Word.TOO_LOW),
)
RADIUS = 241.3
MEASURED, NOT = "metal", "forecast"


def drawn(radius_mm: float | None = RADIUS, **more: bool) -> Drawing:
    return cross_section(radius_mm, BASS, fret=12, title="t", **more)


def circles(drawing: Drawing) -> list[Circle]:
    """The strings', bass side first; the rod's stands under the board, after none of them."""
    crown = path(drawing, "metal").box[1]
    found = [s for s in drawing.flat() if isinstance(s, Circle) and s.kind in (MEASURED, NOT)]
    return sorted((c for c in found if c.cy < crown + 12), key=lambda c: c.cx)


def path(drawing: Drawing, kind: str) -> Path:
    return next(s for s in drawing.flat() if isinstance(s, Path) and s.kind == kind)


def scale_of(drawing: Drawing) -> float:
    """Units per mm across the neck, read off the outer strings' places."""
    found = circles(drawing)
    return (found[-1].cx - found[0].cx) / (BASS[-1].offset_mm - BASS[0].offset_mm)


@pytest.mark.parametrize("radius_mm", [RADIUS, 184.0, 508.0, None])
def test_widths_thicknesses_and_heights_share_one_scale(radius_mm: float | None) -> None:
    drawing = drawn(radius_mm)
    px, crown = scale_of(drawing), path(drawing, "metal").box[1]
    assert drawing.stretch is None
    for circle, string in zip(circles(drawing), BASS, strict=True):
        assert 2 * circle.r == pytest.approx(string.gauge_mm * px)
        fallen = 0.0
        if radius_mm is not None:
            fallen = radius_mm - (radius_mm**2 - string.offset_mm**2) ** 0.5
        gap = (crown - (circle.cy + circle.r)) / px + fallen
        middle = (string.target_low_mm + string.target_high_mm) / 2
        assert gap == pytest.approx(middle if string.gap_mm is None else string.gap_mm)


def test_the_neck_fills_the_width() -> None:
    for kind in all_kinds():
        left, _, right, _ = path(section_of(kind, 12), "board").box
        assert left <= 8 and right >= 352


def test_the_fret_is_an_arc_of_the_boards_own_radius() -> None:
    drawing = drawn()
    rise = re.search(r"A([\d.]+) ([\d.]+) ", path(drawing, "metal").d)
    assert rise is not None
    assert float(rise[1]) == float(rise[2]) == pytest.approx(RADIUS * scale_of(drawing), abs=0.1)
    assert "A" not in path(drawn(None), "metal").d
    assert sagitta(None, 20) == 0


def test_a_compound_board_is_flatter_up_the_neck() -> None:
    spec = spec_of("electric_6", radius_nut_mm=241.3, radius_end_mm=406.4)
    radii = []
    for fret in (1, 12, 22):
        strings = strings_of(spec, fret)
        drawing = cross_section(radius_mm(spec, fret), strings, fret=fret, title="t")
        found = circles(drawing)
        px = (found[-1].cx - found[0].cx) / (strings[-1].offset_mm - strings[0].offset_mm)
        rise = re.search(r"A([\d.]+) ", path(drawing, "metal").d)
        assert rise is not None
        radii.append(float(rise[1]) / px)
    # A cone: the radius grows as the distance from the nut does.
    share = (1 - 2 ** (-12 / 12)) / (1 - 2 ** (-22 / 12))
    assert radii[1] == pytest.approx(241.3 + share * (406.4 - 241.3), abs=1)
    assert radii[0] < 260 and radii[2] == pytest.approx(406.4, abs=1)


def test_a_band_reaches_from_target_to_target() -> None:
    drawing = drawn()
    px, crown = scale_of(drawing), path(drawing, "metal").box[1]
    bands = re.findall(r"M([\d.]+) ([\d.]+)h([\d.]+)V([\d.]+)", path(drawing, "target").d)
    for (x, high, wide, low), string in zip(bands, BASS, strict=True):
        assert float(x) + float(wide) / 2 == pytest.approx(180 + string.offset_mm * px, abs=0.2)
        fret = crown + sagitta(RADIUS, string.offset_mm) * px
        assert (fret - float(high)) / px == pytest.approx(string.target_high_mm, abs=0.03)
        assert (fret - float(low)) / px == pytest.approx(string.target_low_mm, abs=0.03)


def test_what_is_not_measured_looks_different() -> None:
    assert [c.kind for c in circles(drawn())] == [MEASURED, MEASURED, NOT, MEASURED]
    computed = [replace(s, measured=False, word=Word.EXPECTED) for s in BASS]
    assert {c.kind for c in circles(cross_section(RADIUS, computed, fret=7, title="t"))} == {NOT}


def test_a_left_handed_section_is_its_mirror_image() -> None:
    right, left = drawn(), drawn(left_handed=True)
    mirrored = [(360 - c.cx, c.cy, c.r) for c in reversed(circles(left))]
    for (x, y, r), circle in zip(mirrored, circles(right), strict=True):
        assert (x, y, r) == pytest.approx((circle.cx, circle.cy, circle.r))
    sides = [s.text for s in left.flat() if isinstance(s, Text) and "side" in s.text]
    assert sides == ["treble side", "bass side"]
    assert left.description == right.description


def test_there_is_a_rod_where_there_is_one_and_the_body_past_the_joint() -> None:
    def says_rod(drawing: Drawing) -> bool:
        return any(isinstance(s, Text) and s.text == "rod" for s in drawing.flat())

    assert says_rod(drawn()) and not says_rod(drawn(rod=False))
    assert not says_rod(section_of("classical_6", 12))
    assert "C" in path(drawn(), "wood").d and "C" not in path(drawn(over_body=True), "wood").d


def test_every_word_stands_beside_its_mark_in_the_key() -> None:
    texts = [s.text for s in drawn().flat() if isinstance(s, Text)]
    for word in ("target", "good", "a touch high", "not measured", "too low"):
        assert texts.count(word) == 1


def test_the_description_says_every_number() -> None:
    text = drawn().description
    for words in (
        "at fret 12",
        "Board radius 241 mm",
        "String E, 2.67 mm thick: 2.40 mm over the fret, target 2.00 to 3.00 mm: good.",
        "3.10 mm over the fret, target 1.90 to 2.80 mm: a touch high.",
        "String D, 1.65 mm thick, target 1.70 to 2.70 mm: not measured.",
    ):
        assert words in text
    assert "The board is flat" in drawn(None).description
    assert "nothing stretched" in drawn().caption


def test_the_players_unit_is_used_throughout() -> None:
    inches = cross_section(RADIUS, BASS, fret=12, title="t", units=INCH)
    assert "0.094 in over the fret" in inches.description and "mm" not in inches.description
    assert ".094" in {s.text for s in inches.flat() if isinstance(s, Text)}
    parts = cross_section(RADIUS, BASS, fret=12, title="t", units=SIXTY_FOURTHS)
    assert "6.0" in {s.text for s in parts.flat() if isinstance(s, Text)}


sections = st.lists(
    st.tuples(
        st.floats(-35, 35),
        st.floats(0.1, 5),
        st.none() | st.floats(-1, 8),
        st.floats(0, 4),
        st.floats(0, 2),
    ),
    max_size=12,
)


@settings(max_examples=60, deadline=None)
@given(rows=sections, radius_mm=st.none() | st.floats(120, 900), units=st.sampled_from([INCH, SIXTY_FOURTHS]))
def test_any_strings_stay_on_the_paper(
    rows: list[Numbers], radius_mm: float | None, units: Units, on_paper: Judge
) -> None:
    strings = [SectionString("E", o, g, gap, low, low + wide) for o, g, gap, low, wide in rows]
    on_paper(cross_section(radius_mm, strings, fret=12, title="t", units=units))


@pytest.mark.parametrize("count", range(3, 13))
@pytest.mark.parametrize("paired", [False, True])
def test_labels_keep_clear_of_each_other(count: int, paired: bool, no_overlap: Judge) -> None:
    places = [-24 + 48 * i / (count - 1) for i in range(count)]
    if paired:
        places = [x + (1.2 if i % 2 else -1.2) for i, x in enumerate(places)]
    words = list(Word)
    strings = [
        SectionString("G♯", x, 1.1, 1.85 + i / 10, 1.45, 2.05, words[i % 8]) for i, x in enumerate(places)
    ]
    no_overlap(cross_section(300, strings, fret=12, title="t"))


def test_every_picture_is_on_its_paper_and_legible(on_paper: Judge, no_overlap: Judge) -> None:
    drawn_kinds = 0
    for name, drawing in pictures():
        on_paper(drawing)
        no_overlap(drawing)
        drawn_kinds += name in all_kinds()
    assert drawn_kinds == len(all_kinds())


def test_bands_of_neighbours_never_touch() -> None:
    for kind in all_kinds():
        found = re.findall(r"M([\d.]+) [\d.]+h([\d.]+)V", path(section_of(kind, 12), "target").d)
        edges = [(float(x), float(x) + float(wide)) for x, wide in found]
        assert all(a[1] < b[0] for a, b in zip(edges, edges[1:], strict=False)), kind


def test_the_rod_lies_in_its_channel() -> None:
    drawing = drawn()
    channel = next(s for s in drawing.flat() if isinstance(s, Rect) and s.kind == "paper")
    rod = next(s for s in drawing.flat() if isinstance(s, Circle) and s.cy > channel.y)
    assert channel.x < rod.cx - rod.r and rod.cy + rod.r < channel.y + channel.h


def test_a_number_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        cross_section(None, [SectionString("1", float("nan"), 1, 2, 1, 3)], fret=12, title="t")
