"""One string fretted somewhere: the frets ahead under it, and how far each touch makes it swing.

Lines only: the string at rest is drawn level, it is the straightedge; the frets are dashes as far below it as
their gaps, and the swing is the field that the plucked string fills.  The string fills the width from what
holds it to the saddle; heights are drawn a written number of times taller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from webapp.drawings.portrait.outline import DOTS
from webapp.drawings.shapes import (
    WIDTH,
    Drawing,
    Line,
    Path,
    Polyline,
    Shape,
    Text,
    arrow,
    kind_width,
    leader,
    place_row,
)
from webapp.drawings.table import flow
from webapp.drawings.units import MM, Units, long_length
from webapp.physics.neck import Neck
from webapp.physics.swing import envelope, pluck_from_saddle, reach

KINDS = ("light", "medium", "firm", "own")
LEFT, RIGHT = 14.0, WIDTH - 12.0
TOP = 46.0  # above the field: what is held, the factor, the gap
DEEP = 105.0  # the most the frets may lie below the string, and the field above it
HIGH = 40.0
FACTORS = (2, 3, 5, 8, 10, 15, 20, 25, 30, 40, 50, 60, 80, 100, 120, 150, 200)
DASH = 3.5
CROSS = 4.0
SAMPLE = 22.0
LEGEND_ROW = 20.0
NUMBERED = (1, *DOTS)


@dataclass(frozen=True)
class DrawnSwing:
    """One touch: its key (a pen of its own), its words, and the open string's swing in mm."""

    key: str
    label: str
    swing_mm: float


@dataclass(frozen=True)
class FrettedString:
    """The string from a fretted note (0 is open) to the saddle; heights in mm over the straight body end."""

    neck: Neck
    saddle_mm: float
    nut_mm: float
    fretted: int
    pluck_mm: float

    @property
    def start_mm(self) -> float:
        return self.neck.fret_at(self.fretted)

    @property
    def start_y(self) -> float:
        return self.neck.fret_top(self.fretted) + (0.0 if self.fretted else self.nut_mm)

    @property
    def length_mm(self) -> float:
        return self.neck.scale_mm - self.start_mm

    @property
    def ahead(self) -> range:
        """The frets that it can touch."""
        return range(self.fretted + 1, self.neck.fret_count + 1)

    def gap_mm(self, over: int) -> float:
        along = self.neck.fret_at(over) - self.start_mm
        at_rest = self.start_y + (self.saddle_mm - self.start_y) * along / self.length_mm
        return at_rest - self.neck.fret_top(over)

    def dip_mm(self, swing_mm: float, along_mm: float) -> float:
        """How far the string reaches below rest for this swing of the open string."""
        share = envelope(along_mm, self.length_mm, self.pluck_mm)
        return swing_mm * float(share * reach(self.neck.scale_mm, self.length_mm, self.pluck_mm))

    def dip_over(self, swing_mm: float, over: int) -> float:
        return self.dip_mm(swing_mm, self.neck.fret_at(over) - self.start_mm)

    def edge(self, swing_mm: float) -> list[tuple[float, float]]:
        """The corners of the swing's lower edge, straight between: mm from the nut, mm below rest."""
        length = self.length_mm
        near = float(pluck_from_saddle(length, self.pluck_mm))
        corners = (0.0, near, length / 2, length - near, length)
        return [(self.start_mm + s, self.dip_mm(swing_mm, s)) for s in corners]


@dataclass(frozen=True)
class _View:
    """Millimetres from the nut and below the level string to the drawing."""

    start_mm: float
    px_per_mm: float
    factor: float
    level_y: float

    def x(self, mm: float) -> float:
        return LEFT + (mm - self.start_mm) * self.px_per_mm

    def y(self, below_mm: float) -> float:
        return self.level_y + below_mm * self.px_per_mm * self.factor


def clearance_side(
    string: FrettedString,
    swings: Sequence[DrawnSwing],
    *,
    chosen: str,
    over: int,
    title: str,
    units: Units = MM,
) -> Drawing:
    """Draw one string fretted at a note, its gap over the fret `over`, and the swing of every touch.

    The field is that of the `chosen` touch, a key of `swings`; the frets that it meets are crossed.
    """
    mine = next(one for one in swings if one.key == chosen)
    gaps = {fret: string.gap_mm(fret) for fret in string.ahead}
    view, bottom = _view(string, swings, mine, gaps)
    shapes = [*_field(view, string, swings, mine), *_string(view, string)]
    for fret, gap in gaps.items():
        shapes += _fret(view, string, mine, fret, gap)
    shapes += _gap(view, string, over, gaps[over], units)
    held = f"fretted at {string.fretted}" if string.fretted else "open"
    shapes += [
        Text(LEFT, 13, held, "caption", "start"),
        Text(RIGHT, 13, f"lines only, × {view.factor:g}", "caption", "end"),
        *_numbers(view, string, over, bottom + 20),
    ]
    legend, bottom = _legend(swings, bottom + 44, units)
    note = (
        f"The string drawn level, the frets below it. Plucked {long_length(string.pluck_mm, units)} "
        "from the saddle; the lines show how low each touch makes it swing."
    )
    words = _description(string, swings, mine, view.factor, units)
    return Drawing(WIDTH, bottom, (*shapes, *legend), title, words, None, note)


