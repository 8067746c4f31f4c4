"""A stretch of an instrument from the front, lying, in true proportion: board, frets, strings, and hands.

The head points left and the thick string lies at the foot; a left-handed instrument is its mirror image.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

from webapp.drawings.portrait.outline import BOARD_EDGE_MM, DOTS, Outline
from webapp.drawings.reading.magnifier import say
from webapp.drawings.shapes import Circle, Path, Plain, Polyline, Rect, arrow
from webapp.setups.slots import string_numbers
from webapp.trade.spec import InstrumentSpec

NUT_WIDE_MM = 5.0
HEAD_MM = 24.0  # as much of the head as is shown
STUB_MM = 14.0  # from the nut to the end of a neck without a head
CAPO_MM, BLADE_MM, CARD_MM, RULER_MM, FINGER_MM = 9.0, 12.7, 30.0, 30.0, 15.0
THINNEST_PX, ASKED_PX = 0.8, 2.4
HANDS_PX = 17.0  # how far fingers and gauges stand out under the neck


def pickup_mm(spec: InstrumentSpec, number: int) -> float:
    """Where a pickup usually stands, from the nut; 1 is the one nearest to the neck."""
    outline = Outline(spec)
    return outline.saddle() - outline.pickup_share(spec.pickups[number - 1]) * outline.scale_mm


@dataclass(frozen=True)
class NeckFront:
    """Millimetres from the nut and across the board to the drawing; one scale both ways."""

    spec: InstrumentSpec
    from_mm: float
    to_mm: float
    left: float
    right: float
    top: float

    @cached_property
    def outline(self) -> Outline:
        return Outline(self.spec)

    @cached_property
    def px_per_mm(self) -> float:
        return (self.right - self.left) / (self.to_mm - self.from_mm)

    @cached_property
    def half_px(self) -> float:
        """Half the board's width where it is widest here."""
        return self.half_mm(min(self.to_mm, self.end_mm)) * self.px_per_mm

    @cached_property
    def middle(self) -> float:
        return self.top + self.half_px

    @cached_property
    def bottom(self) -> float:
        return self.top + 2 * self.half_px

    @cached_property
    def end_mm(self) -> float:
        """Where the board ends."""
        return self.outline.board_end

    def x(self, mm: float) -> float:
        along = (mm - self.from_mm) * self.px_per_mm
        return self.right - along if self.spec.left_handed else self.left + along

    def half_mm(self, mm: float) -> float:
        """Half the board's width at a distance from the nut."""
        return self.outline.spread(mm) / 2 + BOARD_EDGE_MM

    def fret_mm(self, fret: int, number: int | None = None) -> float:
        """Where a fret crosses a string (the bass string unless told), from the nut's middle."""
        return self.outline.along(fret, self.spec.across(number) if number else 0.0)

    def fret_x(self, fret: int, number: int | None = None) -> float:
        return self.x(self.fret_mm(fret, number))

    def string_y(self, number: int, mm: float) -> float:
        return self.middle - self.outline.string_across(self.spec.index_of(number), mm) * self.px_per_mm


def front_view(
    spec: InstrumentSpec, from_mm: float, to_mm: float, top: float, *, tallest: float
) -> NeckFront:
    """From..to over the drawing's width; more of the board where it would else come out too tall."""
    left, right = 1.0, 359.0
    view = NeckFront(spec, from_mm, to_mm, left, right, top)
    if view.bottom - view.top > tallest:
        longer = (view.to_mm - view.from_mm) * (view.bottom - view.top) / tallest
        view = NeckFront(spec, from_mm, from_mm + longer, left, right, top)
    return view


