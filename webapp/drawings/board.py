"""The fretboard: rows for tapping buzz notes, and a plan of the notes that were marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from webapp.drawings.shapes import (
    WIDTH,
    Circle,
    Drawing,
    Line,
    Plain,
    Polyline,
    Rect,
    Shape,
    Text,
    kind_width,
)
from webapp.physics.frets import fret_position

INLAYS = (3, 5, 7, 9, 12, 15, 17, 19, 21, 24)
OPEN_PX = 16.0  # the strip before the nut, where open strings are marked
HALF = 3.2  # half the size of a mark


@dataclass(frozen=True)
class BoardRow:
    """One row of the buzz board. `share` is the fret's part of the board's length, 0 for the open string."""

    fret: int
    label: str
    marker: bool
    share: float


@dataclass(frozen=True)
class BuzzMark:
    """A note heard to misbehave: `string` 1 is the thinnest, fret 0 is open, `word` says what was heard."""

    string: int
    fret: int
    word: str = "buzz"


def board_rows(scale_mm: float, fret_count: int) -> tuple[BoardRow, ...]:
    """Open string first, then every fret."""
    places = [float(fret_position(scale_mm, f)) for f in range(fret_count + 1)]
    rows = [BoardRow(0, "open", False, 0.0)]
    for fret in range(1, fret_count + 1):
        share = (places[fret] - places[fret - 1]) / places[-1]
        rows.append(BoardRow(fret, str(fret), fret in INLAYS, share))
    return tuple(rows)


def buzz_drawing(
    scale_mm: float,
    fret_count: int,
    strings: Sequence[str],
    marks: Sequence[BuzzMark],
    title: str = "Notes that buzzed",
) -> Drawing:
    """The board from above, nut on the left, frets to scale, bass string at the foot.

    `strings` names them bass side first.  Marks of different words differ in shape: cross, ring, square,
    triangle, diamond, in the order the words first come.  A mark off the board raises ValueError.
    """
    for mark in marks:
        if not (0 <= mark.fret <= fret_count and 1 <= mark.string <= len(strings)):
            raise ValueError(f"no string {mark.string}, fret {mark.fret} on this board")
    left = 8 + max((kind_width(s, "label") for s in strings), default=0.0) + 6
    pitch = 18.0 if len(strings) <= 6 else 14.0
    top, height = 10.0, pitch * len(strings)
    nut_x, right = left + OPEN_PX, WIDTH - 8
    frets = [
        nut_x + (right - nut_x) * float(fret_position(1, f) / fret_position(1, fret_count))
        for f in range(fret_count + 1)
    ]
    shapes: list[Shape] = [*_plan(frets, top, height), *_strings(strings, left, right, top, pitch)]
    words = list(dict.fromkeys(m.word for m in marks))
    for mark in marks:
        x = nut_x - OPEN_PX / 2 if mark.fret == 0 else (frets[mark.fret - 1] + frets[mark.fret]) / 2
        half = min(HALF, (frets[-1] - frets[-2]) / 2 - 0.6)
        shapes += mark_shape(words.index(mark.word), x, top + pitch * (mark.string - 0.5), half)
    legend, bottom = _legend(words, top + height + 24)
    return Drawing(WIDTH, bottom, (*shapes, *legend), title, _description(strings, marks, words))


def mark_shape(look: int, x: float, y: float, half: float) -> tuple[Plain, ...]:
    """One of five shapes that stay apart without colour."""
    h = half
    looks: tuple[tuple[Plain, ...], ...] = (
        (Line(x - h, y - h, x + h, y + h, "mark"), Line(x - h, y + h, x + h, y - h, "mark")),
        (Circle(x, y, h, "mark-open"),),
        (Rect(x - h, y - h, 2 * h, 2 * h, "mark-solid"),),
        (Polyline(((x, y - h), (x + h, y + h), (x - h, y + h)), "mark-solid", closed=True),),
        (Polyline(((x, y - h), (x + h, y), (x, y + h), (x - h, y)), "mark-open", closed=True),),
    )
    return looks[look % len(looks)]


def _plan(frets: Sequence[float], top: float, height: float) -> list[Shape]:
    shapes: list[Shape] = [Rect(frets[0], top, frets[-1] - frets[0], height, "board")]
    ends: list[float] = [0.0]
    for fret, x in enumerate(frets):
        shapes.append(Line(x, top, x, top + height, "fret" if fret == 0 else "thin"))
        if fret in INLAYS:
            middle = (x + frets[fret - 1]) / 2
            half = kind_width(str(fret), "caption") / 2
            if middle - half >= ends[-1] + 3 and middle + half <= WIDTH:
                ends.append(middle + half)
                shapes.append(Text(middle, top + height + 14, str(fret), "caption"))
    return shapes


def _strings(strings: Sequence[str], left: float, right: float, top: float, pitch: float) -> list[Shape]:
    shapes: list[Shape] = []
    for index, name in enumerate(reversed(strings)):
        y = top + pitch * (index + 0.5)
        shapes += [Line(left, y, right, y, "faint"), Text(left - 5, y + 4, name, "label", "end")]
    return shapes


def _legend(words: Sequence[str], y: float) -> tuple[list[Shape], float]:
    shapes: list[Shape] = []
    x, line = 10.0, y + 10
    for look, word in enumerate(words):
        width = 14 + kind_width(word, "label") + 14
        if x > 10 and x + width > WIDTH:
            x, line = 10.0, line + 17
        shapes += [*mark_shape(look, x + 4, line - 4, 4.0), Text(x + 13, line, word, "label", "start")]
        x += width
    return shapes, (line if words else y - 12) + 8


def _description(strings: Sequence[str], marks: Sequence[BuzzMark], words: Sequence[str]) -> str:
    if not marks:
        return "No note is marked."
    parts = []
    for word in words:
        for index, name in enumerate(reversed(strings)):
            frets = sorted({m.fret for m in marks if m.word == word and m.string == index + 1})
            if frets:
                where = ", ".join("open" if f == 0 else f"fret {f}" for f in frets)
                parts.append(f"String {name}, {word}: {where}.")
    return " ".join(parts)
