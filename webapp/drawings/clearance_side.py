"""The neck from the side with one string fretted: its gaps, and where each touch makes it swing.

What touches is the lower edge of the swing, so that is drawn for every touch; for the chosen one the
whole field that the string fills.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from webapp.drawings.profile import Profile, fit, fret_numbers, gap_mark, joint, nut, saddle, slab, top_labels
from webapp.drawings.shapes import WIDTH, Drawing, Line, Polyline, Shape, Text, bottom_of, stretch_sentence
from webapp.drawings.units import MM, Units, long_length
from webapp.physics.neck import Neck
from webapp.physics.swing import envelope, pluck_from_saddle, reach

KINDS = ("light", "medium", "firm", "own")
SAMPLE_PX = 26.0
LEGEND_ROW = 18.0
CROSS_PX = 4.0


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

    def y(self, along_mm: float) -> float:
        """Height of the string at rest, `along_mm` from the fretted end."""
        return self.start_y + (self.saddle_mm - self.start_y) * along_mm / self.length_mm

    def gap_mm(self, over: int) -> float:
        return self.y(self.neck.fret_at(over) - self.start_mm) - self.neck.fret_top(over)

    def dip_mm(self, swing_mm: float, along_mm: float) -> float:
        """How far the string reaches below rest for this swing of the open string."""
        share = envelope(along_mm, self.length_mm, self.pluck_mm)
        return swing_mm * float(share * reach(self.neck.scale_mm, self.length_mm, self.pluck_mm))

    def edge(self, swing_mm: float, side: int) -> list[tuple[float, float]]:
        """The lower (side -1) or upper (+1) edge of the swing: mm from the nut, mm high, at its corners."""
        length = self.length_mm
        near = float(pluck_from_saddle(length, self.pluck_mm))
        corners = (0.0, near, length / 2, length - near, length)
        return [(self.start_mm + s, self.y(s) + side * self.dip_mm(swing_mm, s)) for s in corners]


def clearance_side(
    string: FrettedString,
    swings: Sequence[DrawnSwing],
    *,
    chosen: str,
    over: int,
    touched: Collection[int] = (),
    title: str,
    units: Units = MM,
) -> Drawing:
    """Draw one string fretted at a note, its gap over one fret, and the swing of every touch.

    `over` is the fret whose gap is marked, `touched` the frets that the chosen touch meets.
    """
    neck = string.neck
    edges = [y for one in swings for side in (-1, 1) for _, y in string.edge(one.swing_mm, side)]
    nut_top = neck.fret_top(0) + string.nut_mm
    view = fit(
        neck, from_mm=0, to_mm=neck.scale_mm, heights_mm=(nut_top, string.saddle_mm, *edges), top=46, tall=170
    )
    shapes: list[Shape] = [*slab(view), nut(view, nut_top), saddle(view, string.saddle_mm)]
    shapes += _swings(view, string, swings, chosen)
    shapes += _string(view, string, nut_top)
    shapes += [line for fret in touched for line in _cross(view.fret_x(fret), view.fret_y(fret))]
    gap = string.gap_mm(over)
    top = neck.fret_top(over)
    shapes += gap_mark(view, neck.fret_at(over), top, top + gap)
    words = f"{units.full(gap)} over fret {over}"
    shapes += top_labels([(view.fret_x(over), view.y(top + max(gap, 0.0)) - 3, words, False)], 14)
    bottom = bottom_of(shapes)
    shapes += joint(view, bottom + 4)
    shapes += fret_numbers(view, bottom + 18, (string.fretted, over))
    legend, bottom = _legend(swings, bottom + 40, units)
    held = f"Fretted at {string.fretted}" if string.fretted else "Open"
    note = (
        f"{held}, plucked {long_length(string.pluck_mm, units)} from the saddle. "
        "Lines under it: how low each touch makes it swing."
    )
    return Drawing(
        WIDTH,
        bottom,
        (*shapes, *legend),
        title,
        _description(string, swings, view.stretch, units),
        view.stretch,
        note,
    )


def _pen(key: str) -> str:
    return f"swing-{key if key in KINDS else 'own'}"


def _swings(view: Profile, string: FrettedString, swings: Sequence[DrawnSwing], chosen: str) -> list[Shape]:
    shapes: list[Shape] = []
    for one in swings:
        if one.key == chosen:
            field = (*string.edge(one.swing_mm, -1), *reversed(string.edge(one.swing_mm, 1)))
            shapes.append(Polyline(_points(view, field), "swing-field", closed=True))
    for one in swings:
        shapes.append(Polyline(_points(view, string.edge(one.swing_mm, -1)), _pen(one.key)))
    return shapes


def _points(view: Profile, places: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    return tuple((view.x(x), view.y(y)) for x, y in places)


def _string(view: Profile, string: FrettedString, nut_top: float) -> list[Shape]:
    """The string at rest: from the nut down to the fretted note, and on to the saddle."""
    x, y = view.x(string.start_mm), view.y(string.start_y)
    return [
        Line(x, y, view.x(string.neck.scale_mm), view.y(string.saddle_mm), "string-line"),
        Line(view.x(0), view.y(nut_top), x, y, "thin"),
    ]


def _cross(x: float, y: float) -> tuple[Line, Line]:
    r = CROSS_PX
    return Line(x - r, y - r, x + r, y + r, "touch"), Line(x - r, y + r, x + r, y - r, "touch")


def _legend(swings: Sequence[DrawnSwing], top: float, units: Units) -> tuple[list[Shape], float]:
    """A sample of each pen with its touch and swing, two to a row."""
    shapes: list[Shape] = []
    for index, one in enumerate(swings):
        x = 14.0 + (index % 2) * WIDTH / 2
        y = top + (index // 2) * LEGEND_ROW
        shapes.append(Line(x, y - 4, x + SAMPLE_PX, y - 4, _pen(one.key)))
        shapes.append(Text(x + SAMPLE_PX + 6, y, f"{one.label} {units.full(one.swing_mm)}", "label", "start"))
    return shapes, top + (len(swings) + 1) // 2 * LEGEND_ROW


def _description(string: FrettedString, swings: Sequence[DrawnSwing], stretch: float, units: Units) -> str:
    ahead = range(string.fretted + 1, string.neck.fret_count + 1)
    gaps = ", ".join(f"{fret}: {units.number(string.gap_mm(fret))}" for fret in ahead)
    touches = ", ".join(f"{one.label} {units.full(one.swing_mm)}" for one in swings)
    held = f"fretted at {string.fretted}" if string.fretted else "open"
    return (
        f"The string {held}. Gap over each fret ahead in {units.label}: {gaps}. "
        f"Swing of the open string at the pluck: {touches}. {stretch_sentence(stretch)}"
    )
