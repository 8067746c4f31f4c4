"""The round magnifier: string, fret and gap at one true scale, with whatever is held into the gap.

Everything is cut to the circle by arithmetic, so that the picture stands on any ground.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from webapp.drawings.shapes import GROWN, TEXT_SIZE, Circle, Line, Path, Plain, Rect, Text, kind_width
from webapp.physics.numbers import MM_PER_INCH
from webapp.trade.spec import OneString

FRET_WIDE_MM, FRET_HIGH_MM = 2.4, 1.2
TANG_WIDE_MM, TANG_DEEP_MM = 0.6, 1.5
POLE_WIDE_MM, POLE_OUT_MM = 4.8, 0.5
WRAP_MM = 0.42  # from one turn of the winding to the next
MOST_PX_PER_MM = 21.0
FLOOR_SHARE = 0.32  # how far under the middle the zero of the reading lies, as a share of the radius
TOP_SHARE = 0.84  # how far over the middle a string may reach, likewise
MANY_CARDS = 4
BLADE, CARDS, EAR, RULER, GAUGE = "feeler", "card", "ear", "ruler", "gauge"
Band = tuple[float, float]


def say(*numbers: float) -> str:
    """Numbers as a path writes them: to a tenth."""
    return " ".join([f"{round(number, 1) + 0.0:g}" for number in numbers])


@dataclass(frozen=True)
class Magnifier:
    """A round glass: its middle and radius in the drawing's units, and its one scale.

    `floor` is the height on the paper of the zero of the reading: the fret's top or the pickup's.
    """

    cx: float
    cy: float
    r: float
    px_per_mm: float
    floor_share: float = FLOOR_SHARE

    @property
    def floor(self) -> float:
        return self.cy + self.floor_share * self.r

    def y(self, above_mm: float) -> float:
        """Where something lies that is so far above the zero of the reading."""
        return self.floor - above_mm * self.px_per_mm

    def half(self, y: float) -> float:
        """Half the width of the glass at a height."""
        return sqrt(max(self.r**2 - (y - self.cy) ** 2, 0.0))

    def band(self, top: float, bottom: float, kind: str, left: float | None = None) -> tuple[Path, ...]:
        """What lies between two levels, cut round; from `left` on where that is given."""
        top, bottom = max(top, self.cy - self.r), min(bottom, self.cy + self.r)
        if bottom - top < 0.05:
            return ()
        x1, x2 = (self.cx + self.half(y) for y in (top, bottom))
        arc = f"A{say(self.r, self.r)} 0 0 1 "
        if left is None:
            ends = (2 * self.cx - x2, 2 * self.cx - x1)
            start = say(ends[1], top)
            d = f"M{start}H{say(x1)}{arc}{say(x2, bottom)}H{say(ends[0])}{arc}{start}Z"
        else:
            d = f"M{say(left, top)}H{say(x1)}{arc}{say(x2, bottom)}H{say(left)}Z"
        return (Path(d, (self.cx - self.r, top, self.cx + self.r, bottom), kind),)

    def line(self, y: float, kind: str) -> tuple[Line, ...]:
        """A level line from edge to edge."""
        half = self.half(y)
        return (Line(self.cx - half, y, self.cx + half, y, kind),) if half > 1 else ()

    def hairs(self, top: float, bottom: float) -> tuple[Path, ...]:
        """The turns of a wound string between two levels: slanted, cut round."""
        step = max(WRAP_MM * self.px_per_mm, 4.0)
        lean = (bottom - top) * 0.15
        parts = []
        x = self.cx - self.r - lean
        while x < self.cx + self.r:
            cut = self._cut((x, bottom), (x + lean, top))
            if cut is not None:
                parts.append(f"M{say(*cut[0])}L{say(*cut[1])}")
            x += step
        box = (self.cx - self.r, max(top, self.cy - self.r), self.cx + self.r, bottom)
        return (Path("".join(parts), box, "thin"),) if parts else ()

    def _cut(self, a: Band, b: Band) -> tuple[Band, Band] | None:
        """The part of the line from a to b that lies in the glass."""
        dx, dy, fx, fy = b[0] - a[0], b[1] - a[1], a[0] - self.cx, a[1] - self.cy
        q, p, c = dx * dx + dy * dy, fx * dx + fy * dy, fx * fx + fy * fy - self.r**2
        if q == 0 or p * p <= q * c:
            return None
        root = sqrt(p * p - q * c)
        t1, t2 = max((-p - root) / q, 0.0), min((-p + root) / q, 1.0)
        if t2 - t1 < 0.05:
            return None
        return (a[0] + t1 * dx, a[1] + t1 * dy), (a[0] + t2 * dx, a[1] + t2 * dy)

    def ring(self) -> Circle:
        return Circle(self.cx, self.cy, self.r, "ruling")


def magnify(cx: float, cy: float, r: float, string_mm: float, largest_mm: float) -> Magnifier:
    """A glass in which this string still shows whole when the gap is at its largest."""
    room = (FLOOR_SHARE + TOP_SHARE) * r
    return Magnifier(cx, cy, r, min(MOST_PX_PER_MM, room / (string_mm + max(largest_mm, 0.1))))


@dataclass(frozen=True)
class Seen:
    """What the glass shows: a string over a fret or a pickup, the gap under it, and what is held into it.

    `tool` is a tool's key. `marks_mm` is what a rule steps by, `belongs_mm` where the underside should be.
    """

    string: OneString
    gap_mm: float
    tool: str = ""
    over: str = ""
    name: str = ""
    card_mm: float = 0.3
    marks_mm: float = 0.5
    pickup: bool = False
    belongs_mm: Band | None = None
    fits: int | None = None

    @property
    def cards(self) -> int:
        """How many cards lie in the gap."""
        if self.fits is not None:
            return self.fits
        return min(int(max(self.gap_mm, 0.0) / self.card_mm + 1e-6), MANY_CARDS)


def seen_through(glass: Magnifier, seen: Seen) -> list[Plain]:
    """Everything in the glass, back to front, with its ring."""
    underside = glass.y(max(seen.gap_mm, 0.0))
    top = underside - seen.string.gauge_mm * glass.px_per_mm
    shapes: list[Plain] = [Circle(glass.cx, glass.cy, glass.r, "paper")]
    shapes += _rule_plate(glass) if seen.tool in (RULER, GAUGE) else ()
    shapes += _gap(glass, seen, underside)
    shapes += glass.band(top, underside, "metal")
    if seen.string.wound:
        shapes += glass.hairs(top, underside)
    shapes += _pickup(glass) if seen.pickup else _fret(glass)
    if seen.tool in (RULER, GAUGE):
        shapes += _rule_marks(glass, seen, underside)
    if seen.tool == CARDS and seen.cards == 0:
        shapes += _too_thick(glass, seen.card_mm)
    if seen.belongs_mm:
        shapes += (line for mm in seen.belongs_mm for line in glass.line(glass.y(mm), "belongs"))
    return [*shapes, *_names(glass, seen, top, underside), glass.ring()]


def _fret(glass: Magnifier) -> list[Plain]:
    """The board, cut and hatched, and the fret: a dome with its tang."""
    s, x, top = glass.px_per_mm, glass.cx, glass.floor
    foot, half = top + FRET_HIGH_MM * s, FRET_WIDE_MM / 2 * s
    board = [
        *glass.band(foot, glass.cy + glass.r, "board"),
        *glass.band(foot, glass.cy + glass.r, "hatch-board"),
    ]
    tang, deep = TANG_WIDE_MM / 2 * s, min(TANG_DEEP_MM * s, glass.cy + glass.r * 0.97 - foot)
    rise, near = FRET_HIGH_MM * s * 0.75, half * 0.6
    dome = (
        f"M{say(x - half, foot)}C{say(x - half, foot - rise, x - near, top, x, top)}"
        f"S{say(x + half, foot - rise, x + half, foot)}Z"
    )
    slot = f"M{say(x - tang, foot)}v{say(deep)}h{say(2 * tang)}v{say(-deep)}"
    return [
        *board,
        Path(slot, (x - tang, foot, x + tang, foot + deep), "metal"),
        Path(dome, (x - half, top, x + half, foot), "metal"),
    ]


def _pickup(glass: Magnifier) -> list[Plain]:
    """The pickup's cover with the pole that stands out of it."""
    s = glass.px_per_mm
    cover, half = glass.floor + POLE_OUT_MM * s, POLE_WIDE_MM / 2 * s
    body = glass.band(cover, glass.cy + glass.r, "body")
    foot = glass.cy + sqrt(max(glass.r**2 - half**2, 0.0))
    return [*body, Rect(glass.cx - half, glass.floor, 2 * half, max(foot - glass.floor, 1.0), "metal")]


