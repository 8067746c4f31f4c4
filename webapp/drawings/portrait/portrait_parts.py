"""How an outline in millimetres is inked: body, head, board, pickups, bridge and strings, few paths each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from webapp.drawings.portrait.outline import (
    BOARD_EDGE_MM,
    DOTS,
    Build,
    Outline,
    Place,
    Points,
    curve,
    is_bass,
)
from webapp.drawings.shapes import Path, Plain
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, RodAccess

# A string is too thin to be drawn as thick as it is; thicker ones are drawn with the thicker pens.
WIRES = ((1.9, "wire-thick"), (0.9, "wire"), (0.0, "wire-thin"))
PAIRED = "wire-fine"


@dataclass(frozen=True)
class View:
    """Millimetres to units: the nut's middle at x, y; head left (lying) or up (standing); or mirrored.

    Lying, the bass side is at the foot; standing, at the left.
    """

    per_mm: float
    x: float
    y: float
    standing: bool = False
    left_handed: bool = False

    def at(self, place: Place) -> Place:
        along = place[0] * self.per_mm
        across = place[1] * self.per_mm * (-1 if self.left_handed else 1)
        return (self.x + across, self.y + along) if self.standing else (self.x + along, self.y - across)


class Pen:
    """Writes one path from places in mm: in steps from point to point, whole tenths of a unit each."""

    def __init__(self, view: View) -> None:
        self.view = view
        self.steps: list[str] = []
        self.places: list[Place] = []
        self.here = (0, 0)

    def _tenths(self, place: Place) -> tuple[int, int]:
        x, y = self.view.at(place)
        self.places.append((x, y))
        return round(10 * x), round(10 * y)

    def _start(self, place: Place) -> None:
        self.here = self._tenths(place)
        self.steps.append("M" + _numbers(*self.here))

    def _step(self, letter: str, *places: Place) -> None:
        """One step over these places to the last of them."""
        to = [self._tenths(place) for place in places]
        steps = [part for x, y in to for part in (x - self.here[0], y - self.here[1])]
        self.here = to[-1]
        if letter == "l" and 0 in steps:
            level = steps[1] == 0
            self.steps.append(f"{'h' if level else 'v'}{_numbers(steps[0] if level else steps[1])}")
        else:
            self.steps.append(letter + _numbers(*steps))

    def line(self, points: Iterable[Place], closed: bool = False) -> Pen:
        first, *rest = points
        self._start(first)
        for point in rest:
            self._step("l", point)
        self.steps.append("z" if closed else "")
        return self

    def smooth(self, corners: Sequence[Place]) -> Pen:
        """The closed smooth curve through the corners."""
        self._start(corners[0])
        for piece in curve(corners):
            self._step("c", *piece)
        self.steps.append("z")
        return self

    def rounded(self, corners: Sequence[Place], radius_mm: float) -> Pen:
        """A closed polygon with its corners rounded off."""
        for i, corner in enumerate(corners):
            before, after = corners[i - 1], corners[(i + 1) % len(corners)]
            start, end = _towards(corner, before, radius_mm), _towards(corner, after, radius_mm)
            if i:
                self._step("l", start)
            else:
                self._start(start)
            self._step("q", corner, end)
        self.steps.append("z")
        return self

    def circle(self, middle: Place, radius: float) -> Pen:
        """A circle; its radius in units, not in mm."""
        x, y = self.view.at(middle)
        self.places += [(x - radius, y - radius), (x + radius, y + radius)]
        r = round(10 * radius)
        arc, across = f"a{_numbers(r, r)} 0 1 0 ", _numbers(2 * r)
        self.steps.append(f"M{_numbers(round(10 * x) - r, round(10 * y))}{arc}{across} 0{arc}-{across} 0")
        return self

    def path(self, kind: str) -> Path:
        xs, ys = [p[0] for p in self.places], [p[1] for p in self.places]
        return Path("".join(self.steps), (min(xs), min(ys), max(xs), max(ys)), kind)


def _numbers(*tenths: int) -> str:
    """Numbers as short as a path may write them: 12, -5, 100 are "1.2-.5 10"."""
    text = ""
    for value in tenths:
        whole, tenth = divmod(abs(value), 10)
        digits = (str(whole) if whole or not tenth else "") + (f".{tenth}" if tenth else "")
        text += ("-" if value < 0 else " " if text else "") + digits
    return text


def _towards(corner: Place, other: Place, distance: float) -> Place:
    """A place on the way to the other corner, at most half way."""
    dx, dy = other[0] - corner[0], other[1] - corner[1]
    length = (dx * dx + dy * dy) ** 0.5
    part = min(0.5, distance / length) if length else 0.0
    return corner[0] + dx * part, corner[1] + dy * part


def inked(outline: Outline, view: View) -> tuple[Plain, ...]:
    """The whole instrument, from the body up to the strings."""
    return _inked(outline.spec.nameless_json(), view)


# A class has the same instrument many times over, and a setup shows it again and again.
@lru_cache(maxsize=64)
def _inked(spec_json: str, view: View) -> tuple[Plain, ...]:
    outline = Outline(InstrumentSpec.model_validate_json(spec_json))
    return (
        *_body(outline, view),
        *_head(outline, view),
        *_board(outline, view),
        *_pickups(outline, view),
        *_bridge(outline, view),
        *_strings(outline, view),
    )


def _body(outline: Outline, view: View) -> list[Plain]:
    shapes: list[Plain] = [Pen(view).smooth(outline.body()).path("body")]
    inside = 9.0 if outline.is_solid else 6.0
    shapes.append(Pen(view).smooth(outline.body(inside)).path("faint"))
    if outline.hole is not None:
        along, radius = outline.hole
        units = radius * view.per_mm
        shapes.append(Pen(view).circle((along, 0.0), units * 1.22).path("faint"))
        shapes.append(Pen(view).circle((along, 0.0), units).path("hole"))
    return shapes


def _head(outline: Outline, view: View) -> list[Plain]:
    tuners = outline.tuners()
    shapes: list[Plain] = []
    if tuners:
        buttons = Pen(view)
        for _, post, button in tuners:
            buttons.line((post, button))
            buttons.circle(button, (6.5 if is_bass(outline.spec) else 4.6) * view.per_mm)
        shapes.append(buttons.path("metal"))
    shapes.append(Pen(view).rounded(outline.head, 8.0).path("wood"))
    if slots := outline.slots():
        pen = Pen(view)
        for slot in slots:
            pen.rounded(slot, 6.0)
        shapes.append(pen.path("plate-ink"))
    return shapes


def _board(outline: Outline, view: View) -> list[Plain]:
    spec = outline.spec
    frets, dots = Pen(view), Pen(view)
    for fret in range(1, spec.fret_count + 1):
        frets.line(outline.on_line(fret, BOARD_EDGE_MM))
    shapes: list[Plain] = [Pen(view).line(outline.board, True).path("neck"), frets.path("thin")]
    if outline.build is not Build.CLASSICAL:
        for fret in (f for f in DOTS if f <= spec.fret_count):
            along = (outline.along(fret - 1) + outline.along(fret)) / 2
            off = outline.spread(along) / 4 if fret % 12 == 0 else 0.0
            for across in {-off, off}:
                dots.circle((along, across), max(0.9, 2.6 * view.per_mm))
        shapes.append(dots.path("ink-fill"))
    nut = outline.on_line(0, BOARD_EDGE_MM)
    shapes.append(Pen(view).line(nut).path("ruling"))
    return shapes + _rod(outline, view)


def _rod(outline: Outline, view: View) -> list[Plain]:
    """The rod's nut in its channel, or the cover over it."""
    place = outline.rod_nut
    if place is None or outline.spec.rod.access is RodAccess.NECK_OFF:
        return []
    along, across = place
    half, long = (6.0, 11.0) if outline.spec.rod.access is RodAccess.COVER else (3.2, 7.0)
    corners = ((along - long, -half), (along - long, half), (along + long, half), (along + long, -half))
    channel = Pen(view).rounded(tuple((a, b + across) for a, b in corners), half).path("plate-ink")
    if outline.spec.rod.access is RodAccess.COVER:
        return [channel]
    return [channel, Pen(view).circle(place, max(1.0, 2.4 * view.per_mm)).path("ink-fill")]


