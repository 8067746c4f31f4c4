"""Cross-section at one fret, seen from the bridge: the cut neck, the strings over it, heights and targets.

One scale for everything: a string's circle is as thick as the string, and its gap to the fret is the gap.  A
string's underside, where its height is measured, is its circle's foot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite, sqrt

from webapp.drawings.marks import mark
from webapp.drawings.shapes import (
    WIDTH,
    Box,
    Circle,
    Drawing,
    Line,
    Path,
    Plain,
    Rect,
    Shape,
    Text,
    kind_width,
    leader,
)
from webapp.drawings.table import TableRow, columns, flow, table
from webapp.drawings.units import MM, Units, long_length
from webapp.setups.states import Word

MARGIN = 6.0
EDGE_MM = 3.5  # board outside the outer strings
FRET_MM = 1.2  # a fret's height over the board
BOARD_MM = 6.0  # a board's thickness at its crown, and the least at its edge
BOARD_EDGE_MM = 2.5
# Wood under the board, and where a body's is cut off: usual ones, no instrument says its own.
WOOD_MM, CUT_MM = 13.5, 11.0
DEPTH = "The neck’s depth is a usual one."
ROD_MM, CHANNEL_MM, CHANNEL_DEEP_MM = 5.0, 6.0, 9.0
MARK_R = 6.5
HATCHED_R = 3.0  # a smaller circle has no room for hatching
HEADS_PX = 10.0  # a shorter gap is a bar without arrowheads
BAND_PX = 30.0


@dataclass(frozen=True)
class SectionString:
    """One string over the fret, mm: `offset_mm` from the centre line, minus on the bass side.

    `gap_mm` is None where nothing is known; not `measured` says that it is computed or expected.
    """

    label: str
    offset_mm: float
    gauge_mm: float
    gap_mm: float | None
    target_low_mm: float
    target_high_mm: float
    word: Word = Word.NOT_MEASURED
    measured: bool = True

    @property
    def drawn_gap_mm(self) -> float:
        """Where the circle stands: what is known, else mid-target."""
        return (self.target_low_mm + self.target_high_mm) / 2 if self.gap_mm is None else self.gap_mm

    @property
    def solid(self) -> bool:
        return self.measured and self.gap_mm is not None


@dataclass(frozen=True)
class SectionScale:
    """Millimetres at the fret to the drawing: x from the centre line, y from the crown of the fret top."""

    px_per_mm: float
    crown_y: float
    radius_mm: float | None
    half_mm: float

    def x(self, offset_mm: float) -> float:
        return WIDTH / 2 + offset_mm * self.px_per_mm

    def fret_y(self, offset_mm: float) -> float:
        return self.crown_y + sagitta(self.radius_mm, offset_mm) * self.px_per_mm

    def y(self, offset_mm: float, gap_mm: float) -> float:
        return self.fret_y(offset_mm) - gap_mm * self.px_per_mm

    def down(self, mm: float) -> float:
        """The y so far below the crown of the fret top."""
        return self.crown_y + mm * self.px_per_mm


def sagitta(radius_mm: float | None, offset_mm: float) -> float:
    """How far the fret top lies below its crown, `offset_mm` off centre; a flat board has none."""
    if radius_mm is None:
        return 0.0
    reach = min(abs(offset_mm), 0.98 * radius_mm)
    return radius_mm - sqrt(radius_mm**2 - reach**2)


def cross_section(
    radius_mm: float | None,
    strings: Sequence[SectionString],
    *,
    fret: int,
    title: str,
    rod: bool = True,
    over_body: bool = False,
    left_handed: bool = False,
    units: Units = MM,
) -> Drawing:
    """Draw the strings over `fret`, bass side on the left (right if `left_handed`); any order will do.

    `rod`: there is a rod's channel; `over_body`: the fret lies past the joint.  Raises ValueError for a
    string without a finite place, gauge or gap.
    """
    ordered = sorted(strings, key=lambda s: s.offset_mm)
    if any(not isfinite(v) for s in ordered for v in (s.offset_mm, s.gauge_mm, s.drawn_gap_mm)):
        raise ValueError("every string needs a finite place, gauge and gap")
    words = _description(radius_mm, ordered, fret, units)
    if left_handed:
        ordered = [replace(s, offset_mm=-s.offset_mm) for s in reversed(ordered)]
    scale, heads, head_y = _scale(radius_mm, ordered, units)
    shapes: list[Shape] = [*_neck(scale, rod, over_body), *_strings(scale, ordered)]
    leaders = ""
    for string, centre in zip(ordered, heads, strict=True):
        foot = scale.y(string.offset_mm, string.drawn_gap_mm)
        top = foot - string.gauge_mm * scale.px_per_mm - 2
        leaders += f"M{centre:.1f} {head_y:.1f}L{scale.x(string.offset_mm):.1f} {top:.1f}"
        shapes += mark(string.word, centre, head_y - MARK_R - 2, MARK_R)
    if leaders:
        shapes.append(Path(leaders, (MARGIN, head_y, WIDTH - MARGIN, scale.crown_y), "leader"))
    shapes += table(heads, _rows(ordered, units), 0.0)[0]
    key, bottom = _key(ordered, left_handed, _depth_y(scale, over_body) + 20)
    note = f"Seen from the bridge, nothing stretched. {_board_words(radius_mm, units)} {DEPTH}"
    return Drawing(WIDTH, bottom, (*shapes, *key), title, words, None, note)


def _rows(strings: Sequence[SectionString], units: Units) -> list[TableRow]:
    """Name and height of each string."""
    gaps = ["" if s.gap_mm is None else units.number(s.gap_mm) for s in strings]
    return [TableRow([s.label for s in strings], "strong"), TableRow(gaps, "number")]


def _scale(
    radius_mm: float | None, strings: Sequence[SectionString], units: Units
) -> tuple[SectionScale, list[float], float]:
    """The scale, the columns of figures over the strings, and where those figures end."""
    half_mm = max([abs(s.offset_mm) + s.gauge_mm / 2 for s in strings] + [8.0]) + EDGE_MM
    px = (WIDTH / 2 - MARGIN) / half_mm
    rows = _rows(strings, units)
    heads = columns([WIDTH / 2 + s.offset_mm * px for s in strings], rows)
    head_y = table(heads, rows, 0.0)[1] + 2 * MARK_R + 4
    over = [
        max(s.drawn_gap_mm + s.gauge_mm, s.target_high_mm) - sagitta(radius_mm, s.offset_mm) for s in strings
    ]
    return SectionScale(px, head_y + 10 + max([*over, 0.0]) * px, radius_mm, half_mm), heads, head_y


# The neck


def _board_mm(scale: SectionScale) -> float:
    """The board's lower face, mm below the crown of the fret top."""
    return FRET_MM + max(BOARD_MM, sagitta(scale.radius_mm, scale.half_mm) + BOARD_EDGE_MM)


