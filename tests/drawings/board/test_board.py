"""The buzz board's rows and strings, and the plan of what buzzed."""

import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path as File

import pytest

from webapp.drawings.board.board import BuzzMark, board_rows, board_string, buzz_drawing
from webapp.drawings.shapes import Drawing, Path, Text, extent

Judge = Callable[[Drawing], None]

STRINGS = ("E", "A", "D", "G")
CSS = (File(__file__).resolve().parents[3] / "static" / "benchside.css").read_text(encoding="utf-8")


def crosses(drawing: Drawing) -> list[tuple[float, float]]:
    """The middles of the marks."""
    boxes = [extent(s) for s in drawing.flat() if isinstance(s, Path) and s.kind == "touch"]
    return [((a + c) / 2, (b + d) / 2) for a, b, c, d in boxes]


def wires(drawing: Drawing) -> list[float]:
    """Where the frets lie, the nut first."""
    board = next(s for s in drawing.flat() if s.kind == "board")
    path = next(s for s in drawing.flat() if isinstance(s, Path) and s.kind == "thin")
    return [extent(board)[0], *(float(x) for x in re.findall(r"M([\d.]+) ", path.d))]


def names(drawing: Drawing) -> dict[str, float]:
    return {s.text: s.y - 4.5 for s in drawing.flat() if isinstance(s, Text) and s.text in STRINGS}


def test_rows_run_from_the_open_string_to_the_last_fret() -> None:
    rows = board_rows(20)
    assert [r.fret for r in rows] == list(range(21))
    assert rows[0].label == "open" and rows[12].label == "12"
    assert {r.fret: r.dots for r in rows if r.dots} == {3: 1, 5: 1, 7: 1, 9: 1, 12: 2, 15: 1, 17: 1, 19: 1}


def test_a_board_without_dots_has_none() -> None:
    assert not any(row.dots for row in board_rows(19, dotted=False))
    plain = buzz_drawing(650, 19, STRINGS, [], dotted=False)
    assert not any(s.kind == "board-dot" for s in plain.flat())


def test_rows_narrow_as_frets_do_and_never_below_a_finger() -> None:
    # Row 1 of the board is the open string, row 2 the first fret.
    heights = {int(n) - 1: float(h) for n, h in re.findall(r"tr:nth-child\((\d+)\) \{ --row: (\d+)px", CSS)}
    usual = re.search(r"\.board tbody tr \{[^}]*--row: (\d+)px", CSS)
    assert usual is not None and float(usual[1]) == 44
    assert sorted(heights) == list(range(1, len(heights) + 1)) and len(heights) >= 6
    for fret in range(1, 25):
        true = heights[1] * 2 ** (-(fret - 1) / 12)
        assert heights.get(fret, 44.0) == pytest.approx(max(true, 44.0), abs=0.6)


def test_a_thicker_string_has_a_thicker_pen() -> None:
    pens = [
        board_string(n, "E", gauge).pen for n, gauge in enumerate((0.23, 0.6, 1.14, 1.65, 2.16, 2.67, 3.3))
    ]
    assert pens == sorted(pens) and pens[0] == 1 and pens[-1] == 4
    assert all(f".pen-{pen} {{ --pen: {pen}px" in CSS for pen in set(pens) - {1})


def test_a_mark_sits_on_its_string_between_its_frets() -> None:
    drawing = buzz_drawing(863.6, 20, STRINGS, [BuzzMark(4, 2), BuzzMark(1, 0)])
    places, frets, (low, opened) = names(drawing), wires(drawing), crosses(drawing)
    assert places["G"] < places["E"]
    assert frets[1] < low[0] < frets[2] and low[1] == pytest.approx(places["E"])
    assert opened[0] < frets[0] and opened[1] == pytest.approx(places["G"])


@pytest.mark.parametrize("frets", [12, 20, 24])
def test_frets_narrow_by_a_twelfth_of_an_octave(frets: int) -> None:
    found = wires(buzz_drawing(647.7, frets, STRINGS, []))
    assert len(found) == frets + 1
    assert (found[12] - found[0]) / (found[-1] - found[0]) == pytest.approx(
        0.5 / (1 - 2 ** (-frets / 12)), abs=1e-3
    )
    widths = [b - a for a, b in pairwise(found)]
    assert all(second < first for first, second in pairwise(widths[:12]))


def test_dots_lie_in_their_frets_two_at_the_octave() -> None:
    drawing = buzz_drawing(863.6, 20, STRINGS, [])
    path = next(s for s in drawing.flat() if isinstance(s, Path) and s.kind == "board-dot")
    frets, dots = wires(drawing), [float(x) for x in re.findall(r"M([\d.]+) ", path.d)]
    where = [next(f for f in range(1, 21) if frets[f - 1] < x < frets[f]) for x in dots]
    assert where == [3, 5, 7, 9, 12, 12, 15, 17, 19]


def test_words() -> None:
    marks = [BuzzMark(4, 2), BuzzMark(4, 1), BuzzMark(1, 0)]
    text = buzz_drawing(863.6, 20, STRINGS, marks).description
    assert text == "String G buzzed: open. String E buzzed: fret 1, fret 2."
    assert buzz_drawing(863.6, 20, STRINGS, []).description == "No note is marked."


@pytest.mark.parametrize("count", [4, 6, 7, 12])
@pytest.mark.parametrize("frets", [12, 20, 24, 36])
def test_full_boards_stay_readable(count: int, frets: int, on_paper: Judge, no_overlap: Judge) -> None:
    marks = [BuzzMark(s, f) for s in range(1, count + 1) for f in range(frets + 1)]
    drawing = buzz_drawing(650, frets, [f"F#{i}" for i in range(count)], marks)
    on_paper(drawing)
    no_overlap(drawing)
    # Marks side by side never touch.
    across = sorted({round(x, 3) for x, _ in crosses(drawing)})
    widest = max(s.box[2] - s.box[0] for s in drawing.flat() if isinstance(s, Path) and s.kind == "touch")
    assert min(b - a for a, b in pairwise(across)) > widest


@pytest.mark.parametrize("mark", [BuzzMark(5, 1), BuzzMark(0, 1), BuzzMark(1, 21), BuzzMark(1, -1)])
def test_a_note_off_the_board_is_refused(mark: BuzzMark) -> None:
    with pytest.raises(ValueError, match="no string"):
        buzz_drawing(863.6, 20, STRINGS, [mark])