def _pickups(outline: Outline, view: View) -> list[Plain]:
    if not outline.spec.pickups:
        return []
    pen = Pen(view)
    for pickup in outline.spec.pickups:
        for part in outline.pickup_parts(pickup):
            pen.rounded(part, 5.0)
    return [pen.path("metal")]


def _bridge(outline: Outline, view: View) -> list[Plain]:
    kind = outline.spec.bridge.type
    if kind is BridgeType.ONE_PIECE:
        return _one_piece(outline, view)
    plate = Pen(view)
    if kind is BridgeType.TWO_POST:
        assert outline.posts is not None
        edge = outline.posts[1][1] - outline.spread(outline.saddle()) / 2
        plate.rounded(outline.bar(2.0, 15.0, edge + 5.0), 6.0)
        plate.rounded(outline.bar(42.0, 14.0, edge + 8.0), 6.0)
    else:
        front, back = (
            (-22.0, 18.0)
            if kind is BridgeType.FLOATING
            else (-12.0, outline.anchor(0)[0] - outline.saddle(0) + 5.0)
        )
        edge = 6.0 if kind is BridgeType.INDIVIDUAL else 12.0
        plate.rounded(outline.bar((front + back) / 2, back - front, edge), 4.0)
    shapes: list[Plain] = [plate.path("metal"), _saddles(outline, view)]
    if outline.posts is not None:
        posts = Pen(view)
        for post in outline.posts:
            posts.circle(post, max(1.8, 4.5 * view.per_mm))
        shapes.append(posts.path("plate-ink"))
    if outline.spec.headless:
        shapes.append(_tail_tuners(outline, view))
    return shapes


