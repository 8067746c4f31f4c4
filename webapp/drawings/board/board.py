"""The fretboard: the rows of the board on which buzzing notes are tapped, and a plan of what was tapped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from webapp.drawings.portrait.outline import DOTS
from webapp.drawings.shapes import WIDTH, Drawing, Line, Path, Rect, Shape, Text, kind_width
from webapp.physics.frets import fret_position

PEN_PX_PER_MM, THICKEST_PEN = 1.5, 4
OPEN_PX = 16.0  # the strip before the nut, where open strings are marked
PITCH = 18.0
CROSS = 3.6
TOP = 8.0


@dataclass(frozen=True)
class BoardRow:
    """One row of the buzz board: a fret (0 for the open string), its words, its dots (0 to 2)."""

    fret: int
    label: str
    dots: int


@dataclass(frozen=True)
class BoardString:
    """One column of the buzz board: the string's number, its name, its pen of 1 to 4 (CSS pixels)."""

    number: int
    label: str
    pen: int


@dataclass(frozen=True)
class BuzzMark:
    """A note that buzzed: `string` 1 is the one drawn at the top, fret 0 is open."""

    string: int
    fret: int


def board_rows(fret_count: int, dotted: bool = True) -> tuple[BoardRow, ...]:
    """Open string first, then every fret; the style sheet narrows the rows as frets narrow."""
    frets = range(1, fret_count + 1)
    rows = (BoardRow(fret, str(fret), dots_at(fret) if dotted else 0) for fret in frets)
    return (BoardRow(0, "open", 0), *rows)


def dots_at(fret: int) -> int:
    """How many dots a fret has: one, two at the octave, mostly none."""
    return (2 if fret % 12 == 0 else 1) if fret in DOTS else 0


def board_string(number: int, label: str, gauge_mm: float) -> BoardString:
    """A string with the pen that its thickness takes."""
    return BoardString(number, label, min(THICKEST_PEN, max(1, round(gauge_mm * PEN_PX_PER_MM))))


def buzz_drawing(
    scale_mm: float,
    fret_count: int,
    strings: Sequence[str],
    marks: Sequence[BuzzMark],
    title: str = "Notes that buzzed",
    dotted: bool = True,
) -> Drawing:
    """The board from above, nut on the left, frets to scale, a cross for every mark.

    `strings` names them from the foot up; a board without dots is not `dotted`.  A mark off the board raises
    ValueError.
    """
    for mark in marks:
        if not (0 <= mark.fret <= fret_count and 1 <= mark.string <= len(strings)):
            raise ValueError(f"no string {mark.string}, fret {mark.fret} on this board")
    left = 6 + max((kind_width(s, "label") for s in strings), default=0.0) + 4
    height = PITCH * len(strings)
    nut_x, right = left + OPEN_PX, WIDTH - 6
    places = [float(fret_position(scale_mm, fret)) for fret in range(fret_count + 1)]
    frets = [nut_x + (right - nut_x) * place / places[-1] for place in places]
    shapes: list[Shape] = [*_plan(frets, height, dotted), *_strings(strings, left, right)]
    for mark in marks:
        x = nut_x - OPEN_PX / 2 if mark.fret == 0 else (frets[mark.fret - 1] + frets[mark.fret]) / 2
        half = min(CROSS, (frets[-1] - frets[-2]) / 2 - 0.6)
        shapes.append(_cross(x, TOP + PITCH * (mark.string - 0.5), half))
    bottom = TOP + height + 20
    return Drawing(WIDTH, bottom, tuple(shapes), title, _description(strings, marks))


def _cross(x: float, y: float, half: float) -> Path:
    wide = f"{2 * half:.1f}"
    d = f"M{x - half:.1f} {y - half:.1f}l{wide} {wide}m0 -{wide}l-{wide} {wide}"
    return Path(d, (x - half, y - half, x + half, y + half), "touch")


def _plan(frets: Sequence[float], height: float, dotted: bool) -> list[Shape]:
    """The wood, its frets and dots, and as many fret numbers as there is room for."""
    shapes: list[Shape] = [Rect(frets[0], TOP, frets[-1] - frets[0], height, "board")]
    wires = "".join(f"M{x:.1f} {TOP:.1f}v{height:.1f}" for x in frets[1:])
    shapes.append(Path(wires, (frets[0], TOP, frets[-1], TOP + height), "thin"))
    shapes.append(Rect(frets[0] - 3, TOP - 2, 3, height + 4, "metal"))
    dots, end = "", 0.0
    for fret in (fret for fret in DOTS if fret < len(frets)):
        middle = (frets[fret] + frets[fret - 1]) / 2
        for share in (0.5,) if dots_at(fret) == 1 else (0.25, 0.75):
            dots += f"M{middle:.1f} {TOP + height * share:.1f}h0"
        half = kind_width(str(fret), "caption") / 2
        if middle - half >= end + 3 and middle + half <= WIDTH:
            end = middle + half
            shapes.append(Text(middle, TOP + height + 15, str(fret), "caption"))
    drawn = [Path(dots, (frets[0], TOP, frets[-1], TOP + height), "board-dot")] if dotted else []
    return [*shapes, *drawn]


def _strings(strings: Sequence[str], left: float, right: float) -> list[Shape]:
    shapes: list[Shape] = []
    for index, name in enumerate(reversed(strings)):
        y = TOP + PITCH * (index + 0.5)
        shapes += [Line(left, y, right, y, "thin"), Text(left - 4, y + 4.5, name, "label", "end")]
    return shapes


def _description(strings: Sequence[str], marks: Sequence[BuzzMark]) -> str:
    parts = []
    for index, name in enumerate(reversed(strings)):
        frets = sorted({m.fret for m in marks if m.string == index + 1})
        if frets:
            where = ", ".join("open" if f == 0 else f"fret {f}" for f in frets)
            parts.append(f"String {name} buzzed: {where}.")
    return " ".join(parts) or "No note is marked."
