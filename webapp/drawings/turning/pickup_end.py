"""A pickup seen from the bridge: the strings over it, its screws and springs, and which end moves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from webapp.drawings.shapes import Circle, Line, Plain, Polyline, Rect, Text, arrow
from webapp.drawings.turning.bridge_parts import THINNEST, coils
from webapp.physics.arc import drop
from webapp.setups.geometry import offset_mm, radius_mm
from webapp.setups.slots import string_numbers
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import PickupAdjust, PickupType, Side

# mm: the pickup's depth, how far it stands out past the outer strings, and its screws past them.
DEPTH_MM, PAST_MM, SCREW_MM = 12.0, 5.0, 9.0
LARGEST = 2.6


@dataclass(frozen=True)
class PickupEnd:
    """One pickup in its hole, the gap at `side` going from `now_mm` to `after_mm`."""

    spec: InstrumentSpec
    pickup: int
    side: Side
    now_mm: float
    after_mm: float
    left: float
    right: float
    top: float

    @property
    def _offsets(self) -> dict[int, float]:
        """Each string from the middle, mm, minus to the left of the picture."""
        sign = -1 if self.spec.left_handed else 1
        numbers = string_numbers(self.spec)
        return {n: sign * offset_mm(self.spec, n, self.spec.fret_count) for n in numbers}

    @property
    def _half_mm(self) -> float:
        return max(self._offsets.values())

    @property
    def px(self) -> float:
        return min(LARGEST, (self.right - self.left) / (2 * (self._half_mm + SCREW_MM + 6)))

    def _x(self, mm: float) -> float:
        return (self.left + self.right) / 2 + mm * self.px

    @property
    def _bass_is_left(self) -> bool:
        return not self.spec.left_handed

    @property
    def _moves_left(self) -> bool:
        return (self.side is Side.BASS) is self._bass_is_left

    def _under(self, offset: float) -> float:
        """The y of a string's underside."""
        arc = drop(radius_mm(self.spec, self.spec.fret_count), offset)
        return self.top + 30 + float(arc) * self.px

    def _face(self, gap_mm: float) -> tuple[float, float]:
        """The y of the pickup's face at its left and its right end, with this gap at the side in question."""
        outer = self._under(self._half_mm)
        moved, other = outer + gap_mm * self.px, outer + self.after_mm * self.px
        return (moved, other) if self._moves_left else (other, moved)

    def shapes(self) -> tuple[list[Plain], float]:
        """Everything, and the y of its foot."""
        floor = max(self._face(self.now_mm)) + (DEPTH_MM + 7) * self.px
        foot = floor + 14
        shapes: list[Plain] = [*self._hole(floor, foot), *self._sides()]
        shapes += self._body(self.now_mm, "metal")
        shapes += self._screws(floor)
        shapes += self._body(self.after_mm, "ghost")
        shapes += self._strings()
        return [*shapes, *self._move()], foot

    def _sides(self) -> Iterable[Plain]:
        names = [Side.BASS, Side.TREBLE] if self._bass_is_left else [Side.TREBLE, Side.BASS]
        for name, x, anchor in zip(names, (self.left, self.right), ("start", "end"), strict=True):
            kind = "strong" if name is self.side else "caption"
            yield Text(x, self.top + 12, f"{name.value} side", kind, anchor)

    def _strings(self) -> Iterable[Plain]:
        for number, offset in self._offsets.items():
            r = max(THINNEST, self.spec.string(number).gauge_mm * self.px / 2)
            yield Circle(self._x(offset), self._under(offset) - r, r, "block")

    def _body(self, gap_mm: float, kind: str) -> Iterable[Plain]:
        left, right = self._x(-self._half_mm - PAST_MM), self._x(self._half_mm + PAST_MM)
        at_left, at_right = self._face(gap_mm)
        deep = DEPTH_MM * self.px
        corners = ((left, at_left), (right, at_right), (right, at_right + deep), (left, at_left + deep))
        yield Polyline(corners, kind, closed=True)
        if kind == "metal" and self.spec.pickups[self.pickup - 1].type is PickupType.SPLIT:
            middle, high = self._x(0), (at_left + at_right) / 2
            yield Line(middle, high, middle, high + deep, "outline")

    def _hole(self, floor: float, foot: float) -> Iterable[Plain]:
        wall = self._x(-self._half_mm - SCREW_MM - 3) - self.left
        rim = max(self._face(self.now_mm)) + 0.45 * DEPTH_MM * self.px
        left, right = self.left, self.right
        corners = ((left, rim), (left + wall, rim), (left + wall, floor), (right - wall, floor),
                   (right - wall, rim), (right, rim), (right, foot), (left, foot))  # fmt: skip
        for kind in ("body", "hatch-wood"):
            yield Polyline(corners, kind, closed=True)

    def _screws(self, floor: float) -> Iterable[Plain]:
        ring = self.spec.pickups[self.pickup - 1].adjust is PickupAdjust.RING
        faces = self._face(self.now_mm)
        rim = max(faces) + 0.45 * DEPTH_MM * self.px
        for way, face in zip((-1, 1), faces, strict=True):
            x = self._x(way * (self._half_mm + SCREW_MM))
            inner = self._x(way * (self._half_mm + PAST_MM))
            chosen = (way < 0) is self._moves_left
            lug = face + (0.8 * DEPTH_MM * self.px if ring else 4)
            yield Line(min(x - 5, inner), lug, max(x + 5, inner), lug, "ruling")
            if ring:
                edge = self.left if way < 0 else self.right
                yield Line(edge, rim - 2, inner + way * 3, rim - 2, "ruling")
            head = rim - 3 if ring else lug - 1
            yield Line(x, head, x, floor - 3 if ring else floor + 9, "outline")
            start, end = (head + 2, lug) if ring else (lug, floor)
            yield coils((x, start, x, end), half=4, count=3 if ring else 6)
            yield Rect(x - 5, head - 5, 10, 5, "disc" if chosen else "ink-fill", 1.5)
            if chosen:
                yield Circle(x, head - 3, 10, "ring")

    def _move(self) -> Iterable[Plain]:
        """Which way the side in question goes: an arrow on the pickup's face."""
        x = self._x((-1 if self._moves_left else 1) * (self._half_mm - 3))
        middle = max(self._face(self.now_mm)) + 0.5 * DEPTH_MM * self.px
        half = 11 if self.after_mm < self.now_mm else -11
        return arrow(x, middle + half, x, middle - half, "do-line", 9)