def _saddles(outline: Outline, view: View) -> Path:
    spec, pen = outline.spec, Pen(view)
    if spec.bridge.type is BridgeType.TWO_POST:
        long, front = 5.0, -3.0
    else:
        long, front = (18.0, -3.0) if is_bass(spec) else (13.0, -3.0)
    room = spec.spacing_bridge_mm / (spec.string_count - 1)
    half = min(7.0 if is_bass(spec) else 4.5, 0.4 * room)
    for index in range(spec.string_count):
        along, across = (
            outline.saddle(index / (spec.string_count - 1)),
            outline.string_across(index, outline.scale_mm),
        )
        corners = ((front, -half), (front, half), (front + long, half), (front + long, -half))
        pen.line([(along + a, across + b) for a, b in corners], True)
    return pen.path("saddle")


def _tail_tuners(outline: Outline, view: View) -> Path:
    """Without a head, the strings are tuned behind the bridge."""
    pen = Pen(view)
    for index in range(outline.spec.string_count):
        along, across = outline.anchor(index)
        pen.line([(along + a, across + b) for a, b in ((6, -3.4), (6, 3.4), (24, 3.4), (24, -3.4))], True)
    return pen.path("metal")


def _one_piece(outline: Outline, view: View) -> list[Plain]:
    classical = outline.build is Build.CLASSICAL
    shapes: list[Plain] = [
        Pen(view).rounded(outline.bar(7.0, 29.0, 60.0 if classical else 46.0), 8.0).path("board"),
        Pen(view).line(outline.bar(0.0, 3.0, 6.0), True).path("saddle"),
    ]
    if classical:
        return [*shapes, Pen(view).line(outline.bar(13.0, 11.0, 6.0), True).path("saddle")]
    pins = Pen(view)
    for index in range(outline.spec.string_count):
        pins.circle(outline.anchor(index), max(0.9, 2.6 * view.per_mm))
    return [*shapes, pins.path("plate-ink")]


def _strings(outline: Outline, view: View) -> list[Plain]:
    """From post to nut to saddle and behind it; the two of a course side by side."""
    spec = outline.spec
    pens: dict[str, Pen] = {}
    posts = Pen(view)
    for index, way in _ways(outline):
        gauge = spec.strings[index].gauge_mm
        wire = (
            PAIRED if spec.strings[index].partner else next(kind for least, kind in WIRES if gauge >= least)
        )
        pens.setdefault(wire, Pen(view)).line(way)
        posts.circle(way[0], max(1.1, (4.0 if is_bass(spec) else 2.8) * view.per_mm))
    shapes: list[Plain] = [pen.path(wire) for wire, pen in pens.items()]
    return shapes if outline.build is Build.CLASSICAL else [*shapes, posts.path("plate-ink")]


def _ways(outline: Outline) -> list[tuple[int, Points]]:
    """Every string's index and its way over the nut and the saddle."""
    spec = outline.spec
    ends = [(index, post) for index, post, _ in outline.tuners()]
    if spec.headless:
        ends = [
            (i, (outline.along(0, i / (spec.string_count - 1)) - 14.0, outline.string_across(i, 0.0)))
            for i in range(spec.string_count)
        ]
    seen: dict[int, int] = {}
    ways: list[tuple[int, Points]] = []
    for index, end in ends:
        number = seen[index] = seen.get(index, -1) + 1
        apart = 0.0 if len(spec.strings[index].course) == 1 else 1.1 * (2 * number - 1)
        part = index / (spec.string_count - 1)
        nut, saddle = outline.along(0, part), outline.saddle(part)
        anchor = outline.anchor(index)
        ways.append(
            (
                index,
                (
                    end,
                    (nut, outline.string_across(index, nut) + apart),
                    (saddle, outline.string_across(index, saddle) + apart),
                    (anchor[0], anchor[1] + apart),
                ),
            )
        )
    return ways
