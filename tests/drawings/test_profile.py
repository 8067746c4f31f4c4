"""Side views: heights and places to scale, the sums of the neck shown unchanged, told in words."""

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.drawings.measure import (
    height_drawing,
    intonation_drawing,
    nut_drawing,
    pickup_drawing,
    pickup_places,
    relief_drawing,
)
from webapp.drawings.shapes import Drawing, Line, Text
from webapp.drawings.side import side_view
from webapp.drawings.units import INCH
from webapp.physics.neck import Neck

Judge = Callable[[Drawing], None]

BASS = Neck.from_relief(863.6, 16, 20, 0.30)
NECKS = {
    "bass": BASS,
    "guitar": Neck.from_relief(647.7, 16, 22, 0.20),
    "classical": Neck.from_relief(650, 12, 19, 0.15, 1, 12, 6),
    "back bow": Neck.from_relief(863.6, 16, 20, -0.25),
    "straight": Neck(762, 15, 19),
}


def every_drawing(neck: Neck) -> list[Drawing]:
    saddle = neck.saddle_for_action(2.4)
    return [
        side_view(neck, saddle_mm=saddle, relief_frets=(1, 12, 6)),
        side_view(neck, saddle_mm=saddle, hold=0, nut_mm=0.6, relief_frets=None),
        relief_drawing(neck, 1, 13, 7, target=(0.15, 0.45)),
        relief_drawing(neck, 1, neck.fret_count, 8),
        height_drawing(neck, 1, 12, saddle, target=(2.0, 3.0)),
        height_drawing(neck, 0, 12, saddle),
        height_drawing(neck, 1, neck.fret_count, saddle),
        nut_drawing(neck, target=(0.25, 0.5)),
        intonation_drawing(neck, (12, 19)),
        intonation_drawing(neck, (1, 2, 3, 4, 5, 12, 17)),
        pickup_drawing(neck, pickup_places(neck.scale_mm, ["neck", "bridge"], neck.fret_count)),
        pickup_drawing(neck, pickup_places(neck.scale_mm, ["neck", "middle", "bridge"], neck.fret_count)),
    ]


@pytest.mark.parametrize("name", NECKS)
def test_every_drawing_is_on_the_paper_and_readable(name: str, on_paper: Judge, no_overlap: Judge) -> None:
    for drawing in every_drawing(NECKS[name]):
        on_paper(drawing)
        no_overlap(drawing)


def px_per_mm(drawing: Drawing, neck: Neck) -> float:
    """The scale along the neck, from the lines of the first and the last fret drawn."""
    frets = [s.x1 for s in drawing.shapes if isinstance(s, Line) and s.kind == "fret"]
    return (frets[-1] - frets[0]) / (neck.fret_at(neck.fret_count) - neck.fret_at(1))


def test_fret_tops_are_to_scale() -> None:
    drawing = side_view(BASS, saddle_mm=3.571)
    px = px_per_mm(drawing, BASS)
    assert drawing.stretch == 100
    tops = [s for s in drawing.shapes if isinstance(s, Line) and s.kind == "fret"]
    assert len(tops) == 20
    for number, line in enumerate(tops, start=1):
        assert line.x1 - tops[0].x1 == pytest.approx((BASS.fret_at(number) - BASS.fret_at(1)) * px)
        rise = tops[-1].y1 - line.y1
        assert rise == pytest.approx(BASS.fret_top(number) * px * 100)


def test_the_string_runs_straight_from_the_held_fret_to_the_saddle() -> None:
    drawing = side_view(BASS, saddle_mm=3.571)
    px = px_per_mm(drawing, BASS)
    string = next(s for s in drawing.shapes if isinstance(s, Line) and s.kind == "string-line")
    first = next(s for s in drawing.shapes if isinstance(s, Line) and s.kind == "fret")
    assert (string.x1, string.y1) == pytest.approx((first.x1, first.y1))
    assert string.x2 - string.x1 == pytest.approx((863.6 - BASS.fret_at(1)) * px)
    assert string.y1 - string.y2 == pytest.approx((3.571 - BASS.fret_top(1)) * px * 100)


def test_the_gaps_called_out_are_the_necks_own() -> None:
    drawing = side_view(BASS, saddle_mm=3.571)
    px = px_per_mm(drawing, BASS)
    height, relief = (s for s in drawing.shapes if isinstance(s, Line) and s.kind == "gap")
    assert abs(height.y1 - height.y2) == pytest.approx(2.5 * px * 100, rel=1e-3)
    assert abs(relief.y1 - relief.y2) == pytest.approx(0.30 * px * 100)
    assert {"2.50 mm over fret 12", "relief 0.30 mm"} <= {
        s.text for s in drawing.shapes if isinstance(s, Text)
    }


