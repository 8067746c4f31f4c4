"""The neck from the side, to one scale along it and a larger one across: side.py and measure.py share it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from webapp.drawings.shapes import (
    WIDTH,
    Line,
    Polyline,
    Shape,
    Text,
    arrow,
    kind_width,
    place_row,
)
from webapp.physics.neck import Neck

STRETCHES = (100.0, 80.0, 60.0, 50.0, 40.0, 30.0, 25.0, 20.0, 15.0, 10.0, 8.0, 5.0, 4.0, 3.0, 2.0, 1.0)
FRET_PX = 6.0  # a fret's own height is not to scale: only its top matters
SLAB_PX = 13.0


@dataclass(frozen=True)
class Profile:
    """Millimetres (x from the nut, y over the straight of the body end) to the drawing."""

    neck: Neck
    from_mm: float
    to_mm: float
    left: float
    right: float
    base: float  # the drawing's y where y = 0 mm
    stretch: float

    @property
    def px_per_mm(self) -> float:
        return (self.right - self.left) / (self.to_mm - self.from_mm)

    def x(self, mm: float) -> float:
        return self.left + (mm - self.from_mm) * self.px_per_mm

    def y(self, mm: float) -> float:
        return self.base - mm * self.px_per_mm * self.stretch

    def fret_x(self, fret: int) -> float:
        return self.x(self.neck.fret_at(fret))

    def fret_y(self, fret: int) -> float:
        return self.y(self.neck.fret_top(fret))

    @property
    def lowest_px(self) -> float:
        """The lowest edge of the neck slab within the view."""
        return max(y for _, y in self.surface()) + SLAB_PX

    def frets(self) -> list[int]:
        return [
            f
            for f in range(1, self.neck.fret_count + 1)
            if self.from_mm <= self.neck.fret_at(f) <= self.to_mm
        ]

    def surface(self) -> list[tuple[float, float]]:
        """The board's face under the frets, from the nut to a little past the last fret."""
        end = self.neck.fret_at(self.neck.fret_count) + 0.012 * self.neck.scale_mm
        start, stop = max(0.0, self.from_mm), min(end, self.to_mm)
        xs = sorted(
            {*(start + (stop - start) * i / 24 for i in range(25)), min(max(self.neck.joint_mm, start), stop)}
        )
        return [(self.x(x), self.y(self.neck.height_at(x)) + FRET_PX) for x in xs]


def fit(
    neck: Neck,
    *,
    from_mm: float,
    to_mm: float,
    heights_mm: Iterable[float],
    top: float,
    tall: float,
    right: float = WIDTH - 14,
    most: float = 100.0,
) -> Profile:
    """A view of from..to in which every height fits between `top` and `top + tall`, at a round stretch."""
    shown = [*heights_mm, *(neck.height_at(max(0.0, x)) for x in (from_mm, (from_mm + to_mm) / 2, to_mm))]
    high, low = max(shown), min(shown)
    px = (right - 14) / (to_mm - from_mm)
    span = max(high - low, 1e-9) * px
    stretch = next((s for s in STRETCHES if s <= most and s * span <= tall), tall / span)
    if stretch < 1:
        stretch = float(f"{stretch * 0.95:.1g}")
    return Profile(neck, from_mm, to_mm, 14.0, right, top + high * px * stretch, stretch)


def slab(view: Profile) -> list[Shape]:
    """The neck: a slab with its frets, whose tops are true."""
    face = view.surface()
    under = [(x, y + SLAB_PX) for x, y in reversed(face)]
    shapes: list[Shape] = [Polyline((*face, *under), "board", closed=True)]
    for fret in view.frets():
        x, y = view.fret_x(fret), view.fret_y(fret)
        shapes.append(Line(x, y, x, y + FRET_PX, "fret"))
    return shapes


def nut(view: Profile, top_mm: float) -> Shape:
    """The nut as a small block whose top is where the string leaves it."""
    x, top, foot = view.x(0), view.y(top_mm), view.surface()[0][1] + SLAB_PX
    return Polyline(((x - 5, foot), (x - 5, top), (x, top), (x, foot)), "block", closed=True)


def saddle(view: Profile, saddle_mm: float) -> Shape:
    """The saddle: a wedge under the string's end."""
    x, top = view.x(view.neck.scale_mm), view.y(saddle_mm)
    foot = max(view.y(0) + FRET_PX + SLAB_PX, top + 6)
    return Polyline(((x - 5, foot), (x, top), (x + 5, foot)), "block", closed=True)


def joint(view: Profile, bottom: float) -> list[Shape]:
    """A centre line down through the fret where the neck meets the body."""
    x = view.fret_x(view.neck.joint_fret)
    return [Line(x, view.fret_y(view.neck.joint_fret) + FRET_PX, x, bottom, "centre")]


def fret_numbers(view: Profile, y: float, always: Sequence[int] = ()) -> list[Shape]:
    """Fret numbers on one line; those in `always` come first, the rest where there is room."""
    taken: list[tuple[float, float]] = []
    shapes: list[Shape] = []
    usual = [12, 5, 1, 7, 3, 9, 15, 17, 19, 21, 24]
    shown = set(view.frets())
    for fret in [*dict.fromkeys([*always, *usual])]:
        if fret not in shown:
            continue
        kind = "strong" if fret in always else "caption"
        half = kind_width(str(fret), kind) / 2 + 3
        x = view.fret_x(fret)
        if all(x + half <= left or x - half >= right for left, right in taken):
            taken.append((x - half, x + half))
            shapes.append(Text(x, y, str(fret), kind))
    return shapes


def top_labels(items: Sequence[tuple[float, float, str, bool]], y: float) -> list[Shape]:
    """A line of words, each joined to its place below: (x, y below, words, with arrow head)."""
    ordered = sorted(items)
    widths = [kind_width(words, "strong") for _, _, words, _ in ordered]
    places = place_row([x for x, _, _, _ in ordered], widths, 2, WIDTH - 2, 8)
    shapes: list[Shape] = []
    for (x, below, words, headed), place in zip(ordered, places, strict=True):
        shapes.append(Text(place, y, words, "strong"))
        knee = min(y + 18, below)
        if abs(place - x) > 1:
            shapes.append(Line(place, y + 5, x, knee, "thin"))
            start = knee
        else:
            start = y + 5
        if headed:
            shapes += arrow(x, start, x, below, "ink")
        elif below > start:
            shapes.append(Line(x, start, x, below, "thin"))
    return shapes


def gap_mark(view: Profile, x_mm: float, low_mm: float, high_mm: float) -> list[Shape]:
    """The measured gap: an accent bar with ticks at both ends."""
    x, low, high = view.x(x_mm), view.y(low_mm), view.y(high_mm)
    return [
        Line(x, low, x, high, "gap"),
        Line(x - 5, low, x + 5, low, "accent"),
        Line(x - 5, high, x + 5, high, "accent"),
    ]