def _view(
    string: FrettedString, swings: Sequence[DrawnSwing], mine: DrawnSwing, gaps: dict[int, float]
) -> tuple[_View, float]:
    """The view, and the y of the lowest thing under the string."""
    px = (RIGHT - LEFT) / string.length_mm
    dips = {one.key: max(dip for _, dip in string.edge(one.swing_mm)) for one in swings}
    deep = max([*gaps.values(), *dips.values()])
    high = max([dips[mine.key], *(-gap for gap in gaps.values())])
    fits = [f for f in FACTORS if deep * px * f <= DEEP and high * px * f <= HIGH]
    factor = float(max(fits, default=1))
    view = _View(string.start_mm, px, factor, TOP + high * px * factor)
    return view, view.y(deep) + CROSS


def _field(view: _View, string: FrettedString, swings: Sequence[DrawnSwing], mine: DrawnSwing) -> list[Shape]:
    edge = string.edge(mine.swing_mm)
    around = [*edge, *((x, -dip) for x, dip in reversed(edge))]
    shapes: list[Shape] = [Polyline(_points(view, around), "swing-field", closed=True)]
    for one in swings:
        shapes.append(Polyline(_points(view, string.edge(one.swing_mm)), _pen(one.key)))
    return shapes


def _points(view: _View, places: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    return tuple((view.x(x), view.y(y)) for x, y in places)


def _pen(key: str) -> str:
    return f"swing-{key if key in KINDS else 'own'}"


def _string(view: _View, string: FrettedString) -> list[Shape]:
    """The string at rest, what holds it (a nut, or a fret from below), and the saddle."""
    start, end, y = view.x(string.start_mm), view.x(string.neck.scale_mm), view.level_y
    saddle = ((end, y), (end + 5, y + 12), (end - 5, y + 12))
    held = ((start, y), (start + 4, y + 10), (start - 4, y + 10))
    return [
        Polyline(held, "metal", closed=True),
        Polyline(saddle, "metal", closed=True),
        Line(start, y, end, y, "string-line"),
    ]


def _fret(view: _View, string: FrettedString, mine: DrawnSwing, fret: int, gap: float) -> list[Shape]:
    x, y = view.x(string.neck.fret_at(fret)), view.y(gap)
    if string.dip_over(mine.swing_mm, fret) <= gap:
        return [Line(x - DASH, y, x + DASH, y, "ruling")]
    r = CROSS
    cross = f"M{x - r:.1f} {y - r:.1f}l{2 * r:g} {2 * r:g}m0 {-2 * r:g}l{-2 * r:g} {2 * r:g}"
    return [Path(cross, (x - r, y - r, x + r, y + r), "touch")]


def _gap(view: _View, string: FrettedString, over: int, gap: float, units: Units) -> list[Shape]:
    """The gap over one fret, and its number in a line of its own above the field."""
    x, y, words = view.x(string.neck.fret_at(over)), view.y(gap), f"{units.full(gap)} over fret {over}"
    half = kind_width(words, "strong") / 2
    label = place_row([x], [2 * half], LEFT, RIGHT)[0]
    shapes: list[Shape] = [leader((x, TOP - 11), (x, min(view.level_y, y))), Text(label, 33, words, "strong")]
    if y - view.level_y < 12:
        return [*shapes, Line(x, view.level_y, x, y, "gap")]
    middle = (view.level_y + y) / 2
    return [*shapes, *arrow(x, middle, x, view.level_y, "ink", 5), *arrow(x, middle, x, y, "ink", 5)]


def _numbers(view: _View, string: FrettedString, over: int, y: float) -> list[Shape]:
    """Fret numbers at their places: the held fret and the chosen one, and as many others as there is room."""
    told = [fret for fret in (string.fretted, over) if fret]
    others = [fret for fret in NUMBERED if fret in string.ahead and fret not in told]
    shapes: list[Shape] = []
    taken: list[tuple[float, float]] = []
    for fret in (*told, *others):
        kind = "strong" if fret in told else "caption"
        text = Text(view.x(string.neck.fret_at(fret)), y, str(fret), kind)
        left, _, right, _ = text.box
        if all(right + 2 <= a or left >= b + 2 for a, b in taken):
            taken.append((left, right))
            shapes.append(text)
    return shapes


def _legend(swings: Sequence[DrawnSwing], top: float, units: Units) -> tuple[list[Shape], float]:
    """A sample of each pen with its touch and swing."""
    words = [f"{one.label} {units.full(one.swing_mm)}" for one in swings]
    places = flow([SAMPLE + 5 + kind_width(text, "label") + 6 for text in words], 2, top, LEGEND_ROW)
    shapes: list[Shape] = []
    for one, text, (x, y) in zip(swings, words, places, strict=True):
        shapes.append(Line(x, y - 4, x + SAMPLE, y - 4, _pen(one.key)))
        shapes.append(Text(x + SAMPLE + 5, y, text, "label", "start"))
    return shapes, places[-1][1] + 6


def _description(
    string: FrettedString, swings: Sequence[DrawnSwing], mine: DrawnSwing, factor: float, units: Units
) -> str:
    held = f"fretted at {string.fretted}" if string.fretted else "open"
    told = []
    for fret in string.ahead:
        gap, dip = string.gap_mm(fret), string.dip_over(mine.swing_mm, fret)
        touches = ", touches" if dip > gap else ""
        told.append(f"{fret}: {units.number(gap)}, dips {units.number(dip)}{touches}")
    touches_mm = ", ".join(f"{one.label} {units.full(one.swing_mm)}" for one in swings)
    return (
        f"The string {held}, drawn level; its lines × {factor:g} in height. "
        f"Gap over each fret ahead in {units.label}, and how far {mine.label} touch dips there: "
        f"{'; '.join(told)}. "
        f"Swing of the open string at the pluck: {touches_mm}."
    )
