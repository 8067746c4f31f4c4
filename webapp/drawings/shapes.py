"""The few shapes a drawing is made of, in user units that equal CSS pixels on a page 360 pixels wide.

`kind` names the look, not the meaning: the template writes it as class "d-<kind>" and static/drawing.css says
how it is inked.  Only templates/parts/visit/drawing.html turns a Drawing into SVG.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

WIDTH = 360.0

# Text sizes by kind. The layout reckons with them, and drawing.css must use the same (a test compares them).
TEXT_SIZE = {
    "label": 13.0, "caption": 13.0, "strong": 13.0, "number": 14.0, "big": 21.0,
    "halo": 13.0, "halo-strong": 13.0, "do": 14.0, "disc-number": 13.0,
    "word-good": 13.0, "word-warn": 13.0, "word-bad": 13.0, "word-none": 13.0,
}  # fmt: skip
BOLD = frozenset(
    {"strong", "number", "big", "halo-strong", "do", "disc-number", "word-good", "word-warn", "word-bad"}
)
# drawing.css lets text grow by this much where a drawing has less room than it is laid out for (a narrow
# phone, a large text size), so that it stays 13 px there. Every layout leaves room for the grown text.
GROWN = 1.25


@dataclass(frozen=True)
class Line:
    x1: float
    y1: float
    x2: float
    y2: float
    kind: str = "ink"
    shape: str = field(default="line", init=False)


@dataclass(frozen=True)
class Polyline:
    points: tuple[tuple[float, float], ...]
    kind: str = "ink"
    closed: bool = False
    shape: str = field(default="polyline", init=False)

    @property
    def points_text(self) -> str:
        """The points as SVG writes them."""
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in self.points)


@dataclass(frozen=True)
class Circle:
    cx: float
    cy: float
    r: float
    kind: str = "ink"
    shape: str = field(default="circle", init=False)


@dataclass(frozen=True)
class Rect:
    x: float
    y: float
    w: float
    h: float
    kind: str = "ink"
    rx: float = 0.0
    shape: str = field(default="rect", init=False)


Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Path:
    """Curves: `d` as SVG writes it, rounded by its maker; `box` is its left, top, right, bottom."""

    d: str
    box: Box
    kind: str = "ink"
    shape: str = field(default="path", init=False)


@dataclass(frozen=True)
class Text:
    x: float
    y: float
    text: str
    kind: str = "label"
    anchor: str = "middle"
    shape: str = field(default="text", init=False)

    @property
    def box(self) -> Box:
        """Estimated left, top, right, bottom of the text at its largest."""
        size = TEXT_SIZE[self.kind] * GROWN
        width = kind_width(self.text, self.kind)
        left = self.x - {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        above = 0.5 if self.kind == "disc-number" else 0.78
        return left, self.y - above * size, left + width, self.y + (1 - above) * size


@dataclass(frozen=True)
class LinkedShape:
    """Shapes that lead somewhere when tapped; `label` is what a screen reader says.

    `id` makes it a place that addresses can point at, `current` the one that is being looked at.
    """

    href: str
    label: str
    shapes: tuple[Line | Polyline | Circle | Rect | Path | Text, ...]
    id: str = ""
    current: bool = False
    shape: str = field(default="link", init=False)


Plain = Line | Polyline | Circle | Rect | Path | Text
Shape = Plain | LinkedShape


@dataclass(frozen=True)
class Drawing:
    width: float
    height: float
    shapes: tuple[Shape, ...]
    title: str
    description: str
    stretch: float | None = None
    note: str = ""

    @property
    def has_links(self) -> bool:
        return any(isinstance(s, LinkedShape) for s in self.shapes)

    @property
    def stretch_words(self) -> str:
        """How the drawing bends the truth, in words; empty when heights and lengths share one scale."""
        if self.stretch is None or self.stretch == 1:
            return ""
        return stretch_sentence(self.stretch)

    @property
    def caption(self) -> str:
        return " ".join(part for part in (self.stretch_words, self.note) if part)

    def flat(self) -> Iterator[Plain]:
        """Every plain shape, those inside links too."""
        for shape in self.shapes:
            if isinstance(shape, LinkedShape):
                yield from shape.shapes
            else:
                yield shape


def stretch_sentence(stretch: float) -> str:
    if stretch < 1:
        return f"Heights are squeezed to {stretch:g} of their true size."
    return f"Heights are stretched {stretch:g} times."


def text_width(text: str, size: float) -> float:
    """A width that the usual screen fonts, the broad ones too, stay within."""
    return sum(0.36 if c in " .,:;'|ijlI-" else 0.98 if c in "mwMW—" else 0.64 for c in text) * size


def kind_width(text: str, kind: str) -> float:
    """The width of a text of this kind at its largest; bold ones run broader."""
    return text_width(text, TEXT_SIZE[kind] * GROWN) * (1.1 if kind in BOLD else 1.0)


def extent(shape: Plain) -> Box:
    """Left, top, right, bottom of a shape (a text's is estimated)."""
    if isinstance(shape, Line):
        return (
            min(shape.x1, shape.x2),
            min(shape.y1, shape.y2),
            max(shape.x1, shape.x2),
            max(shape.y1, shape.y2),
        )
    if isinstance(shape, Polyline):
        xs, ys = [p[0] for p in shape.points], [p[1] for p in shape.points]
        return min(xs), min(ys), max(xs), max(ys)
    if isinstance(shape, Circle):
        return shape.cx - shape.r, shape.cy - shape.r, shape.cx + shape.r, shape.cy + shape.r
    if isinstance(shape, Rect):
        return shape.x, shape.y, shape.x + shape.w, shape.y + shape.h
    return shape.box


def bottom_of(shapes: Sequence[Plain] | Sequence[Shape]) -> float:
    """The lowest edge of any of them."""
    plain = (p for s in shapes for p in (s.shapes if isinstance(s, LinkedShape) else (s,)))
    return max((extent(p)[3] for p in plain), default=0.0)


def arrow(
    x1: float, y1: float, x2: float, y2: float, kind: str = "accent", head: float = 7.0
) -> tuple[Plain, ...]:
    """A line from 1 to 2 with a filled head at 2."""
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    if length == 0:
        return ()
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    bx, by = x2 - ux * head, y2 - uy * head
    wing = head * 0.36
    tip = ((x2, y2), (bx - uy * wing, by + ux * wing), (bx + uy * wing, by - ux * wing))
    return Line(x1, y1, bx, by, kind), Polyline(tip, f"{kind}-fill", closed=True)


def leader(*points: tuple[float, float]) -> Polyline:
    """The thin line from a label to what it names."""
    return Polyline(points, "leader")


def disc(number: int, x: float, y: float, r: float = 10.0) -> tuple[Plain, ...]:
    """The number of a step on an accent disc."""
    return Circle(x, y, r, "disc"), Text(x, y, str(number), "disc-number")


def place_row(
    centres: Sequence[float], widths: Sequence[float], low: float, high: float, space: float = 6.0
) -> list[float]:
    """Move labels of one row sideways, as little as may be (least squares), until none overlaps.

    `centres` must rise.  Everything stays within low..high whenever the labels fit there at all.
    """
    if not centres:
        return []
    starts = [0.0]
    for left, right in zip(widths, widths[1:], strict=False):
        starts.append(starts[-1] + (left + right) / 2 + space)
    free = _rising([c - s for c, s in zip(centres, starts, strict=True)])
    floor, ceiling = low + widths[0] / 2, high - widths[-1] / 2 - starts[-1]
    if ceiling < floor:
        floor = ceiling = (floor + ceiling) / 2
    return [min(max(z, floor), ceiling) + s for z, s in zip(free, starts, strict=True)]


def _rising(values: Sequence[float]) -> list[float]:
    """The non-falling sequence nearest to `values` (pool adjacent violators)."""
    pools: list[tuple[float, int]] = []
    for value in values:
        mean, count = value, 1
        while pools and pools[-1][0] > mean:
            before, many = pools.pop()
            mean, count = (before * many + mean * count) / (many + count), many + count
        pools.append((mean, count))
    return [mean for mean, count in pools for _ in range(count)]
