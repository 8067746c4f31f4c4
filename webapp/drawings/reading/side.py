"""The neck from the side, twice: true to scale, and its lines alone with their heights multiplied.

Wood is never stretched. In the lines the string is the straightedge: it is drawn level, and the frets' tops
are dashes that dip under it. By how much more than true is written beside, and follows from the drawing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from webapp.drawings.reading.magnifier import say
from webapp.drawings.shapes import WIDTH, Drawing, Line, Path, Plain, Rect, Text
from webapp.drawings.units import MM, Units, long_length
from webapp.physics.frets import fret_position
from webapp.physics.neck import Neck

TITLE = "The neck from the side"
FACTORS = (200, 150, 100, 80, 60, 50, 40, 30, 25, 20, 15, 10, 8, 6, 5, 4, 3, 2, 1)
BOARD_MM, NECK_MM, BODY_MM, FRET_MM = 5.5, 15.0, 40.0, 1.2
HEAD_MM = 30.0
DASH_PX = 3.0
STRING_KINDS = ("ruling", "second-frets")


@dataclass(frozen=True)
class Along:
    """Millimetres along the neck to the drawing."""

    from_mm: float
    to_mm: float
    left: float
    right: float
    mirrored: bool = False

    @property
    def px_per_mm(self) -> float:
        return (self.right - self.left) / (self.to_mm - self.from_mm)

    def x(self, mm: float) -> float:
        along = (mm - self.from_mm) * self.px_per_mm
        return self.right - along if self.mirrored else self.left + along

    def rect(self, start: float, stop: float, y: float, tall: float, kind: str) -> Rect:
        xs = sorted((self.x(max(start, self.from_mm)), self.x(min(stop, self.to_mm))))
        return Rect(xs[0], y, xs[1] - xs[0], tall, kind)


def true_strip(neck: Neck, along: Along, y: float) -> list[Plain]:
    """The neck from the side with nothing stretched; `y` is the fret tops' height on the paper."""
    s = along.px_per_mm
    face = y + FRET_MM * s
    board_end = neck.fret_at(neck.fret_count) + 10
    body = neck.joint_mm < along.to_mm
    neck_end = neck.joint_mm if body else along.to_mm
    shapes: list[Plain] = []
    if body:
        shapes.append(along.rect(neck.joint_mm, along.to_mm, face + BOARD_MM * s, BODY_MM * s, "body"))
    shapes += [
        along.rect(along.from_mm, 0, face + BOARD_MM * s, NECK_MM * 0.8 * s, "wood"),
        along.rect(0, neck_end, face + BOARD_MM * s, NECK_MM * s, "wood"),
        along.rect(0, board_end, face, BOARD_MM * s, "board"),
    ]
    frets = np.asarray(fret_position(neck.scale_mm, np.arange(1, neck.fret_count + 1))).tolist()
    marks = "".join(f"M{say(along.x(mm), y)}v1" for mm in frets if mm < along.to_mm)
    shapes.append(Path(marks, (along.left, y, along.right, face), "ink"))
    return shapes


def strip_bottom(neck: Neck, along: Along, y: float) -> float:
    """The lower edge of what `true_strip` draws."""
    under = BODY_MM if neck.joint_mm < along.to_mm else NECK_MM
    return y + (FRET_MM + BOARD_MM + under) * along.px_per_mm


@dataclass(frozen=True)
class LevelString:
    """One straight string and the frets under it: each one's distance from the nut and the gap to it, mm.

    A fret that stands over the string's line has a negative gap.
    """

    gaps: tuple[tuple[float, float], ...]

    @property
    def deepest(self) -> float:
        return max(0.0, *(gap for _, gap in self.gaps))

    @property
    def highest(self) -> float:
        return max(0.0, *(-gap for _, gap in self.gaps))


