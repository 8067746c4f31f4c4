"""The parts of a bridge that are turned, each in its own true proportion: no page, no words beyond a label.

Plans lie as the portrait does: the nut to the left, the thick string at the foot (left-handed: at the top).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from webapp.drawings.shapes import Circle, Line, Path, Plain, Polyline, Rect, Text, arrow
from webapp.setups.slots import string_label, string_numbers
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import ScrewHeads, Side

# The tallest that a plan may be, and the largest scale, in units and units per mm.
TALLEST, LARGEST = 156.0, 2.0
# Thinner strings than this would not show.
THINNEST = 0.8
# Names of strings nearer to one another than this would touch.
NAMES_APART = 20.0
POST_MM, BAR_MM = 10.0, 12.0
# Units per mm of a saddle's section, and the longest way that it may be drawn.
SIDE_SCALE, LONGEST = 4.0, 56.0
SADDLE_FOOT, SADDLE_TOP = 126.0, 72.0


def coils(*axes: tuple[float, float, float, float], half: float, count: int = 8) -> Path:
    """Springs from the side, each between the two points of its axis (x1, y1, x2, y2)."""
    d = "".join(_coil(*axis, half, count) for axis in axes)
    xs, ys = [x for axis in axes for x in axis[::2]], [y for axis in axes for y in axis[1::2]]
    return Path(d, (min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half), "thin")


def _coil(x1: float, y1: float, x2: float, y2: float, half: float, count: int) -> str:
    ux, uy = (x2 - x1) / (2 * count), (y2 - y1) / (2 * count)
    long = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5 or 1.0
    sx, sy = -2 * (y2 - y1) / long * half, 2 * (x2 - x1) / long * half
    there, back = f"l{ux + sx:.1f} {uy + sy:.1f}", f"l{ux - sx:.1f} {uy - sy:.1f}"
    return f"M{x1 - sx / 2:.1f} {y1 - sy / 2:.1f}" + (there + back) * count


@dataclass(frozen=True)
class Plan:
    """Where things lie in a plan of the bridge: `top` is the y of its upper edge."""

    spec: InstrumentSpec
    top: float
    edge_mm: float

    @property
    def pitch_mm(self) -> float:
        """From one string to the next."""
        return self.spec.spacing_bridge_mm / (self.spec.string_count - 1)

    @property
    def px(self) -> float:
        return min(LARGEST, TALLEST / self.wide_mm)

    @property
    def wide_mm(self) -> float:
        return self.spec.spacing_bridge_mm + 2 * self.edge_mm

    @property
    def bottom(self) -> float:
        return self.top + self.wide_mm * self.px

    def y(self, across: float) -> float:
        """The y of a place across the strings: 0 = bass string, 1 = treble string."""
        from_top = across if self.spec.left_handed else 1 - across
        return self.top + (self.edge_mm + from_top * self.spec.spacing_bridge_mm) * self.px

    def string(self, number: int, x1: float, x2: float) -> Rect:
        """A string at its true thickness."""
        thick = max(THINNEST, self.spec.string(number).gauge_mm * self.px)
        return Rect(x1, self.y(self.spec.across(number)) - thick / 2, x2 - x1, thick, "ink-fill")


def saddle_plan(spec: InstrumentSpec, chosen: int, top: float) -> tuple[list[Plain], float]:
    """The bridge from above with every saddle; the two screws of string `chosen` ringed. And its foot's y."""
    pitch_mm = spec.spacing_bridge_mm / (spec.string_count - 1)
    plan = Plan(spec, top, 0.55 * pitch_mm)
    shapes: list[Plain] = [
        Rect(36, plan.top, 124, plan.bottom - plan.top, "metal", 3),
        Rect(148, plan.top, 12, plan.bottom - plan.top, "metal"),
    ]
    springs = [(_saddle_x(plan, n) + 32, plan.y(spec.across(n))) for n in string_numbers(spec)]
    half = min(4.5, 0.2 * pitch_mm * plan.px)
    shapes.append(coils(*((x, y, 148, y) for x, y in springs), half=half, count=4))
    for number in string_numbers(spec):
        shapes += _saddle(plan, number, number == chosen)
    return [*shapes, *_names(plan, chosen)], plan.bottom


def _saddle_x(plan: Plan, number: int) -> float:
    """Thicker strings' saddles stand further back."""
    return 58 + 14 * (1 - plan.spec.across(number))