def _gap(glass: Magnifier, seen: Seen, underside: float) -> tuple[Plain, ...]:
    """Solid where a blade or cards fill it, else tinted between its edges."""
    if seen.tool == BLADE:
        return glass.band(underside, glass.floor, "blade")
    if seen.tool == CARDS:
        if not seen.cards:
            return ()
        top, left = glass.y(seen.cards * seen.card_mm), glass.cx - glass.r * 0.66
        edges = (glass.y(n * seen.card_mm) for n in range(1, seen.cards))
        cuts = (Line(left, y, glass.cx + glass.half(y), y, "card-edge") for y in edges)
        return *glass.band(top, glass.floor, "blade", left), *cuts
    return glass.band(underside, glass.floor, "gap-air")


def _too_thick(glass: Magnifier, card_mm: float) -> tuple[Plain, ...]:
    """A card that does not go in: it would have to be where the string is."""
    x, y = glass.cx - glass.r * 0.52, glass.y(card_mm / 2)
    arm = glass.r * 0.11
    end = glass.cx - glass.r * 0.34
    half = glass.half(y)
    card = Rect(glass.cx - half, glass.y(card_mm), end - glass.cx + half, card_mm * glass.px_per_mm, "blade")
    cross = ((x - arm, y - arm, x + arm, y + arm), (x - arm, y + arm, x + arm, y - arm))
    return card, *(Line(*ends, kind) for kind in ("cross-under", "cross") for ends in cross)