def board(view: NeckFront) -> list[Plain]:
    """The wood: a piece of the head and of the body where they are in sight, the board, frets and dots."""
    spec = view.spec
    start, stop = max(view.from_mm, 0.0), min(view.to_mm, view.end_mm)
    shapes: list[Plain] = []
    joint = view.fret_mm(spec.joint_fret)
    if view.to_mm > joint:
        far = 7 * view.px_per_mm
        xs = sorted((view.x(max(joint, view.from_mm)), view.x(view.to_mm)))
        shapes.append(
            Rect(xs[0], view.top - far, xs[1] - xs[0], view.bottom - view.top + 2 * far, "body-part")
        )
    if view.from_mm < 0:
        shapes.append(_slab(view, -STUB_MM if spec.headless else view.from_mm, 0.0, "wood"))
    shapes.append(_slab(view, start, stop, "board"))
    shapes += _frets(view, start, stop)
    return [*shapes, _nut(view)] if view.from_mm < 0 else shapes


def _nut(view: NeckFront) -> Polyline:
    """The nut across the board's end, aslant where the frets are fanned."""
    half, wide = view.half_mm(0) * view.px_per_mm, max(NUT_WIDE_MM * view.px_per_mm, 3.0)
    wide *= 1 if view.spec.left_handed else -1
    bass, treble = view.fret_x(0), view.fret_x(0, 1)
    top, foot = view.middle - half, view.middle + half
    return Polyline(
        ((bass, foot), (treble, top), (treble + wide, top), (bass + wide, foot)), "block", closed=True
    )


def _slab(view: NeckFront, start: float, stop: float, kind: str) -> Polyline:
    """A part of the neck; a broken edge where it goes on beyond the paper."""
    corners = [(mm, view.half_mm(max(mm, 0.0)) * view.px_per_mm) for mm in (start, stop)]
    (x1, h1), (x2, h2) = ((view.x(mm), half) for mm, half in corners)
    m, bite = view.middle, 4.0 if not view.spec.left_handed else -4.0
    near = [(x1, m + h1), (x1, m - h1)]
    if start == view.from_mm:
        near = [(x1, m + h1), (x1, m + 3), (x1 + bite, m), (x1, m - 4), (x1, m - h1)]
    far = [(x2, m - h2), (x2, m + h2)]
    if stop == view.to_mm:
        far = [(x2, m - h2), (x2, m - 4), (x2 - bite, m), (x2, m + 3), (x2, m + h2)]
    return Polyline((*near, *far), kind, closed=True)


def _frets(view: NeckFront, start: float, stop: float) -> list[Plain]:
    """Every fret in sight, and the dots that most boards have; a flat one has none."""
    lines, dots, before = [], [], 0.0
    for fret in range(1, view.spec.fret_count + 1):
        bass, last = view.fret_mm(fret), before
        before = bass
        if not start <= bass <= stop - 2:
            continue
        half = view.half_mm(bass) * view.px_per_mm
        lines.append(
            f"M{say(view.x(bass), view.middle + half)}L{say(view.fret_x(fret, 1), view.middle - half)}"
        )
        if fret in DOTS and view.spec.radius_nut_mm is not None:
            x = view.x((bass + last) / 2)
            apart = (half / 2, -half / 2) if fret % 12 == 0 else (0.0,)
            dots += [f"M{say(x, view.middle + y)}h0" for y in apart]
    box = (view.left, view.top, view.right, view.bottom)
    paths = (("".join(lines), "ink"), ("".join(dots), "board-dot"))
    return [Path(d, box, kind) for d, kind in paths if d]


def strings(view: NeckFront, asked: Collection[int], sounding_mm: float | None = None) -> list[Plain]:
    """All strings as thick as they are; those asked for inked, from `sounding_mm` on in accent."""
    end = min(view.to_mm, view.outline.saddle())
    begin = view.from_mm
    if begin < 0:
        begin = -STUB_MM if view.spec.headless else begin + 2
    box = (view.left, view.top, view.right, view.bottom)
    others = [_string(view, n, begin, end, THINNEST_PX) for n in string_numbers(view.spec) if n not in asked]
    shapes: list[Plain] = [Path("".join(others), box, "other-string")] if others else []
    inked = "".join(_string(view, n, begin, end, ASKED_PX) for n in asked)
    shapes.append(Path(inked, box, "ink-fill"))
    if sounding_mm is not None:
        sounds = "".join(_string(view, n, sounding_mm, end, ASKED_PX + 1) for n in asked)
        shapes.append(Path(sounds, box, "accent-fill"))
    return shapes