def _saddle(plan: Plan, number: int, is_chosen: bool) -> Iterable[Plain]:
    y, half = plan.y(plan.spec.across(number)), 0.39 * plan.pitch_mm * plan.px
    x = _saddle_x(plan, number)
    yield Rect(x, y - half, 32, 2 * half, "block", 1.5)
    yield plan.string(number, 30, 154)
    for way in (-1, 1):
        yield Circle(x + 9, y + way * 0.66 * half, min(3.6, 0.3 * half), "disc" if is_chosen else "ink-fill")
    if is_chosen:
        yield Rect(x - 4, y - half - 2, 40, 2 * half + 4, "ring", 4)


def _names(plan: Plan, chosen: int) -> Iterable[Plain]:
    """The strings' letters; only the chosen one's where they stand too close."""
    roomy = plan.pitch_mm * plan.px >= NAMES_APART
    for number in string_numbers(plan.spec):
        if roomy or number == chosen:
            letter = string_label(plan.spec, number).split()[0]
            y = plan.y(plan.spec.across(number)) + 5
            yield Text(26, y, letter, "strong" if number == chosen else "caption", "end")


def posts_plan(
    spec: InstrumentSpec, sides: frozenset[Side], top: float, floats: bool
) -> tuple[list[Plain], float]:
    """A bridge on two posts from above, those of `sides` ringed. And its foot's y."""
    spacing = max(spec.bridge.post_spacing_mm or 0.0, spec.spacing_bridge_mm + 2 * POST_MM)
    outside = (spacing - spec.spacing_bridge_mm) / 2
    plan = Plan(spec, top, outside + POST_MM)
    px = plan.px
    bar_top, bar_bottom = plan.top + 0.5 * POST_MM * px, plan.bottom - 0.5 * POST_MM * px
    x = 130.0
    wide = 56.0 if floats else BAR_MM * px
    shapes: list[Plain] = [Rect(x - 0.5 * BAR_MM * px, bar_top, wide, bar_bottom - bar_top, "metal", 4)]
    for number in string_numbers(spec):
        y = plan.y(spec.across(number))
        block = min(9.0, 0.7 * plan.pitch_mm * px)
        shapes.append(Rect(x - 5 + (14 if floats else 0), y - block / 2, 10, block, "block"))
        shapes.append(plan.string(number, 4, 172))
    for side, across in ((Side.BASS, -outside), (Side.TREBLE, spec.spacing_bridge_mm + outside)):
        y = plan.y(across / spec.spacing_bridge_mm)
        shapes += _post(x, y, POST_MM / 2 * px, side in sides)
        shapes.append(Text(4, y + 5, f"{side.value} side", "strong" if side in sides else "caption", "start"))
    return shapes, plan.bottom


def _post(x: float, y: float, r: float, is_chosen: bool) -> list[Plain]:
    post: list[Plain] = [Circle(x, y, r, "block"), Line(x, y - 0.6 * r, x, y + 0.6 * r, "ruling")]
    return [*post, Circle(x, y, r + 4, "ring")] if is_chosen else post


def saddle_side(
    spec: InstrumentSpec, number: int, travel_mm: float, right: float, scaled: bool = True
) -> tuple[list[Plain], float]:
    """A saddle from the side, the nut to the left: as it stands, dashed where it goes, its screw, its spring.

    `travel_mm` is plus where it moves back; a ruler lies beside it where that is `scaled`. Returns the
    shapes and the y of their foot.
    """
    px = min(SIDE_SCALE, LONGEST / (abs(travel_mm) or 1.0))
    behind = spec.bridge.intonation_heads is ScrewHeads.BEHIND
    lip = right - 24 if behind else 18.0
    x = (right - 24 if behind else right + 18) / 2 - travel_mm * px / 2
    shapes: list[Plain] = [*_plate(4, right, lip), *_screw(x, lip, behind)]
    shapes.append(_saddle_block(x, "metal"))
    shapes.append(_saddle_block(x + travel_mm * px, "ghost"))
    shapes.append(_string_over(x, right, max(THINNEST, spec.string(number).gauge_mm * px)))
    y = SADDLE_TOP - 22
    for end in (x, x + travel_mm * px):
        shapes.append(Line(end, y - 5, end, SADDLE_TOP, "chord"))
    shapes += arrow(x, y, x + travel_mm * px, y, "accent")
    if not scaled:
        return shapes, SADDLE_FOOT + 12
    return [*shapes, *_scale(10, right - 34, SADDLE_FOOT + 22, px)], SADDLE_FOOT + 30


def _plate(left: float, right: float, lip: float) -> Iterable[Plain]:
    for kind in ("metal", "hatch-metal"):
        yield Rect(left, SADDLE_FOOT, right - left - 10, 12, kind)
        yield Rect(lip, SADDLE_FOOT - 36, 12, 36, kind)


