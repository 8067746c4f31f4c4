"""The clearance map: every note and every fret ahead on one sheet that a phone is broad enough for."""

import re
from itertools import pairwise

import pytest

from tests.drawings.conftest import Judge
from tests.drawings.gallery.board import map_of, pictures
from tests.setups.journals import all_kinds
from webapp.drawings.board.clearance_map import clearance_map_drawing
from webapp.drawings.shapes import WIDTH, Drawing, Path, Rect, Text
from webapp.drawings.units import THOU
from webapp.setups.tryout.clearance_map import ClearanceMap, Room


def squares(drawing: Drawing, found: ClearanceMap, room: Room) -> set[tuple[int, int]]:
    """The pairs of frets that the bars of one room lie on, read off the bars themselves."""
    path = next((s for s in drawing.flat() if isinstance(s, Path) and s.kind == f"room-{room}"), None)
    if path is None:
        return set()
    left, top, right, _ = path.box
    side = (right - left) / len(found.starts)
    first = found.starts.start
    pairs = set()
    for x, y, wide, high in re.findall(r"M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)", path.d):
        row = int((float(y) + float(high) / 2 - top) / side)
        column, count = round((float(x) - left) / side), round(float(wide) / side)
        pairs |= {(first + row, first + 1 + column + i) for i in range(count)}
    return pairs


@pytest.mark.parametrize("kind", ["bass_4_34", "electric_7", "classical_6"])
@pytest.mark.parametrize("height_mm", [1.2, 2.4, None])
def test_the_bars_lie_on_the_squares_that_they_mean(kind: str, height_mm: float | None) -> None:
    found = map_of(kind, height_mm)
    drawing = clearance_map_drawing(found, 5, "t")
    for room in (Room.TOUCHES, Room.CLOSE):
        assert squares(drawing, found, room) == {(p.fretted, p.over) for p in found.of_room(room)}


def test_touching_and_being_close_differ_without_colour() -> None:
    drawing = clearance_map_drawing(map_of(height_mm=1.6), 5, "t")
    thick = {
        kind: {h for _, h in re.findall(r"h([\d.]+)v([\d.]+)", path.d)}
        for kind in ("room-touches", "room-close")
        for path in drawing.flat()
        if isinstance(path, Path) and path.kind == kind
    }
    (touches,), (close,) = thick["room-touches"], thick["room-close"]
    assert float(touches) > 2 * float(close)


def test_every_fret_has_its_column_on_a_phone() -> None:
    for kind in all_kinds():
        drawing = clearance_map_drawing(map_of(kind), 3, "t")
        assert drawing.width == WIDTH
        grid = next(s for s in drawing.flat() if isinstance(s, Path) and s.kind == "map-grid")
        count = len(map_of(kind).starts)
        columns = {float(x) for x in re.findall(rf"M([\d.]+) {grid.box[1]:.1f}V", grid.d)}
        assert len(columns) == count + 1
        steps = [b - a for a, b in pairwise(sorted(columns))]
        assert max(steps) - min(steps) < 0.21 and min(steps) > 9


def test_the_held_row_and_what_it_meets_first_are_framed() -> None:
    found = map_of(height_mm=1.6)
    drawing = clearance_map_drawing(found, 5, "t")
    row = next(s for s in drawing.flat() if isinstance(s, Rect) and s.kind == "map-row")
    here = next(s for s in drawing.flat() if isinstance(s, Rect) and s.kind == "map-here")
    assert row.y == here.y and here.w == row.h
    assert round((here.x - row.x) / here.w) == found.tightest(5).over - 6
    bold = {s.text for s in drawing.flat() if isinstance(s, Text) and s.kind == "strong"}
    assert bold == {"5", str(found.tightest(5).over)}


def test_the_open_string_has_a_row_once_its_nut_was_read() -> None:
    opened = clearance_map_drawing(map_of(nut_mm=0.35), 0, "t")
    assert "open" in {s.text for s in opened.flat() if isinstance(s, Text)}
    assert "Met first, with what is left in mm: open over" in opened.description
    assert "open" not in {
        s.text for s in clearance_map_drawing(map_of(), 1, "t").flat() if isinstance(s, Text)
    }


def test_the_words_say_how_many_and_what_every_note_meets_first() -> None:
    found = map_of(height_mm=1.6)
    drawing = clearance_map_drawing(found, 5, "t", THOU)
    texts = [s.text for s in drawing.flat() if isinstance(s, Text)]
    for room in Room:
        words = f"{room}: {len(found.of_room(room))}"
        assert words in texts and words in drawing.description
    first = found.tightest(7)
    left = f"{first.left_mm / 0.0254:.0f}".replace("-", "−")
    assert f"7 over {first.over} {left} {first.room}" in drawing.description
    assert drawing.description.count(" over ") == len(found.starts) + 1


def test_every_picture_is_on_its_paper_and_legible(on_paper: Judge, no_overlap: Judge) -> None:
    seen = set()
    for name, drawing in pictures():
        on_paper(drawing)
        no_overlap(drawing)
        seen.add(name)
    for kind in all_kinds():
        assert {f"plan-{kind}", f"clearance-map-{kind}"} <= seen
