"""The truss rod's turn: the neck's end with the rod's nut, easing off first, and what the neck then does."""

from __future__ import annotations

from collections.abc import Iterable
from math import sqrt

from webapp.drawings.shapes import WIDTH, Circle, Drawing, Path, Plain, Polyline, Text, arrow, disc
from webapp.drawings.turning.dial import Dial, amount, drive_of
from webapp.drawings.units import MM, Units
from webapp.setups.journal import Part, Turn
from webapp.setups.say import Say, mixed
from webapp.setups.turn_rotation import rotation_of
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, RodAccess, RodNut, Rotation, Side

# The neck's end, mm: board past the outer strings, depth of board, of neck, of the rod's nut under the frets.
EDGE_MM, BOARD_MM, NECK_MM, NUT_DEPTH_MM = 3.5, 6.0, 22.0, 10.0
NUT_MM = 7.0
END_WIDE = 88.0
DIALS_TOP = 4.0
# Before anything is tightened it is eased off by so much, in eighths.
EASED = 1


def rod_seen_from(spec: InstrumentSpec) -> str:
    """From where the rod's nut is looked at: 'the head', 'the nut end', 'the sound hole', 'the body end'."""
    if spec.rod.nut_at is RodNut.HEADSTOCK:
        return "the nut end" if spec.headless else "the head"
    hollow = spec.bridge.type is BridgeType.ONE_PIECE and spec.rod.access is not RodAccess.NECK_OFF
    return "the sound hole" if hollow else "the body end"


def thick_is_right(spec: InstrumentSpec) -> bool:
    """Whether the thick string lies to the right as the rod's nut is looked at, strings up."""
    return (spec.rod.nut_at is RodNut.HEADSTOCK) is not spec.left_handed


def rod_drawing(
    spec: InstrumentSpec,
    eighths: int,
    *,
    now: float | None = None,
    after: float | None = None,
    units: Units = MM,
) -> Drawing:
    """The rod turned so many signed eighths; `now` and `after` are the relief in mm, where known.

    What tightens is eased off first.
    """
    if eighths > 0:
        return easing_drawing(spec, eighths, now=now, after=after, units=units)
    way = rotation_of(spec, Turn(Part.ROD, eighths))
    from_where = rod_seen_from(spec)
    dial = Dial(158, 56, 30, way, -eighths, drive_of(spec.rod.key_size))
    shapes: tuple[Plain, ...] = (
        *neck_end(spec, 46, DIALS_TOP),
        *dial.shapes(),
        Text(231, 50, amount(eighths), "do", "start"),
        Text(231, 70, way.value, "label", "start"),
    )
    told = f"Loosen the rod {Say.turns(eighths)}: {way.value}, seen from {from_where}"
    says = f"{told}. {_end_words(spec)}"
    return _with_neck(spec, shapes, 108, told, says, _straighter(eighths, now, after), now, after, units)


def easing_drawing(
    spec: InstrumentSpec,
    eighths: int,
    *,
    now: float | None = None,
    after: float | None = None,
    units: Units = MM,
) -> Drawing:
    """The rod tightened by `eighths` (more than 0): two pictures in order, eased off first, then on.

    Raises ValueError where it is not tightened.
    """
    if eighths <= 0:
        raise ValueError("only what is tightened is eased off first")
    on = rotation_of(spec, Turn(Part.ROD, eighths))
    drive = drive_of(spec.rod.key_size)
    dials = (
        (Dial(166, 56, 32, on.other, EASED, drive), on.other, f"ease off {mixed(EASED)}"),
        (Dial(294, 56, 32, on, eighths, drive, EASED), on, f"then {mixed(eighths)} on"),
    )
    shapes: list[Plain] = list(neck_end(spec, 50, DIALS_TOP))
    for number, (dial, way, text) in enumerate(dials, 1):
        shapes += dial.shapes()
        shapes += _step(number, dial.cx, text, way)
    first, then = Say.turns(EASED), Say.turns(eighths)
    told = f"Ease the rod off {first}, come back, then tighten it {then} {on.value}"
    says = (
        f"{_end_words(spec)} 1: ease off {first}, {on.other.value}, to feel that it moves. "
        f"2: come back to where it was, then go on {then}, {on.value}."
    )
    return _with_neck(
        spec, tuple(shapes), 134, told, says, _straighter(eighths, now, after), now, after, units
    )


def _step(number: int, cx: float, text: str, way: Rotation) -> Iterable[Plain]:
    yield from disc(number, cx - 55, 107, 8)
    yield Text(cx - 44, 112, text, "strong", "start")
    yield Text(cx, 129, way.value)


