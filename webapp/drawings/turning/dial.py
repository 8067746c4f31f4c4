"""A screw's head seen along the screw: where the key is now, where it goes, which way round and how far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import cos, radians, sin

from webapp.drawings.shapes import Circle, Line, Path, Plain, Polyline, Text
from webapp.setups.say import mixed
from webapp.trade.words import Rotation

# The arc of the turn lies so far outside the ring.
OUTSIDE = 8.0
ARROW = 9.0
# More than this is no longer one picture: the whole turns first, then what is left.
ONE_PICTURE = 16
PIP, PIP_STEP, PIPS_A_ROW = 3.2, 9.0, 10


class Drive(StrEnum):
    """What the key grips: a hexagonal hole, a hexagonal nut, a slot, a cross; or nobody said."""

    HEX = "hex"
    NUT = "nut"
    SLOT = "slot"
    CROSS = "cross"
    UNKNOWN = "unknown"


_DRIVE_WORDS = {
    "socket": Drive.NUT, "spanner": Drive.NUT, "nut": Drive.NUT,
    "hex": Drive.HEX, "allen": Drive.HEX,
    "slot": Drive.SLOT, "flat": Drive.SLOT,
    "cross": Drive.CROSS,
}  # fmt: skip


def drive_of(key_size: str) -> Drive:
    """The drive that a key's description names: '4 mm hex', '5/16 in socket', 'flat screwdriver'."""
    words = key_size.lower()
    return next((drive for word, drive in _DRIVE_WORDS.items() if word in words), Drive.UNKNOWN)


def steps_of(eighths: int) -> tuple[int, ...]:
    """The amounts, in eighths without a sign, that are shown one after the other."""
    whole, rest = divmod(abs(eighths), 8)
    return (8 * whole, rest) if rest and abs(eighths) > ONE_PICTURE else (abs(eighths),)


def amount(eighths: int) -> str:
    """'⅛ turn', '1 turn', '1⅜ turns'."""
    return f"{mixed(eighths)} turn{'s' if abs(eighths) > 8 else ''}"


@dataclass(frozen=True)
class Dial:
    """One dial: `eighths` (0 or more) from 12 the way that `rotation` goes.

    The key stands at 12, or `eased` eighths the other way: from there a thin arc leads back to 12 first.
    """

    cx: float
    cy: float
    r: float
    rotation: Rotation
    eighths: int
    drive: Drive = Drive.UNKNOWN
    eased: int = 0

    @property
    def reach(self) -> float:
        """From the centre to the outer edge of the arc."""
        return self.r + OUTSIDE + 3

    @property
    def _way(self) -> int:
        return 1 if self.rotation is Rotation.CLOCKWISE else -1

    def at(self, eighths: float, r: float) -> tuple[float, float]:
        """The point so many eighths on from 12, the way it turns, at a distance from the centre."""
        angle = radians(45 * eighths * self._way)
        return self.cx + r * sin(angle), self.cy - r * cos(angle)

    def shapes(self, says_fraction: bool = True) -> list[Plain]:
        """The ring with its ticks, both places of the key, the way between them, the screw's head."""
        return [
            *self._ring(),
            # After a whole turn it stands where it stood: one key, not one over the other.
            *([self._key(-self.eased, "forecast")] if self.eighths % 8 else []),
            self._key(self.eighths % 8, "accent-fill"),
            *self._turned(),
            *(self._fraction() if says_fraction else ()),
            *_head(self.cx, self.cy, 0.24 * self.r, self.drive),
        ]

    def _ring(self) -> list[Plain]:
        cx, cy, r = self.cx, self.cy, self.r
        ends = [(self.at(e, r), self.at(e, r - (6 if e % 2 == 0 else 4))) for e in range(8)]
        d = "".join(f"M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" for (x1, y1), (x2, y2) in ends)
        return [Circle(cx, cy, r, "leader"), Path(d, (cx - r, cy - r, cx + r, cy + r), "ink")]

    def _key(self, eighths: float, kind: str) -> Polyline:
        long, half = 0.8 * self.r, 0.1 * self.r
        (ax, ay), (tx, ty) = self.at(eighths, 0), self.at(eighths, long)
        sx, sy = (ty - ay) / long * half, -(tx - ax) / long * half
        corners = ((ax + sx, ay + sy), (tx + sx, ty + sy), (tx - sx, ty - sy), (ax - sx, ay - sy))
        return Polyline(corners, kind, closed=True)

    def _turned(self) -> list[Plain]:
        r = self.r + OUTSIDE
        whole, rest = divmod(self.eighths, 8)
        shapes: list[Plain] = []
        if self.eased:
            shapes.append(self._arc(r, -self.eased, 0, "do-easing"))
        if whole and rest:
            shapes.append(Circle(self.cx, self.cy, r, "do-easing"))
        if self.eighths:
            # A full ring stops just short of where it began, or its arrow would hide in it.
            shapes += self._arrow(r, rest or 7.8)
        return shapes

    def _arrow(self, r: float, end: float) -> list[Plain]:
        foot = end - ARROW / r / radians(45)
        head = (self.at(end, r), self.at(foot, r - 0.55 * ARROW), self.at(foot, r + 0.55 * ARROW))
        return [self._arc(r, 0, foot, "do-line"), Polyline(head, "accent-fill", closed=True)]

    def _arc(self, r: float, start: float, end: float, kind: str) -> Path:
        (x1, y1), (x2, y2) = self.at(start, r), self.at(end, r)
        large, sweep = int(end - start > 4), int(self._way > 0)
        d = f"M{x1:.1f} {y1:.1f}A{r:.1f} {r:.1f} 0 {large} {sweep} {x2:.1f} {y2:.1f}"
        on_it = [self.at(start + (end - start) * part / 32, r) for part in range(33)]
        xs, ys = [x for x, _ in on_it], [y for _, y in on_it]
        return Path(d, (min(xs), min(ys), max(xs), max(ys)), kind)

    def _fraction(self) -> tuple[Plain, ...]:
        rest = self.eighths % 8
        if not rest:
            return ()
        x, y = self.at(rest, self.r + OUTSIDE + 16)
        return (Text(x, y + 7, mixed(rest), "do"),)