def _depth_y(scale: SectionScale, over_body: bool) -> float:
    return scale.down(_board_mm(scale) + (CUT_MM if over_body else WOOD_MM))


def _neck(scale: SectionScale, rod: bool, over_body: bool) -> list[Shape]:
    left, right = scale.x(-scale.half_mm), scale.x(scale.half_mm)
    joint, bottom = scale.down(_board_mm(scale)), _depth_y(scale, over_body)
    wood = (_cut_wood if over_body else _neck_wood)(left, right, joint, bottom)
    top, under = _arc(scale, 0.0), _arc(scale, FRET_MM)
    edge = scale.fret_y(scale.half_mm)
    board = f"M{under}V{joint:.1f}H{left:.1f}Z"
    board_box = (left, scale.down(FRET_MM), right, joint)
    fret_box = (left, scale.crown_y, right, edge + FRET_MM * scale.px_per_mm)
    shapes: list[Shape] = [
        *(Path(wood, (left, joint, right, bottom), kind) for kind in ("wood", "hatch-wood")),
        *(Path(board, board_box, kind) for kind in ("board", "hatch-board")),
        Path(f"M{top}L{_arc(scale, FRET_MM, back=True)}Z", fret_box, "metal"),
    ]
    if rod:
        shapes += _rod(scale, joint)
    middle = WIDTH / 2
    return [*shapes, Line(middle, scale.crown_y - 8, middle, bottom + 6, "centre")]