def _straighter(eighths: int, now: float | None, after: float | None) -> bool:
    """Whether the neck gets straighter: as forecast, else as a rod does that works as described."""
    return eighths > 0 if now is None or after is None else after < now


def _end_words(spec: InstrumentSpec) -> str:
    side = "right" if thick_is_right(spec) else "left"
    where = f"at the {spec.rod_nut_end}, seen from {rod_seen_from(spec)}"
    return f"The rod’s nut, {where}, with the thick string on the {side}."


def neck_end(spec: InstrumentSpec, cx: float, top: float) -> Iterable[Plain]:
    """The end of the neck with its strings, thick and thin side named, and the rod's nut ringed."""
    px = END_WIDE / (spec.spacing_nut_mm + 2 * EDGE_MM)
    half, board, crown = END_WIDE / 2, BOARD_MM * px, top + 34
    arc = _arc(cx, crown, half, spec.radius_nut_mm, px)
    yield Polyline((*arc, (cx + half, crown + board), (cx - half, crown + board)), "board", closed=True)
    foot = max(crown + NECK_MM * px, crown + board + 20)
    mid, sides_y, inner = crown + board, foot + 4, 0.4 * half
    d = (
        f"M{cx - half:.1f} {mid:.1f}C{cx - half:.1f} {sides_y:.1f} {cx - inner:.1f} {foot:.1f} "
        f"{cx:.1f} {foot:.1f}S{cx + half:.1f} {sides_y:.1f} {cx + half:.1f} {mid:.1f}Z"
    )
    yield Path(d, (cx - half, mid, cx + half, foot + 2), "wood")
    yield from _end_strings(spec, cx, crown, px, thick_is_right(spec))
    nut = crown + NUT_DEPTH_MM * px
    yield Circle(cx, nut, NUT_MM / 2 * px, "metal")
    yield Circle(cx, nut, NUT_MM / 2 * px + 4, "ring")
    sides = [Side.TREBLE, Side.BASS] if thick_is_right(spec) else [Side.BASS, Side.TREBLE]
    for side, x, anchor in zip(sides, (cx - half, cx + half), ("start", "end"), strict=True):
        yield Text(x, crown - 18, "thick" if side is Side.BASS else "thin", "caption", anchor)


def _arc(
    cx: float, crown: float, half: float, radius_mm: float | None, px: float
) -> tuple[tuple[float, float], ...]:
    if radius_mm is None:
        return (cx - half, crown), (cx + half, crown)
    r = radius_mm * px
    xs = [half * (i / 6 - 1) for i in range(13)]
    return tuple((cx + x, crown + r - sqrt(r * r - x * x)) for x in xs)


def _end_strings(
    spec: InstrumentSpec, cx: float, crown: float, px: float, thick_right: bool
) -> Iterable[Plain]:
    count = spec.string_count
    for index, string in enumerate(spec.strings):
        across = index / (count - 1) - 0.5
        x = cx + (-across if thick_right else across) * spec.spacing_nut_mm * px
        r = max(0.8, string.gauge_mm * px / 2)
        yield Circle(x, crown - 3 - r + 2 * abs(across), r, "block")


def _with_neck(
    spec: InstrumentSpec, shapes: tuple[Plain, ...], top: float, title: str, says: str, straighter: bool,
    now: float | None, after: float | None, units: Units,
) -> Drawing:  # fmt: skip
    """What stands above, with the neck before and after, and from where the nut is seen."""
    word = "straighter" if straighter else "more bow"
    relief = ""
    if now is not None and after is not None:
        relief = f": relief {units.full(now)} now, about {units.full(after)} after"
    before, then = (9.0, 4.0) if straighter else (2.0, 7.0)
    if now is not None and now < 0:
        before, then = (-2.0, -6.0) if straighter else (-5.0, 0.0)
    y = top + 12
    neck: list[Plain] = [*_bow(8, y, before), *_bow(250, y, then)]
    neck += [Text(180, y + 2, word, "do"), *arrow(122, y + 10, 238, y + 10, "accent")]
    foot = y + 32
    neck.append(Text(180, foot, f"seen from {rod_seen_from(spec)}", "caption"))
    return Drawing(WIDTH, foot + 6, (*shapes, *neck), title, f"{says} The neck gets {word}{relief}.")


def _bow(x: float, y: float, sag: float) -> tuple[Plain, ...]:
    """A string, level, over a neck that dips (or humps, where below 0): the way it goes, not how much."""
    low = y + 5
    d = f"M{x:.1f} {low:.1f}Q{x + 51:.1f} {low + 2 * sag:.1f} {x + 102:.1f} {low:.1f}"
    box = (x, min(low, low + sag), x + 102, max(low, low + sag))
    return Polyline(((x, y - 3), (x + 102, y - 3)), "thin"), Path(d, box, "ruling")
