"""The fretboard plan and its rows."""

from collections.abc import Callable

import pytest

from webapp.drawings.board import BuzzMark, board_rows, buzz_drawing, mark_shape
from webapp.drawings.shapes import Circle, Drawing, Line, Text

Judge = Callable[[Drawing], None]

STRINGS = ("E1", "A1", "D2", "G2")


def test_rows_run_from_the_open_string_to_the_last_fret() -> None:
    rows = board_rows(863.6, 20)
    assert [r.fret for r in rows] == list(range(21))
    assert rows[0].label == "open" and rows[12].label == "12"
    assert [r.fret for r in rows if r.marker] == [3, 5, 7, 9, 12, 15, 17, 19]
    assert sum(r.share for r in rows) == pytest.approx(1)
    # Each fret is narrower than the one before by a twelfth of an octave.
    assert rows[8].share / rows[7].share == pytest.approx(2 ** (-1 / 12))


def test_marks_differ_in_shape() -> None:
    def build(look: int) -> tuple[str, ...]:
        return tuple(
            f"{type(s).__name__} {s.kind} {len(getattr(s, 'points', ()))}" for s in mark_shape(look, 9, 9, 3)
        )

    assert len({build(look) for look in range(5)}) == 5


def test_a_mark_sits_on_its_string_between_its_frets() -> None:
    marks = [BuzzMark(4, 2, "buzz"), BuzzMark(1, 0, "rattle")]
    drawing = buzz_drawing(863.6, 20, STRINGS, marks)
    names = {s.text: s.y - 4 for s in drawing.shapes if isinstance(s, Text) and s.text in STRINGS}
    assert names["G2"] < names["E1"]
    frets = [s.x1 for s in drawing.shapes if isinstance(s, Line) and s.x1 == s.x2]
    cross = next(s for s in drawing.shapes if isinstance(s, Line) and s.kind == "mark")
    assert frets[1] < cross.x1 < cross.x2 < frets[2]
    assert (cross.y1 + cross.y2) / 2 == pytest.approx(names["E1"])
    ring = next(s for s in drawing.shapes if isinstance(s, Circle) and s.kind == "mark-open")
    assert ring.cx < frets[0] and ring.cy == pytest.approx(names["G2"])


def test_frets_are_to_scale() -> None:
    drawing = buzz_drawing(647.7, 24, STRINGS, [])
    frets = [s.x1 for s in drawing.shapes if isinstance(s, Line) and s.x1 == s.x2]
    assert len(frets) == 25
    assert (frets[12] - frets[0]) / (frets[24] - frets[0]) == pytest.approx(0.5 / 0.75)


def test_words() -> None:
    marks = [BuzzMark(4, 2), BuzzMark(4, 1), BuzzMark(1, 0, "rattle")]
    text = buzz_drawing(863.6, 20, STRINGS, marks).description
    assert text == "String E1, buzz: fret 1, fret 2. String G2, rattle: open."
    assert buzz_drawing(863.6, 20, STRINGS, []).description == "No note is marked."


@pytest.mark.parametrize("count", [4, 6, 7, 12])
@pytest.mark.parametrize("frets", [12, 20, 24, 36])
def test_full_boards_stay_readable(count: int, frets: int, on_paper: Judge, no_overlap: Judge) -> None:
    words = ["buzz", "rattles when open", "dead", "rings on", "chokes"]
    marks = [BuzzMark(s, f, words[(s + f) % 5]) for s in range(1, count + 1) for f in range(frets + 1)]
    drawing = buzz_drawing(650, frets, [f"F#{i}" for i in range(count)], marks)
    on_paper(drawing)
    no_overlap(drawing)


@pytest.mark.parametrize("mark", [BuzzMark(5, 1), BuzzMark(0, 1), BuzzMark(1, 21), BuzzMark(1, -1)])
def test_a_note_off_the_board_is_refused(mark: BuzzMark) -> None:
    with pytest.raises(ValueError, match="no string"):
        buzz_drawing(863.6, 20, STRINGS, [mark])