def under_chord(neck: Neck, hold: int, press: int) -> LevelString:
    """The frets under a string that lies on two of them."""
    frets = np.arange(hold, press + 1)
    at = np.asarray(fret_position(neck.scale_mm, frets))
    tops = neck.height_at(at)
    line = tops[0] + (tops[-1] - tops[0]) * (at - at[0]) / (at[-1] - at[0])
    return LevelString(tuple(zip(at.tolist(), (line - tops).tolist(), strict=True)))


def under_string(neck: Neck, saddle_mm: float, hold: int, nut_mm: float = 0.0) -> LevelString:
    """The frets under a string that runs from a fret (0: the nut) to the saddle."""
    frets = np.arange(max(hold, 1), neck.fret_count + 1)
    start = neck.fret_at(hold)
    foot = neck.fret_top(hold) + (0.0 if hold else nut_mm)
    at = np.asarray(fret_position(neck.scale_mm, frets))
    line = foot + (saddle_mm - foot) * (at - start) / (neck.scale_mm - start)
    return LevelString(tuple(zip(at.tolist(), (line - neck.height_at(at)).tolist(), strict=True)))


@dataclass(frozen=True)
class Lines:
    """The lines of one drawing: where they begin, the string's level, where they end, the factor."""

    neck: Neck
    along: Along
    top: float
    level: float
    foot: float
    factor: int

    @property
    def px_per_mm(self) -> float:
        """Of heights."""
        return self.along.px_per_mm * self.factor

    def y(self, under_mm: float) -> float:
        return self.level + under_mm * self.px_per_mm

    def points(self, string: LevelString) -> tuple[tuple[float, float], ...]:
        return tuple((self.along.x(mm), self.y(gap)) for mm, gap in string.gaps)

    def frets(self, string: LevelString, kind: str = "ruling") -> list[Plain]:
        """A dash at each fret's top, joined by a hair."""
        points = self.points(string)
        parts = []
        for (x, y), other in zip(
            points, (*points[1:], points[-2] if len(points) > 1 else points[0]), strict=True
        ):
            half = max(min(DASH_PX, abs(other[0] - x) * 0.3), 1.0)
            parts.append(f"M{say(x - half, y)}h{say(2 * half)}")
        box = (self.along.left, self.y(-string.highest), self.along.right, self.y(string.deepest))
        joined = "L".join(say(*point) for point in _few(points))
        return [Path(f"M{joined}", box, "thin"), Path("".join(parts), box, kind)]

    def string(self, *rests_mm: float) -> list[Plain]:
        """The level string, with a tick over each place where it rests."""
        ticks = (
            Line(self.along.x(mm), self.level - 6, self.along.x(mm), self.level, "ruling") for mm in rests_mm
        )
        return [Line(self.along.left, self.level, self.along.right, self.level, "ruling"), *ticks]

    def gap(self, fret: int, gap_mm: float) -> Line:
        x = self.along.x(self.neck.fret_at(fret))
        return Line(x, self.level, x, self.y(gap_mm), "gap")

    def target(self, low: LevelString, high: LevelString) -> Path:
        """The field in which the frets' tops may lie."""
        points = (*_few(self.points(low)), *reversed(_few(self.points(high))))
        box = (self.along.left, self.top, self.along.right, self.foot)
        return Path(f"M{'L'.join(say(*point) for point in points)}Z", box, "target")