def _arc(scale: SectionScale, below_mm: float, back: bool = False) -> str:
    """The fret top's line, so far below it, from the bass side to the treble side or back."""
    y = scale.fret_y(scale.half_mm) + below_mm * scale.px_per_mm
    ends = [f"{scale.x(-scale.half_mm):.1f} {y:.1f}", f"{scale.x(scale.half_mm):.1f} {y:.1f}"]
    start, end = reversed(ends) if back else ends
    if scale.radius_mm is None:
        return f"{start}L{end}"
    r = scale.radius_mm * scale.px_per_mm
    return f"{start}A{r:.1f} {r:.1f} 0 0 {0 if back else 1} {end}"


def _neck_wood(left: float, right: float, top: float, bottom: float) -> str:
    """The back of a neck, round from edge to edge."""
    middle, half, deep = (left + right) / 2, (right - left) / 2, bottom - top
    side, flat = top + 0.62 * deep, 0.55 * half
    return (
        f"M{left:.1f} {top:.1f}H{right:.1f}C{right:.1f} {side:.1f} {middle + flat:.1f} {bottom:.1f} "
        f"{middle:.1f} {bottom:.1f}S{left:.1f} {side:.1f} {left:.1f} {top:.1f}Z"
    )


def _cut_wood(left: float, right: float, top: float, bottom: float) -> str:
    """The wood over the body: straight sides down to a break line."""
    step = (right - left) / 4
    waves = "".join(f"q{-step / 2:.1f} {8 if i % 2 else -8} {-step:.1f} 0" for i in range(4))
    return f"M{left:.1f} {top:.1f}H{right:.1f}V{bottom - 4:.1f}{waves}Z"


def _rod(scale: SectionScale, joint: float) -> list[Shape]:
    px, middle = scale.px_per_mm, WIDTH / 2
    wide, deep, r = CHANNEL_MM * px, CHANNEL_DEEP_MM * px, ROD_MM * px / 2
    y = joint + deep - r - 0.5 * px
    label = middle + wide / 2 + 22
    return [
        Rect(middle - wide / 2, joint, wide, deep, "paper", 2),
        Rect(middle - wide / 2, joint, wide, deep, "outline", 2),
        Circle(middle, y, r, "metal"),
        Circle(middle, y, r, "hatch-metal"),
        leader((middle + r * 0.5, y), (label - 3, y - 2)),
        Text(label, y + 3, "rod", "halo", "start"),
    ]


# The strings


def _strings(scale: SectionScale, strings: Sequence[SectionString]) -> list[Shape]:
    """Targets, circles and heights; all bands are one path, and so are all heights."""
    if not strings:
        return []
    room, box = _room(scale, strings), _around(scale, strings)
    bands, edges, heights, points = "", "", "", ""
    for s in strings:
        half = min(BAND_PX, max(s.gauge_mm * scale.px_per_mm + 12, 16), room) / 2
        left, wide = scale.x(s.offset_mm) - half, 2 * half
        high, low = scale.y(s.offset_mm, s.target_high_mm), scale.y(s.offset_mm, s.target_low_mm)
        bands += f"M{left:.1f} {high:.1f}h{wide:.1f}V{low:.1f}h{-wide:.1f}Z"
        edges += "".join(f"M{left:.1f} {y:.1f}h{wide:.1f}" for y in (high, low))
        foot, fret = scale.y(s.offset_mm, s.drawn_gap_mm), scale.fret_y(s.offset_mm)
        line, heads = _height(scale.x(s.offset_mm), foot, fret)
        heights, points = heights + line, points + heads
    circles = [shape for s in strings for shape in _circle(scale, s)]
    inked = ((heights, "outline"), (points, "ink-fill"))
    return [
        Path(bands, box, "target"),
        Path(edges, box, "outline"),
        *circles,
        *(Path(d, box, kind) for d, kind in inked if d),
    ]


