"""The fretted string from the side: true gaps, true swings, everything on the paper."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drawings.conftest import Judge
from tests.drawings.gallery.board import TOUCHES, fretted
from webapp.drawings.board.clearance_side import clearance_side
from webapp.drawings.shapes import Drawing, Line, Path, Polyline, Text, extent
from webapp.drawings.units import THOU
from webapp.physics.clearance import clearances, reach_map


def drawn(at: int = 4, over: int = 7, chosen: str = "own", **more: float) -> Drawing:
    return clearance_side(fretted(at, **more), TOUCHES, chosen=chosen, over=over, title="E string")


def level(drawing: Drawing) -> Line:
    """The string at rest."""
    return next(s for s in drawing.flat() if isinstance(s, Line) and s.kind == "string-line")


def frets(drawing: Drawing) -> list[tuple[float, float, bool]]:
    """Every fret ahead: where it lies, how far under the string, and whether it is crossed."""
    found = [s for s in drawing.flat() if s.kind in ("ruling", "touch") and isinstance(s, Line | Path)]
    boxes = [(extent(s), s.kind == "touch") for s in found]
    y = level(drawing).y1
    return sorted(((a + c) / 2, (b + d) / 2 - y, crossed) for (a, b, c, d), crossed in boxes)


def factor(drawing: Drawing) -> float:
    words = next(s.text for s in drawing.flat() if isinstance(s, Text) and s.text.startswith("lines"))
    return float(words.removeprefix("lines only, × "))


@settings(max_examples=40, deadline=None)
@given(
    at=st.integers(0, 19),
    relief=st.floats(-0.3, 1.2),
    action=st.floats(0.5, 6.0),
    own=st.booleans(),
    data=st.data(),
)
def test_everything_is_on_the_paper_and_legible(
    on_paper: Judge, no_overlap: Judge, at: int, relief: float, action: float, own: bool, data: st.DataObject
) -> None:
    swings = TOUCHES if own else TOUCHES[1:]
    drawing = clearance_side(
        fretted(at, relief, action),
        swings,
        chosen=swings[0].key,
        over=data.draw(st.integers(at + 1, 20)),
        title="E string",
    )
    on_paper(drawing)
    no_overlap(drawing)


@pytest.mark.parametrize("at", [1, 4, 12, 19])
def test_gaps_and_dips_are_those_of_the_map(at: int) -> None:
    one = fretted(at)
    gaps, reach = clearances(one.neck, one.saddle_mm), reach_map(one.neck, one.pluck_mm)
    for over in range(at + 1, 21):
        assert one.gap_mm(over) == pytest.approx(gaps[at, over])
        assert one.dip_over(0.94, over) == pytest.approx(0.94 * reach[at, over])


@pytest.mark.parametrize("at", [1, 4, 12])
def test_frets_lie_as_deep_as_their_gaps_times_the_factor_that_is_written(at: int) -> None:
    one, drawing = fretted(at), drawn(at, at + 2)
    string = level(drawing)
    assert string.y1 == string.y2
    px = (string.x2 - string.x1) / one.length_mm
    found = frets(drawing)
    assert len(found) == 20 - at
    for (x, below, _), over in zip(found, one.ahead, strict=True):
        assert x == pytest.approx(string.x1 + (one.neck.fret_at(over) - one.start_mm) * px, abs=0.1)
        assert below == pytest.approx(one.gap_mm(over) * px * factor(drawing), abs=0.1)


def test_the_field_is_as_deep_above_as_below_and_as_deep_as_the_dip() -> None:
    one, drawing = fretted(4), drawn(4)
    field = next(s for s in drawing.flat() if s.kind == "swing-field")
    _, high, _, low = extent(field)
    string = level(drawing)
    assert string.y1 - high == pytest.approx(low - string.y1)
    px = (string.x2 - string.x1) / one.length_mm
    deepest = max(one.dip_mm(0.82, one.length_mm * part / 500) for part in range(501))
    assert low - string.y1 == pytest.approx(deepest * px * factor(drawing), rel=0.01)


@pytest.mark.parametrize("at", [1, 7, 15, 19])
def test_the_edge_between_its_corners_is_straight(at: int) -> None:
    one = fretted(at)
    edge = one.edge(0.94)
    for (x0, y0), (x1, y1) in zip(edge, edge[1:], strict=False):
        along = (x0 + x1) / 2 - one.start_mm
        assert one.dip_mm(0.94, along) == pytest.approx((y0 + y1) / 2, abs=1e-9)


def test_a_harder_touch_is_drawn_lower_with_a_pen_of_its_own() -> None:
    pens = {s.kind: s for s in drawn().flat() if isinstance(s, Polyline) and s.kind.startswith("swing-")}
    assert set(pens) == {"swing-field", "swing-own", "swing-light", "swing-medium", "swing-firm"}
    lows = [pens[f"swing-{key}"].points[1][1] for key in ("light", "own", "medium", "firm")]
    assert lows == sorted(lows) and lows[0] < lows[-1]


def test_what_touches_is_crossed_and_nothing_else() -> None:
    one = fretted(4, action=1.9)
    drawing = drawn(4, 7, "firm", action=1.9)
    crossed = [over for over, (_, _, touches) in zip(one.ahead, frets(drawing), strict=True) if touches]
    assert crossed == [over for over in one.ahead if one.dip_over(1.2, over) > one.gap_mm(over)] != []
    told = [int(n) for n in re.findall(r"(\d+): [^;]*?, touches", drawing.description)]
    assert told == crossed
    assert not any(touches for *_, touches in frets(drawn(4, 7, "light", action=4.0)))


def test_the_words_say_the_same_numbers() -> None:
    one = fretted(4)
    drawing = clearance_side(one, TOUCHES, chosen="medium", over=7, title="E string", units=THOU)
    gap = f"{one.gap_mm(7) / 0.0254:.0f}"
    assert f"{gap} thou over fret 7" in [s.text for s in drawing.flat() if isinstance(s, Text)]
    dips = f"{one.dip_over(0.94, 7) / 0.0254:.0f}"
    assert f"7: {gap}, dips {dips}" in drawing.description
    assert "fretted at 4" in drawing.description and "medium 37 thou" in drawing.description
    assert f"its lines × {factor(drawing):g} in height" in drawing.description


def test_an_open_string_starts_at_the_nut_and_says_so() -> None:
    opened = fretted(0)
    gaps = clearances(opened.neck, opened.saddle_mm, opened.nut_mm)
    assert [opened.gap_mm(over) for over in range(1, 21)] == pytest.approx(list(gaps[0, 1:]))
    drawing = clearance_side(opened, TOUCHES, chosen="medium", over=1, title="E string")
    assert drawing.description.startswith("The string open, drawn level")
    assert "open" in [s.text for s in drawing.flat() if isinstance(s, Text)]