def _rule_left(glass: Magnifier) -> float:
    return glass.cx - glass.r * 0.42


def _rule_plate(glass: Magnifier) -> tuple[Plain, ...]:
    """The face of a rule that stands on the fret behind the string."""
    left = _rule_left(glass)
    return glass.band(glass.cy - glass.half(left), glass.floor, "plate", left)


def _rule_marks(glass: Magnifier, seen: Seen, underside: float) -> list[Plain]:
    """A rule's marks up to the string's underside, zero at the fret; a gauge's go all across."""
    step, left, s = seen.marks_mm, _rule_left(glass), glass.px_per_mm
    step *= next(n for n in (1, 2, 4, 5, 10, 20, 50) if n * step * s >= 2.6)
    metric = abs(step / 0.05 - round(step / 0.05)) < 1e-6
    long = 1.0 if metric else MM_PER_INCH / 16
    size = TEXT_SIZE["halo"] * GROWN
    apart = next(n for n in (1, 2, 5, 10, 20) if n * s >= 1.05 * size)
    # Numbers stay clear of a name that stands in the string.
    shown = underside - max(underside - seen.string.gauge_mm * s, glass.cy - glass.r)
    clear = underside - shown / 2 + size / 2 if shown > size * 1.2 else underside
    parts, numbers = [], []
    count = 0
    while glass.y(count * step) >= underside - 0.3:
        y, mm = glass.y(count * step), count * step
        whole = abs(mm / long - round(mm / long)) < 1e-6
        across = glass.half(y) * 0.98 + glass.cx - left if seen.tool == GAUGE else 13.0 if whole else 7.0
        parts.append(f"M{say(left, y)}h{say(across)}")
        if metric and whole and round(mm) % apart == 0 and y - 0.5 * size >= clear:
            numbers.append(Text(left - 3, y + 4.5, f"{mm:g}", "halo", "end"))
        count += 1
    box = (left, underside, glass.cx + glass.r, glass.floor)
    return [Path("".join(parts), box, "mark-line"), *numbers]


def _names(glass: Magnifier, seen: Seen, top: float, underside: float) -> list[Plain]:
    size = TEXT_SIZE["halo-strong"] * GROWN
    shapes: list[Plain] = []
    if seen.name:
        inside = underside - top > size * 1.2
        middle = (max(top, glass.cy - glass.r) + underside) / 2 + size * 0.28
        y = middle if inside else top - size * 0.45
        # The name stands by the string on the neck as well.
        if 0.85 * kind_width(seen.name, "halo-strong") < 2 * glass.half(y - size * 0.7):
            shapes.append(Text(glass.cx, y, seen.name, "halo-strong"))
    room = (POLE_WIDE_MM if seen.pickup else FRET_WIDE_MM) * glass.px_per_mm
    if seen.over and 0.5 * size * len(seen.over) < 1.15 * room:
        below = size * 1.35 if seen.pickup else FRET_HIGH_MM * glass.px_per_mm - 1
        shapes.append(Text(glass.cx, glass.floor + below, seen.over, "halo"))
    return shapes