def _few(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Enough of a curve's points to draw it, both ends among them."""
    return [*points[: -1 : max(len(points) // 7, 1)], points[-1]]


def lines_for(neck: Neck, along: Along, top: float, tall: float, strings: Sequence[LevelString]) -> Lines:
    """Lines whose deepest and highest fret fit between `top` and `top + tall`, at a round factor."""
    deep = max(s.deepest for s in strings)
    high = max(s.highest for s in strings)
    span = max((deep + high) * along.px_per_mm, 1e-9)
    factor = next((f for f in FACTORS if f * span <= tall), 1)
    s = along.px_per_mm * factor
    return Lines(neck, along, top, top + high * s, top + (high + deep) * s, factor)


@dataclass(frozen=True)
class SideString:
    """A string to be drawn: what it is called, the neck under it, and its height at the saddle."""

    name: str
    neck: Neck
    saddle_mm: float


def neck_side(
    strings: Sequence[SideString],
    relief_frets: tuple[int, int, int],
    *,
    hold: int = 1,
    gap: int = 12,
    title: str = TITLE,
    left_handed: bool = False,
    units: Units = MM,
) -> Drawing:
    """The true neck, its bow under a straightedge, and its frets under the outer strings.

    `strings` are one or two, the bass string first; `relief_frets` are hold, press and gap of the relief
    reading, `hold` and `gap` those of the heights.
    """
    neck, bass = strings[0].neck, strings[0]
    along = Along(-HEAD_MM, neck.scale_mm + 12, 2.0, WIDTH - 2, left_handed)
    y = 25.0
    shapes: list[Plain] = [Text(2, 14, "the neck, true", "caption", "start"), *true_strip(neck, along, y)]
    end = (along.x(neck.scale_mm), y - bass.saddle_mm * along.px_per_mm)
    shapes.append(Line(along.x(0), y, *end, "thin"))
    y = strip_bottom(neck, along, y)

    held, pressed, over = relief_frets
    relief = neck.relief(*relief_frets)
    bow = under_chord(neck, held, pressed)
    lines = lines_for(neck, along, y + 28, 20, [bow])
    shapes += [
        Text(
            2,
            y + 20,
            f"lines only, × {lines.factor}: {units.full(relief)} over fret {over}",
            "caption",
            "start",
        ),
        *lines.frets(bow),
        *lines.string(neck.fret_at(held), neck.fret_at(pressed)),
        lines.gap(over, relief),
    ]
    y = lines.foot

    under = [under_string(s.neck, s.saddle_mm, hold) for s in strings]
    heights = [s.neck.action(s.saddle_mm, hold, gap) for s in strings]
    rows = lines_for(neck, along, y + 28, 40, under)
    shapes.append(Text(2, y + 20, f"lines only, × {rows.factor}: height over fret {gap}", "caption", "start"))
    for level, kind in list(zip(under, STRING_KINDS, strict=False))[::-1]:
        shapes += rows.frets(level, kind)
    shapes += rows.string(neck.fret_at(hold) if hold else 0.0, neck.scale_mm)
    shapes += [rows.gap(gap, height) for height in heights[:1]]
    y = rows.foot + 20
    for index, (string, height) in enumerate(zip(strings, heights, strict=True)):
        x = 2 + index * WIDTH / 2
        shapes.append(Line(x, y - 4.5, x + 14, y - 4.5, STRING_KINDS[index]))
        name = string.name.replace(" string", "")
        shapes.append(Text(x + 20, y, f"{name}: {units.full(height)}", "label", "start"))
    said = _said(strings, heights, relief_frets, relief, (hold, gap), (lines.factor, rows.factor), units)
    return Drawing(WIDTH, y + 6, tuple(shapes), title, said)


def _said(
    strings: Sequence[SideString],
    heights: Sequence[float],
    relief_frets: tuple[int, int, int],
    relief: float,
    way: tuple[int, int],
    factors: tuple[int, int],
    units: Units,
) -> str:
    neck, (held, pressed, over), (hold, gap) = strings[0].neck, relief_frets, way
    shape = "forward bow" if relief > 0 else "back bow" if relief < 0 else "dead straight"
    start = f"held at fret {hold}" if hold else "open"
    each = ", ".join(f"{s.name} {units.full(h)}" for s, h in zip(strings, heights, strict=True))
    return (
        f"Scale {long_length(neck.scale_mm, units)}, {neck.fret_count} frets; "
        f"the neck joins the body at fret {neck.joint_fret}. "
        f"Held at fret {held} and pressed at fret {pressed}, the relief over fret {over} is "
        f"{units.full(relief)}: {shape}; its lines are drawn {factors[0]} times as high. "
        f"Height over fret {gap}, {start}: {each}; its lines are drawn {factors[1]} times as high. "
        "The neck itself is drawn true."
    )