def _screw(x: float, lip: float, behind: bool) -> Iterable[Plain]:
    """The screw along the plate, its spring between saddle and lip, its head outside the lip."""
    y = SADDLE_FOOT - 20
    near, head = (x + 22, lip + 12) if behind else (x - 22, lip - 10)
    face = lip if behind else lip + 12
    yield Line(x, y, lip, y, "ruling")
    yield coils((near, y, face, y), half=6, count=7)
    yield Rect(head, y - 8, 10, 16, "disc", 2)


def _saddle_block(x: float, kind: str) -> Polyline:
    """A saddle whose string breaks over it at x."""
    top, foot = SADDLE_TOP, SADDLE_FOOT - 1
    corners = (
        (x - 6, top),
        (x + 3, top),
        (x + 22, top + 16),
        (x + 22, foot),
        (x - 22, foot),
        (x - 22, top + 16),
    )
    return Polyline(corners, kind, closed=True)


def _string_over(x: float, right: float, thick: float) -> Polyline:
    """The string from the nut over the saddle and down to its anchor; its underside rests on the saddle."""
    under = ((0.0, SADDLE_TOP - 2), (x, SADDLE_TOP), (right - 12, SADDLE_FOOT - 30))
    over = tuple((px, py - thick) for px, py in reversed(under))
    return Polyline((*under, *over), "ink-fill", closed=True)


def _scale(left: float, right: float, top: float, px: float) -> Iterable[Plain]:
    """A ruler in millimetres, every fifth line longer."""
    count = int((right - left) / px)
    end = left + count * px
    lines = (f"M{left + mm * px:.1f} {top:.1f}v{7 if mm % 5 == 0 else 4}" for mm in range(count + 1))
    yield Path(f"M{left:.1f} {top:.1f}H{end:.1f}{''.join(lines)}", (left, top, end, top + 7), "thin")
    yield Text(end + 6, top + 8, "mm", "caption", "start")


def saddle_ends(
    spec: InstrumentSpec, bass_mm: float, treble_mm: float, top: float, cut_scale: float
) -> tuple[list[Plain], float]:
    """A one-piece saddle seen from the bridge's end, bass side left: what goes off (plus) or under (minus).

    The cut alone is drawn `cut_scale` times as deep. Returns the shapes and the y of their foot.
    """
    px = 300 / (spec.spacing_bridge_mm + 16)
    left, right = 30.0, 330.0
    first, last = left + 8 * px, right - 8 * px
    crown, side, foot = top + 8, top + 14, top + 8 + 10 * px
    outline = [(left, side), *_arched(left, right, side, crown), (right, side), (right, foot), (left, foot)]
    shapes: list[Plain] = [Polyline(tuple(outline), "block", closed=True)]
    for number in string_numbers(spec):
        x = first + spec.across(number) * (last - first)
        r = max(1.0, spec.string(number).gauge_mm * px / 2)
        part = (x - left) / (right - left)
        shapes.append(Circle(x, side + 4 * part * (1 - part) * (crown - side) - r, r, "ink-fill"))
    cut = [(left, foot - bass_mm * px * cut_scale), (right, foot - treble_mm * px * cut_scale)]
    band = ((left, foot), *cut, (right, foot))
    shapes += [Polyline(band, "target", closed=True), Line(*cut[0], *cut[1], "do-line")]
    return shapes, max(foot, cut[0][1], cut[1][1]) + 2


def _arched(left: float, right: float, side: float, crown: float) -> Iterable[tuple[float, float]]:
    for i in range(1, 12):
        part = i / 12
        yield left + part * (right - left), side + 4 * part * (1 - part) * (crown - side)


def claw_plan(top: float) -> tuple[list[Plain], float]:
    """The springs in the back and the two screws that hold their claw, ringed. And their foot's y."""
    foot = top + 112
    shapes: list[Plain] = [
        Rect(4, top, 176, foot - top, "body", 4),
        Rect(22, top + 10, 150, foot - top - 20, "plate", 3),
        Rect(148, top + 18, 18, foot - top - 36, "metal"),
        Rect(60, top + 20, 9, foot - top - 40, "metal", 2),
    ]
    middle = (top + foot) / 2
    springs = ((71, middle + 22 * way, 148, middle + 22 * way) for way in (-1, 0, 1))
    shapes.append(coils(*springs, half=5, count=9))
    for way in (-1, 1):
        y = middle + 11 * way
        shapes += [Line(10, y, 60, y, "ruling"), Rect(69, y - 5, 6, 10, "disc", 1), Circle(72, y, 11, "ring")]
    return shapes, foot
