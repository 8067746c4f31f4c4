"""The instrument from the front, to scale, from its own description; and what is shown on it.

`lying` (head left) and `standing` (head up) give the bare portrait with its places, for other drawings to
build on; `portrait` is a finished drawing.  The thick string is at the foot, or at the left; a left-handed
instrument is the mirror image of that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from webapp.drawings.marks import mark
from webapp.drawings.portrait.outline import Outline, Place, curve
from webapp.drawings.portrait.portrait_parts import View, inked
from webapp.drawings.shapes import WIDTH, Circle, Drawing, LinkedShape, Plain, Shape, leader, place_row
from webapp.drawings.units import MM, Units, long_length
from webapp.setups.description import scale_words
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType

PAD = 2.0  # units of paper round the instrument
MARK = 8.0  # half a mark
PLATE = 11.0  # the paper disc that carries it
FINGER = 22.0  # half of what a finger hits


@dataclass(frozen=True)
class Portrait:
    """The inked instrument in a frame, and where on it things are."""

    shapes: tuple[Plain, ...]
    width: float
    height: float
    outline: Outline
    view: View

    def point(self, place: str) -> Place:
        """Where a place is, in units.

        Places: "head", "strings", "rod", "nut", "nut.2" (string 2; 1 = thinnest), "relief", "fret.5",
        "height", "joint", "saddle", "saddle.2", "post.bass", "pickup.neck", "pickup.neck.treble".

        Raises KeyError where this instrument has no such place.
        """
        return self.view.at(_place(self.outline, place))

    def along(self, place: str) -> float:
        """How far behind the nut a place is, in mm; minus: before it."""
        return _place(self.outline, place)[0]

    def moved(self, x: float, y: float) -> Portrait:
        """The same, that much further right and down."""
        view = replace(self.view, x=self.view.x + x, y=self.view.y + y)
        return replace(self, shapes=inked(self.outline, view), view=view)

    def body_points(self) -> list[Place]:
        """The outline of the body, in units."""
        return [self.view.at(end) for _, _, end in curve(self.outline.body())]


def _place(outline: Outline, place: str) -> Place:
    name, _, rest = place.partition(".")
    middle = {
        "head": -0.5 * outline.head_length, "strings": -0.62 * outline.head_length, "nut": outline.along(0),
        "relief": outline.along(7), "height": outline.along(12), "joint": outline.joint,
        "saddle": outline.saddle(),
    }  # fmt: skip
    if not rest and name in middle:
        return middle[name], 0.0
    if name == "fret":
        return outline.along(int(rest)), 0.0
    if name in ("nut", "saddle"):
        return _string_place(outline, name, int(rest))
    if name == "rod" and outline.rod_nut is not None:
        return outline.rod_nut
    if name == "post" and outline.posts is not None:
        return outline.posts[("bass", "treble").index(rest)]
    if name == "pickup":
        return _pickup_place(outline, place)
    raise KeyError(place)


def _string_place(outline: Outline, name: str, number: int) -> Place:
    part = outline.spec.across(number)
    along = outline.along(0, part) if name == "nut" else outline.saddle(part)
    return along, outline.string_across(outline.spec.index_of(number), along)


def _pickup_place(outline: Outline, place: str) -> Place:
    _, position, *side = place.split(".")
    for pickup in outline.spec.pickups:
        if pickup.position == position:
            bass, treble = (outline.pickup_end(pickup, end) for end in ("bass", "treble"))
            if side:
                return bass if side[0] == "bass" else treble
            return (bass[0] + treble[0]) / 2, (bass[1] + treble[1]) / 2
    raise KeyError(place)


def _framed(spec: InstrumentSpec, per_mm: float | None, room: float, standing: bool) -> Portrait:
    """At a scale, or as large as the room along it allows."""
    outline = Outline(spec)
    start, end, half = outline.extent
    scale = per_mm or (room - 2 * PAD) / (end - start)
    long, wide = (end - start) * scale + 2 * PAD, 2 * half * scale + 2 * PAD
    nut = PAD - start * scale
    view = View(
        scale, wide / 2 if standing else nut, nut if standing else wide / 2, standing, spec.left_handed
    )
    width, height = (wide, long) if standing else (long, wide)
    return Portrait(inked(outline, view), width, height, outline, view)


def lying(spec: InstrumentSpec, width: float = WIDTH, *, per_mm: float | None = None) -> Portrait:
    """Head left, the thick string at the foot: `width` units long, or at `per_mm` units per millimetre."""
    return _framed(spec, per_mm, width, False)


def standing(spec: InstrumentSpec, height: float = 540.0, *, per_mm: float | None = None) -> Portrait:
    """Head up, the thick string at the left: `height` units high, or at `per_mm` units per millimetre."""
    return _framed(spec, per_mm, height, True)


@dataclass(frozen=True)
class PlaceMark:
    """A verdict (a `Word`, or `marks.REPAIRER`) at a place; `label` says it in words, `href` leads there."""

    place: str
    word: str
    label: str
    href: str = ""


def units_per_mm(specs: Sequence[InstrumentSpec], width: float = WIDTH) -> float:
    """The one scale at which the longest of these instruments just fits."""
    return min((lying(spec, width).view.per_mm for spec in specs), default=1.0)


def portrait(
    spec: InstrumentSpec,
    marks: Sequence[PlaceMark] = (),
    scale_mm_per_unit: float | None = None,
    *,
    units: Units = MM,
) -> Drawing:
    """The instrument lying, with marks of verdicts at their places.

    `scale_mm_per_unit` (see `units_per_mm`) draws all instruments of a page to one scale.
    """
    per_mm = 1 / scale_mm_per_unit if scale_mm_per_unit else None
    whole = lying(spec, per_mm=per_mm)
    points = {m: whole.point(m.place) for m in marks}
    ordered = sorted(marks, key=lambda m: points[m])
    room = [2 * PLATE] * len(ordered)
    across = place_row([points[m][0] for m in ordered], room, 1.0, WIDTH - 1.0, 2.0)
    shapes: list[Shape] = [*whole.shapes]
    for m, x in zip(ordered, across, strict=True):
        at, middle = points[m], (x, points[m][1])
        if abs(at[0] - x) > PLATE:
            shapes.append(leader(at, middle))
        plate = (Circle(*middle, PLATE, "plate"), *mark(m.word, *middle, MARK))
        hit = Circle(*middle, FINGER, "hit")
        shapes += [LinkedShape(m.href, m.label, (hit, *plate))] if m.href else plate
    said = [f"{m.label}." for m in ordered]
    words = " ".join([described(spec, units, "lying, head left"), *said])
    return Drawing(WIDTH, whole.height, tuple(shapes), f"{spec.name} from the front, to scale", words)


def described(spec: InstrumentSpec, units: Units, how: str) -> str:
    """The numbers that a portrait is drawn from."""
    outline = Outline(spec)
    paired = any(string.partner for string in spec.strings)
    strings = f"{spec.string_count} {'pairs of strings' if paired else 'strings'}"
    spread = [long_length(mm, units) for mm in (spec.spacing_nut_mm, spec.spacing_bridge_mm)]
    parts = [
        f"{'A left-handed' if spec.left_handed else 'A'} {outline.build.value} from the front, {how}"
        f"{', without a headstock' if spec.headless else ''}.",
        f"Scale {scale_words(spec)}; {spec.fret_count} frets, "
        f"the neck meets the body at fret {spec.joint_fret}.",
        f"{strings}, outer to outer {spread[0]} at the nut and {spread[1]} at the bridge: "
        f"{_BRIDGES[spec.bridge.type]}.",
    ]
    if spec.pickups:
        parts.append(f"Pickups: {', '.join(pickup.position.value for pickup in spec.pickups)}.")
    return " ".join(parts)


_BRIDGES = {
    BridgeType.INDIVIDUAL: "a saddle for each string",
    BridgeType.TWO_POST: "a bridge on two posts",
    BridgeType.ONE_PIECE: "a one-piece saddle",
    BridgeType.FLOATING: "a floating bridge on two posts",
}
