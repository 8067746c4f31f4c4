"""Where something is on the instrument: the portrait with one place ringed and named."""

from __future__ import annotations

from math import hypot

from webapp.drawings.portrait.outline import Place
from webapp.drawings.portrait.portrait import Portrait, described, lying
from webapp.drawings.shapes import (
    GROWN,
    TEXT_SIZE,
    WIDTH,
    Circle,
    Drawing,
    Line,
    Path,
    Plain,
    Shape,
    Text,
    kind_width,
)
from webapp.drawings.units import MM, Units, long_length
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import RodNut

RING = 11.0
EYE_ROOM = 28.0  # paper before the head, for the eye that looks along the rod
EYE_AWAY = 52.0  # from the rod's nut to an eye over the body
TALL = TEXT_SIZE["do"] * GROWN


def whereabouts(spec: InstrumentSpec, place: str, label: str, *, units: Units = MM) -> Drawing:
    """The instrument lying with `place` (see `Portrait.point`) ringed and named.

    At the rod's nut an eye shows from where to look. Raises KeyError where there is no such place.
    """
    eye_at_head = place == "rod" and spec.rod.nut_at is RodNut.HEADSTOCK
    left = EYE_ROOM if eye_at_head else 0.0
    flat = lying(spec, WIDTH - left)
    wide = kind_width(label, "do")
    room = _over_the_neck(flat) + left
    above = 0.0 if room >= wide else TALL + 4.0
    whole = flat.moved(left, above)
    point = whole.point(place)
    middle = min(max(point[0], wide / 2 + 1.0), (WIDTH if above else room) - wide / 2)
    foot = min(max(point[0], middle - wide / 3), middle + wide / 3), TALL + 1.0
    shapes: list[Shape] = [*whole.shapes]
    if place == "rod":
        eye = (EYE_ROOM / 2, point[1]) if eye_at_head else (point[0] + EYE_AWAY, point[1])
        shapes += _eye(eye, point, eye_at_head)
    shapes += [Circle(*point, RING, "ring"), _to_ring(foot, point), Text(middle, 0.8 * TALL, label, "do")]
    words = described(spec, units, "lying, head left")
    words += f" Ringed: {label}, {_said(whole, place, units)}."
    return Drawing(WIDTH, whole.height + above, tuple(shapes), f"Where to find it: {label}", words)


def _over_the_neck(whole: Portrait) -> float:
    """How far right a label at the top may reach before the body begins."""
    return min(x for x, y in whole.body_points() if y < TALL + 8.0) - 4.0


def _to_ring(start: Place, middle: Place) -> Line:
    """The leader from the label to the ring's edge."""
    dx, dy = start[0] - middle[0], start[1] - middle[1]
    part = RING / max(RING, hypot(dx, dy))
    return Line(*start, middle[0] + dx * part, middle[1] + dy * part, "leader-accent")


def _eye(eye: Place, point: Place, at_head: bool) -> list[Plain]:
    """An eye, and the line along which it looks."""
    x, y = round(eye[0], 1), round(eye[1], 1)
    start, end = (x + 12.0, point[0] - RING) if at_head else (x - 15.0, point[0] + RING)
    almond = f"M{x - 10:g} {y:g}Q{x:g} {y - 10:g} {x + 10:g} {y:g}Q{x:g} {y + 10:g} {x - 10:g} {y:g}z"
    back: list[Plain] = [] if at_head else [Circle(x, y, 14.0, "plate")]
    return [
        *back,
        Path(almond, (x - 10, y - 5, x + 10, y + 5), "outline"),
        Circle(x, y, 2.6, "ink-fill"),
        Line(start, y, end, y, "sight"),
    ]


def _said(whole: Portrait, place: str, units: Units) -> str:
    spec = whole.outline.spec
    if place == "rod":
        return f"at the {spec.rod_nut_end}; look at it from there along the neck"
    along = whole.along(place)
    if abs(along) < 0.5:
        return "at the nut"
    return f"{long_length(abs(along), units)} {'behind' if along > 0 else 'before'} the nut"