def _string(view: NeckFront, number: int, start: float, stop: float, least: float) -> str:
    thick = max(view.spec.string(number).gauge_mm * view.px_per_mm, least)
    (x1, y1), (x2, y2) = ((view.x(mm), view.string_y(number, mm)) for mm in (start, stop))
    return f"M{say(x1, y1 - thick / 2)}L{say(x2, y2 - thick / 2)}v{say(thick)}L{say(x1, y1 + thick / 2)}Z"


def bridge_and_pickups(view: NeckFront, ringed: int | None = None) -> list[Plain]:
    """The saddles' line, and the pickups at their usual places; `ringed` is outlined more strongly."""
    spec, s = view.spec, view.px_per_mm
    shapes: list[Plain] = []
    for number in range(1, len(spec.pickups) + 1):
        mm = pickup_mm(spec, number)
        half = (view.half_mm(mm) + 2) * s
        wide = max(20 * s, 8.0)
        kind = "metal" if ringed in (None, number) else "plate"
        shapes.append(Rect(view.x(mm) - wide / 2, view.middle - half, wide, 2 * half, kind, 3.0))
    saddle = view.outline.saddle()
    half, wide = (view.half_mm(saddle) + 2) * s, max(14 * s, 6.0)
    return [*shapes, Rect(view.x(saddle) - wide / 2, view.middle - half, wide, 2 * half, "metal")]


def capo(view: NeckFront, fret: int) -> Rect:
    """A bar across the strings just behind the fret."""
    mm = view.fret_mm(fret) - CAPO_MM * 0.6
    half, wide = (view.half_mm(mm) + 4) * view.px_per_mm, CAPO_MM * view.px_per_mm
    return Rect(view.x(mm) - wide / 2, view.middle - half, wide, 2 * half, "metal", 2.5)


def finger(view: NeckFront, number: int, fret: int) -> list[Plain]:
    """A finger on a string just behind the fret: outline and nail."""
    mm = view.fret_mm(fret, number) - FINGER_MM * 0.55
    x, wide = view.x(mm), max(FINGER_MM * view.px_per_mm, 9.0)
    tip, foot = view.string_y(number, mm) - wide * 0.35, view.bottom + HANDS_PX
    half, nail = wide / 2, wide * 0.3
    bend = tip + half
    return [
        Path(
            f"M{say(x - half, foot)}V{say(bend)}A{say(half, half)} 0 0 1 {say(x + half, bend)}V{say(foot)}",
            (x - half, tip, x + half, foot),
            "block",
        ),
        Path(
            f"M{say(x - nail, bend + nail)}V{say(bend)}A{say(nail, nail)} 0 0 1 {say(x + nail, bend)}"
            f"V{say(bend + nail)}Z",
            (x - nail, bend - nail, x + nail, bend + nail),
            "thin",
        ),
    ]


def slid_in(view: NeckFront, number: int, mm: float, wide_mm: float) -> list[Plain]:
    """A blade or card pushed from the foot under a string, with the arrow that says so."""
    x, wide = view.x(mm), max(wide_mm * view.px_per_mm, 7.0)
    tip, foot = view.string_y(number, mm) - 4, view.bottom + HANDS_PX
    beside = x + (wide / 2 + 8) * (-1 if x + wide > view.right - 14 else 1)
    return [
        Rect(x - wide / 2, tip, wide, foot - tip, "metal"),
        *arrow(beside, foot, beside, view.bottom + 2, "accent"),
    ]


def stood_beside(view: NeckFront, number: int, mm: float) -> list[Plain]:
    """A rule on its edge beside a string, seen from above."""
    x, long = view.x(mm), RULER_MM * view.px_per_mm
    y = view.string_y(number, mm)
    return [Rect(x - long / 2, y - 5.5, long, 3.0, "metal")]


def place_ring(view: NeckFront, number: int, mm: float) -> Circle:
    """Round the place that the magnifier shows."""
    return Circle(view.x(mm), view.string_y(number, mm), 9.0, "ring")