def _head(cx: float, cy: float, r: float, drive: Drive) -> list[Plain]:
    """The screw's head with what the key grips."""
    hexagon = [(cx + sin(radians(60 * i)), cy - cos(radians(60 * i))) for i in range(6)]

    def sized(size: float) -> tuple[tuple[float, float], ...]:
        return tuple((cx + size * (x - cx), cy + size * (y - cy)) for x, y in hexagon)

    if drive is Drive.NUT:
        return [Polyline(sized(1.15 * r), "metal", closed=True), Circle(cx, cy, 0.5 * r, "ink-fill")]
    face: list[Plain] = [Circle(cx, cy, r, "metal")]
    if drive is Drive.HEX:
        return [*face, Polyline(sized(0.62 * r), "ink-fill", closed=True)]
    arm = 0.72 * r
    if drive in (Drive.SLOT, Drive.CROSS):
        face.append(Line(cx, cy - arm, cx, cy + arm, "ruling"))
    if drive is Drive.CROSS:
        face.append(Line(cx - arm, cy, cx + arm, cy, "ruling"))
    return face


def pips(cx: float, top: float, whole: int) -> list[Plain]:
    """One pip for each whole turn, in fives, ten to a row."""
    shapes: list[Plain] = []
    for start in range(0, whole, PIPS_A_ROW):
        many = min(PIPS_A_ROW, whole - start)
        gap = 4.0 if many > 5 else 0.0
        left = cx - ((many - 1) * PIP_STEP + gap) / 2
        y = top + PIP + start / PIPS_A_ROW * PIP_STEP
        shapes += [Circle(left + i * PIP_STEP + gap * (i >= 5), y, PIP, "disc") for i in range(many)]
    return shapes


@dataclass(frozen=True)
class Turning:
    """A turn as one column of a drawing shows it; `alike` where two screws get the same."""

    rotation: Rotation
    eighths: int
    drive: Drive = Drive.UNKNOWN
    alike: bool = False

    @property
    def words(self) -> tuple[str, ...]:
        """How far, in one line or two."""
        first, *then = steps_of(self.eighths)
        many = abs(self.eighths) > ONE_PICTURE
        each = " each" if self.alike and not many else ""
        now = " now" if many else ""
        after = [f"then {mixed(step)}{', both alike' if self.alike else ''}" for step in then]
        return f"{amount(first)}{each}{now}", *(after or (["both alike"] if self.alike else []))

    def column(self, cx: float, top: float, width: float) -> tuple[list[Plain], float]:
        """The dials, the pips and how far, centred on `cx`; and the lowest line that they reach.

        Two dials stand beside one another: with "=" where both screws get it, else one after the other.
        """
        steps = steps_of(self.eighths)
        pair = len(steps) > 1 or self.alike
        room = width / 2 - 8 if pair else width - 56
        r = min(room / 2 - OUTSIDE - 3, 28.0 if pair else 34.0)
        high = r + OUTSIDE + 3
        cy = top + high + (0 if pair else 6)
        amounts: Sequence[int] = steps if len(steps) > 1 else steps * (2 if pair else 1)
        centres = (cx - high - 7, cx + high + 7) if pair else (cx,)
        shapes: list[Plain] = []
        for x, step in zip(centres, amounts, strict=True):
            dial = Dial(x, cy, r, self.rotation, step, self.drive)
            shapes += dial.shapes(says_fraction=not pair)
        if pair and len(steps) == 1:
            shapes += [Line(cx - 4, cy - 2.5, cx + 4, cy - 2.5, "ruling"),
                       Line(cx - 4, cy + 2.5, cx + 4, cy + 2.5, "ruling")]  # fmt: skip
        # Half a turn or so ends at the foot, where its fraction needs room.
        bottom = cy + high + (22 if not pair and abs(self.eighths) % 8 in (3, 4, 5) else 2)
        whole = abs(self.eighths) // 8
        shapes += pips(cx, bottom, whole)
        bottom += -(-whole // PIPS_A_ROW) * PIP_STEP
        first, *rest = self.words
        shapes.append(Text(cx, bottom + 16, first, "do"))
        shapes += [Text(cx, bottom + 34 + 17 * i, text) for i, text in enumerate(rest)]
        return shapes, bottom + 20 + 18 * len(rest)