def test_side_view_in_words() -> None:
    text = side_view(BASS, saddle_mm=3.571).description
    for words in (
        "864 mm",
        "20 frets",
        "at fret 16",
        "2.50 mm over fret 12",
        "3.57 mm over the straight",
        "held at fret 1",
        "pressed at fret 13",
        "over fret 7 is 0.30 mm: forward bow",
        "100 times",
    ):
        assert words in text
    assert "−0.25 mm: back bow" in side_view(NECKS["back bow"], saddle_mm=3.0).description


def test_relief_drawing_says_where_and_how_far() -> None:
    drawing = relief_drawing(BASS, 1, 13, 7, target=(0.15, 0.45))
    written = {s.text for s in drawing.shapes if isinstance(s, Text)}
    assert {"hold at 1", "press at 13", "gauge over 7"} <= written
    assert "Fret 7 is 287 mm from the nut." in drawing.caption
    for words in (
        "48 mm from the nut",
        "456 mm from the nut",
        "287 mm from the nut",
        "0.15 to 0.45 mm",
        "0.30 mm",
    ):
        assert words in drawing.description


def test_the_gauge_stands_at_its_fret() -> None:
    for drawing, fret in (
        (relief_drawing(BASS, 1, 13, 7), 7),
        (height_drawing(BASS, 1, 12, 3.5), 12),
        (nut_drawing(BASS), 1),
    ):
        frets = [s.x1 for s in drawing.shapes if isinstance(s, Line) and s.kind == "fret"]
        gauge = next(s for s in drawing.shapes if isinstance(s, Line) and s.kind == "gap")
        assert gauge.x1 == pytest.approx(frets[fret - 1])


def test_open_and_held_strings_are_told_apart() -> None:
    held = {s.text for s in height_drawing(BASS, 1, 12, 3.5).shapes if isinstance(s, Text)}
    opened = {s.text for s in height_drawing(BASS, 0, 12, 3.5).shapes if isinstance(s, Text)}
    assert "hold at 1" in held and "open string" not in held
    assert "open string" in opened


def test_intonation_names_both_ways_and_places() -> None:
    text = intonation_drawing(BASS, (12, 19), units=INCH).description
    for words in ("fret 12 lies 17.00 in", "fret 19 lies 22.65 in", "34.00 in", "Sharp", "Flat"):
        assert words.lower() in text.lower()


def test_usual_pickup_places_lie_in_order_past_the_board() -> None:
    for count in (19, 24, 36):
        neck = Neck(650, 16, count)
        places = list(pickup_places(neck.scale_mm, ["neck", "middle", "bridge"], neck.fret_count).values())
        assert neck.fret_at(count) < places[0] < places[1] < places[2] < 650


def test_pickups_stand_the_gap_below_the_string() -> None:
    drawing = pickup_drawing(BASS, {"middle": 700.0}, saddle_mm=4.0, gap_mm=2.5)
    frets = [s.x1 for s in drawing.shapes if isinstance(s, Line) and s.kind == "fret"]
    px = (frets[-1] - frets[0]) / (BASS.fret_at(20) - BASS.fret_at(15))
    gauge = next(s for s in drawing.shapes if isinstance(s, Line) and s.kind == "gap")
    assert drawing.stretch is not None
    assert gauge.y1 - gauge.y2 == pytest.approx(2.5 * px * drawing.stretch)
    assert gauge.x1 - frets[-1] == pytest.approx((700 - BASS.fret_at(20)) * px)
    assert "2.50 mm" in drawing.description and "fret 20" in drawing.description


@settings(max_examples=40, deadline=None)
@given(
    scale=st.floats(300, 1200),
    count=st.integers(14, 36),
    relief=st.floats(-1, 2),
    action=st.floats(0.3, 8),
    nut=st.floats(0, 2),
    data=st.data(),
)
def test_any_neck_stays_on_the_paper(
    scale: float, count: int, relief: float, action: float, nut: float, data: st.DataObject, on_paper: Judge
) -> None:
    joint = data.draw(st.integers(8, count))
    neck = Neck.from_relief(scale, joint, count, relief)
    saddle = neck.saddle_for_action(action)
    for drawing in (
        side_view(neck, saddle_mm=saddle, hold=0, nut_mm=nut),
        relief_drawing(neck, 1, 13, 7),
        height_drawing(neck, 1, 12, saddle, nut_mm=nut),
        nut_drawing(neck, nut_mm=nut, saddle_mm=saddle),
        intonation_drawing(neck, (1, 12, count), saddle_mm=saddle),
        pickup_drawing(
            neck, pickup_places(neck.scale_mm, ["neck", "bridge"], neck.fret_count), saddle_mm=saddle
        ),
    ):
        on_paper(drawing)
