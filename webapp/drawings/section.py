"""Cross-section at one fret: the board's arc, every string at its place and height, its target band, its gap.

Widths and string thicknesses share one scale; heights above the fret are drawn `stretch` times that
scale, and the drawing says so.  A string's underside, where its gap is measured, is its circle's foot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, sqrt

from webapp.drawings.shapes import (
    WIDTH,
    Circle,
    Drawing,
    Line,
    Polyline,
    Rect,
    Shape,
    Text,
    stretch_sentence,
)
from webapp.drawings.table import TableRow, table
from webapp.drawings.units import MM, Units, long_length

MARGIN = 10.0
EDGE_MM = 3.5  # board outside the outer strings
TALLEST = 230.0  # the tallest the part above the lowest fret top may be
BOARD_DEPTH = 30.0


@dataclass(frozen=True)
class SectionString:
    label: str
    offset_mm: float
    gauge_mm: float
    gap_mm: float | None
    target_low_mm: float
    target_high_mm: float
    expected_mm: float | None = None
    word: str = ""  # a verdict in a word; worked out from the target where empty

    @property
    def drawn_gap_mm(self) -> float:
        """Where the circle stands: as measured, else where it should, else mid-target."""
        if self.gap_mm is not None:
            return self.gap_mm
        if self.expected_mm is not None:
            return self.expected_mm
        return (self.target_low_mm + self.target_high_mm) / 2

    @property
    def verdict(self) -> str:
        if self.word or self.gap_mm is None:
            return self.word
        if self.gap_mm < self.target_low_mm:
            return "low"
        return "high" if self.gap_mm > self.target_high_mm else "good"


@dataclass(frozen=True)
class SectionScale:
    """Millimetres at the fret to the drawing: x from the centre line, y from the crown of the fret top."""

    px_per_mm: float
    stretch: float
    crown_y: float
    radius_mm: float | None

    def x(self, offset_mm: float) -> float:
        return WIDTH / 2 + offset_mm * self.px_per_mm

    def fret_y(self, offset_mm: float) -> float:
        return self.crown_y + sagitta(self.radius_mm, offset_mm) * self.px_per_mm * self.stretch

    def y(self, offset_mm: float, gap_mm: float) -> float:
        return self.fret_y(offset_mm) - gap_mm * self.px_per_mm * self.stretch


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
    vertical_stretch: float = 4.0,
    units: Units = MM,
) -> Drawing:
    """Draw the strings over `fret`, bass side on the left; strings may come in any order."""
    ordered = sorted(strings, key=lambda s: s.offset_mm)
    if any(not isfinite(v) for s in ordered for v in (s.offset_mm, s.gauge_mm, s.drawn_gap_mm)):
        raise ValueError("every string needs a finite place, gauge and gap")
    scale, half_mm, depth = _scale(radius_mm, ordered, vertical_stretch)
    shapes: list[Shape] = [
        Text(MARGIN, 14, "bass side", "caption", "start"),
        Text(WIDTH - MARGIN, 14, "treble side", "caption", "end"),
    ]
    shapes += _board(scale, half_mm, depth)
    room = _spacing(scale, ordered)
    for string in ordered:
        shapes += _string(scale, string, min(13.0, 0.42 * room))
    places = [(scale.x(s.offset_mm), scale.fret_y(s.offset_mm)) for s in ordered]
    rows, bottom = table(places, _rows(ordered, fret, units), depth)
    shapes += rows
    note = f"{_board_words(radius_mm, units)} String thickness keeps the scale of the widths."
    if any(s.gap_mm is None for s in ordered):
        note += " A dashed string is not measured yet."
    return Drawing(
        WIDTH,
        bottom,
        tuple(shapes),
        title,
        _description(radius_mm, ordered, fret, scale.stretch, units),
        scale.stretch,
        note,
    )


def _scale(
    radius_mm: float | None, strings: Sequence[SectionString], wanted: float
) -> tuple[SectionScale, float, float]:
    """The scale, half the board's width in mm, and the y of the board's lower face."""
    half_mm = max([abs(s.offset_mm) + s.gauge_mm / 2 for s in strings] + [8.0]) + EDGE_MM
    px = (WIDTH / 2 - MARGIN) / half_mm
    # Heights over the crown; the string's own thickness is not stretched, so it is counted apart.
    over = [
        max(s.drawn_gap_mm, s.target_high_mm, s.expected_mm or 0) - sagitta(radius_mm, s.offset_mm)
        for s in strings
    ]
    under = [min(s.drawn_gap_mm, s.target_low_mm, 0) - sagitta(radius_mm, s.offset_mm) for s in strings]
    edge = sagitta(radius_mm, half_mm)
    top_mm, low_mm = max([*over, 0.0]), min([*under, -edge])
    stretch = wanted
    if (top_mm - low_mm) * px * wanted > TALLEST:
        fits = TALLEST / ((top_mm - low_mm) * px)
        stretch = float(int(fits * 2) / 2) if fits >= 1 else float(f"{fits:.2g}")
    thickest = max([s.gauge_mm for s in strings], default=0.0) * px
    crown_y = 24 + thickest + top_mm * px * stretch
    depth = crown_y - low_mm * px * stretch + BOARD_DEPTH
    return SectionScale(px, stretch, crown_y, radius_mm), half_mm, depth


def _board(scale: SectionScale, half_mm: float, bottom: float) -> list[Shape]:
    count = 40 if scale.radius_mm is not None else 1
    offsets = [half_mm * (2 * i / count - 1) for i in range(count + 1)]
    arc = tuple((scale.x(o), scale.fret_y(o)) for o in offsets)
    left, right = scale.x(-half_mm), scale.x(half_mm)
    middle = WIDTH / 2
    return [
        Polyline((*arc, (right, bottom), (left, bottom)), "board", closed=True),
        Polyline(arc, "fret"),
        Line(middle, scale.crown_y + 3, middle, bottom + 3, "centre"),
    ]


def _spacing(scale: SectionScale, strings: Sequence[SectionString]) -> float:
    gaps = [scale.x(b.offset_mm) - scale.x(a.offset_mm) for a, b in zip(strings, strings[1:], strict=False)]
    return max(8.0, min(gaps, default=60.0))


def _string(scale: SectionScale, s: SectionString, half: float) -> list[Shape]:
    x = scale.x(s.offset_mm)
    high, low = scale.y(s.offset_mm, s.target_high_mm), scale.y(s.offset_mm, s.target_low_mm)
    under = scale.y(s.offset_mm, s.drawn_gap_mm)
    radius = s.gauge_mm / 2 * scale.px_per_mm
    shapes: list[Shape] = [
        Rect(x - half, high, 2 * half, low - high, "target"),
        Line(x - half, high, x + half, high, "target-edge"),
        Line(x - half, low, x + half, low, "target-edge"),
    ]
    if s.gap_mm is None:
        return [*shapes, Circle(x, under - radius, radius, "forecast")]
    shapes += [
        Line(x, under, x, scale.fret_y(s.offset_mm), "thin"),
        Line(x - half, under, x + half, under, "accent"),
        Circle(x, under - radius, radius, "string"),
    ]
    if s.expected_mm is not None:
        ghost = scale.y(s.offset_mm, s.expected_mm)
        shapes.append(Circle(x, ghost - radius, radius, "forecast"))
    return shapes


def _rows(strings: Sequence[SectionString], fret: int, units: Units) -> list[TableRow]:
    """The figures under the board: name, gap, verdict, what it should read, target."""
    rows = [TableRow("", [s.label for s in strings], "strong")]
    gaps = [units.number(s.gap_mm) if s.gap_mm is not None else "–" for s in strings]
    rows.append(TableRow(f"Gap over fret {fret}, {units.label}", gaps, "number", sets_width=True))
    if any(s.verdict for s in strings):
        rows.append(TableRow("", [s.verdict for s in strings]))
    if any(s.expected_mm is not None for s in strings):
        should = [units.number(s.expected_mm) if s.expected_mm is not None else "" for s in strings]
        rows.append(TableRow(f"Should read, {units.label} (dashed circle)", should, sets_width=True))
    lows = [units.number(s.target_low_mm) for s in strings]
    rows.append(TableRow(f"Target from and to, {units.label}", lows, sets_width=True))
    rows.append(TableRow("", [units.number(s.target_high_mm) for s in strings], sets_width=True))
    return rows


def _board_words(radius_mm: float | None, units: Units) -> str:
    return "The board is flat." if radius_mm is None else f"Board radius {long_length(radius_mm, units)}."


def _description(
    radius_mm: float | None, strings: Sequence[SectionString], fret: int, stretch: float, units: Units
) -> str:
    parts = [f"The strings over fret {fret}, bass side first. {_board_words(radius_mm, units)}"]
    for s in strings:
        gap = f"gap {units.full(s.gap_mm)}" if s.gap_mm is not None else "not measured"
        text = f"String {s.label}, gauge {units.full(s.gauge_mm)}: {gap}"
        text += f", target {units.band(s.target_low_mm, s.target_high_mm)}"
        text += f", should read {units.full(s.expected_mm)}" if s.expected_mm is not None else ""
        parts.append(text + (f": {s.verdict}." if s.verdict else "."))
    if stretch != 1:
        parts.append(stretch_sentence(stretch))
    return " ".join(parts)
