"""The fretted string from the side: true gaps, true swings, everything on the paper."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drawings.conftest import Judge
from webapp.drawings.clearance_side import DrawnSwing, FrettedString, clearance_side
from webapp.drawings.shapes import Drawing, Line, Polyline, Text
from webapp.drawings.units import THOU
from webapp.physics.clearance import clearances, reach_map
from webapp.physics.neck import Neck

TOUCHES = [
    DrawnSwing("light", "light", 0.7),
    DrawnSwing("medium", "medium", 0.94),
    DrawnSwing("firm", "firm", 1.2),
]
OWN = DrawnSwing("own", "your own", 0.82)


def string(fretted: int = 4, relief: float = 0.3, action: float = 2.5) -> FrettedString:
    neck = Neck.from_relief(863.6, 16, 20, relief)
    return FrettedString(neck, neck.saddle_for_action(action), 0.5, fretted, 110.0)


def drawn() -> Drawing:
    return clearance_side(string(), TOUCHES, chosen="medium", over=7, title="E string")


@settings(max_examples=40, deadline=None)
@given(
    fretted=st.integers(1, 19),
    relief=st.floats(-0.3, 1.2),
    action=st.floats(0.5, 6.0),
    own=st.booleans(),
    data=st.data(),
)
def test_everything_is_on_the_paper_and_legible(
    on_paper: Judge,
    no_overlap: Judge,
    fretted: int,
    relief: float,
    action: float,
    own: bool,
    data: st.DataObject,
) -> None:
    over = data.draw(st.integers(fretted + 1, 20))
    swings = [OWN, *TOUCHES] if own else TOUCHES
    drawing = clearance_side(
        string(fretted, relief, action),
        swings,
        chosen=swings[0].key,
        over=over,
        touched=[over],
        title="E string",
    )
    on_paper(drawing)
    no_overlap(drawing)


@pytest.mark.parametrize("fretted", [1, 4, 12, 19])
def test_gaps_and_dips_are_those_of_the_map(fretted: int) -> None:
    one = string(fretted)
    gaps, reach = clearances(one.neck, one.saddle_mm), reach_map(one.neck, one.pluck_mm)
    for over in range(fretted + 1, 21):
        assert one.gap_mm(over) == pytest.approx(gaps[fretted, over])
        along = one.neck.fret_at(over) - one.start_mm
        assert one.dip_mm(0.94, along) == pytest.approx(0.94 * reach[fretted, over])


@pytest.mark.parametrize("fretted", [1, 7, 15, 19])
def test_the_edge_between_its_corners_is_straight(fretted: int) -> None:
    one = string(fretted)
    edge = one.edge(0.94, -1)
    for (x0, y0), (x1, y1) in zip(edge, edge[1:], strict=False):
        middle = (x0 + x1) / 2
        along = middle - one.start_mm
        assert one.y(along) - one.dip_mm(0.94, along) == pytest.approx((y0 + y1) / 2, abs=1e-9)


def test_a_harder_touch_is_drawn_lower_with_a_pen_of_its_own() -> None:
    pens = {s.kind: s for s in drawn().shapes if isinstance(s, Polyline) and s.kind.startswith("swing-")}
    assert set(pens) == {"swing-field", "swing-light", "swing-medium", "swing-firm"}
    lows = [pens[kind].points[1][1] for kind in ("swing-light", "swing-medium", "swing-firm")]
    assert lows == sorted(lows) and lows[0] < lows[2]


def test_what_touches_is_crossed() -> None:
    drawing = clearance_side(string(), TOUCHES, chosen="firm", over=7, touched=[6, 7], title="E string")
    assert len([s for s in drawing.shapes if isinstance(s, Line) and s.kind == "touch"]) == 4


def test_the_words_say_the_same_numbers() -> None:
    drawing = clearance_side(string(), TOUCHES, chosen="medium", over=7, title="E string", units=THOU)
    gap = f"{string().gap_mm(7) / 0.0254:.0f} thou over fret 7"
    assert gap in [s.text for s in drawing.shapes if isinstance(s, Text)]
    assert "fretted at 4" in drawing.description and "medium 37 thou" in drawing.description
    assert f"Heights are stretched {drawing.stretch:g} times." in drawing.caption


def test_an_open_string_starts_at_the_nut_and_says_so() -> None:
    opened = string(0)
    gaps = clearances(opened.neck, opened.saddle_mm, opened.nut_mm)
    assert [opened.gap_mm(over) for over in range(1, 21)] == pytest.approx(list(gaps[0, 1:]))
    drawing = clearance_side(opened, TOUCHES, chosen="medium", over=1, title="E string")
    assert drawing.note.startswith("Open, plucked") and drawing.description.startswith("The string open.")