def _around(scale: SectionScale, strings: Sequence[SectionString]) -> Box:
    """Everything between the frets and the highest target or foot."""
    gaps = [
        (s.offset_mm, gap) for s in strings for gap in (0, s.drawn_gap_mm, s.target_low_mm, s.target_high_mm)
    ]
    ys = [scale.y(offset, gap) for offset, gap in gaps]
    return scale.x(-scale.half_mm), min(ys), scale.x(scale.half_mm), max(ys)


def _room(scale: SectionScale, strings: Sequence[SectionString]) -> float:
    """How broad a string's band may be without touching its neighbour's."""
    gaps = [scale.x(b.offset_mm) - scale.x(a.offset_mm) for a, b in zip(strings, strings[1:], strict=False)]
    return max(5.0, min(gaps, default=BAND_PX) - 2)


def _circle(scale: SectionScale, s: SectionString) -> list[Plain]:
    r = s.gauge_mm / 2 * scale.px_per_mm
    x, y = scale.x(s.offset_mm), scale.y(s.offset_mm, s.drawn_gap_mm) - r
    if not s.solid:
        return [Circle(x, y, r, "forecast")]
    return [Circle(x, y, r, "metal"), *([Circle(x, y, r, "hatch-metal")] if r >= HATCHED_R else [])]


def _height(x: float, foot: float, fret: float) -> tuple[str, str]:
    """The dimension line from the string's foot to the fret top, and its heads where there is room."""
    if fret - foot < 0.5:
        return "", ""
    line = f"M{x:.1f} {foot:.1f}V{fret:.1f}"
    if fret - foot < HEADS_PX:
        return line, ""
    heads = f"M{x:.1f} {foot:.1f}l2 4h-4ZM{x:.1f} {fret:.1f}l2 -4h-4Z"
    return line, heads


# Words


def _key(strings: Sequence[SectionString], left_handed: bool, y: float) -> tuple[list[Shape], float]:
    """The sides, what the bands are, and every mark in its word; what does not fit takes another line."""
    sides = ("treble side", "bass side") if left_handed else ("bass side", "treble side")
    shapes: list[Shape] = [
        Text(MARGIN, y - 4, sides[0], "caption", "start"),
        Text(WIDTH - MARGIN, y - 4, sides[1], "caption", "end"),
    ]
    words = ("target", *dict.fromkeys(s.word for s in strings))
    places = flow([32 + kind_width(word, "label") for word in words], MARGIN, y + 18, 20)
    for word, (x, line) in zip(words, places, strict=True):
        if word == "target":
            shapes.append(Rect(x, line - 9, 15, 8, "target"))
            shapes += [Line(x, line - dy, x + 15, line - dy, "outline") for dy in (9, 1)]
        else:
            shapes += mark(word, x + 7.5, line - 5, MARK_R)
        shapes.append(Text(x + 20, line, word, "label", "start"))
    return shapes, places[-1][1] + 6


def _board_words(radius_mm: float | None, units: Units) -> str:
    return "The board is flat." if radius_mm is None else f"Board radius {long_length(radius_mm, units)}."


def _description(radius_mm: float | None, strings: Sequence[SectionString], fret: int, units: Units) -> str:
    parts = [
        f"The neck cut through at fret {fret}, the strings over it, bass side first. "
        f"{_board_words(radius_mm, units)}"
    ]
    for s in strings:
        text = f"String {s.label}, {units.full(s.gauge_mm)} thick"
        if s.gap_mm is not None:
            text += f": {units.full(s.gap_mm)} over the fret"
        text += f", target {units.band(s.target_low_mm, s.target_high_mm)}"
        parts.append(f"{text}: {s.word}.")
    return " ".join(parts)
