"""Every turn that a player may be told to make, and the edges of what may be said."""

from __future__ import annotations

from collections.abc import Iterator

from tests.setups.journals import spec_of, the_trade
from webapp.drawings.shapes import Drawing
from webapp.drawings.turning.turn import saddle_work_drawing, turn_drawing
from webapp.drawings.units import SIXTY_FOURTHS, THOU
from webapp.setups.journal import Part, Turn
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import (
    BridgeType,
    Fitting,
    PickupAdjust,
    RodAccess,
    RodNut,
    Rotation,
    ScrewHeads,
    Side,
)


def turns_of(spec: InstrumentSpec) -> Iterator[Turn]:
    """One turn of every part that this instrument has."""
    has = spec.fittings
    if Fitting.ROD in has:
        yield Turn(Part.ROD, 1)
    if Fitting.HEIGHT_SCREWS in has:
        yield Turn(Part.SADDLE_HEIGHT, -8, string=spec.string_count - 1)
    if Fitting.POSTS in has:
        yield Turn(Part.SADDLE_HEIGHT, 6, side=Side.BASS)
    if Fitting.INTONATION_SCREWS in has:
        yield Turn(Part.SADDLE_POSITION, -12, string=2)
    if Fitting.PICKUPS in has and spec.pickups[-1].adjust is not PickupAdjust.FIXED:
        yield Turn(Part.PICKUP_HEIGHT, 16, pickup=len(spec.pickups), side=Side.TREBLE)
    if Fitting.SPRINGS in has:
        yield Turn(Part.SPRINGS, 2)


def pictures() -> Iterator[tuple[str, Drawing]]:
    for kind in the_trade().kinds:
        spec = spec_of(kind)
        for turn in turns_of(spec):
            yield f"{kind}-{turn.part.value}", turn_drawing(spec, turn)
        if spec.bridge.type is BridgeType.ONE_PIECE:
            yield f"{kind}-saddle", saddle_work_drawing(spec, 0.6, -0.2)
    yield from _rods()
    yield from _bridges()
    yield from _pickups()


def _rods() -> Iterator[tuple[str, Drawing]]:
    bass, left = spec_of(), spec_of(left_handed=True)
    yield "rod-quarter", turn_drawing(bass, Turn(Part.ROD, 2), now=0.7, after=0.55)
    yield "rod-loosen", turn_drawing(bass, Turn(Part.ROD, -1), now=-0.05, after=0.05)
    yield "rod-left-handed", turn_drawing(left, Turn(Part.ROD, 1), now=0.6, after=0.54)
    other = spec_of(rod={"nut_at": RodNut.BODY, "tightens": Rotation.ANTICLOCKWISE, "key_size": "slot"})
    yield "rod-body", turn_drawing(other, Turn(Part.ROD, -2))
    off = spec_of("acoustic_6", rod={"access": RodAccess.NECK_OFF})
    yield "rod-neck-off", turn_drawing(off, Turn(Part.ROD, 1))
    yield "rod-headless", turn_drawing(spec_of(headless=True), Turn(Part.ROD, 2))


def _bridges() -> Iterator[tuple[str, Drawing]]:
    bass, posts = spec_of(), spec_of("electric_6_posts")
    for eighths in (1, -3, 8, 11, 16, -22, 40):
        turn = Turn(Part.SADDLE_HEIGHT, eighths, string=4)
        yield f"saddle{eighths:+d}", turn_drawing(bass, turn, travel_mm=abs(eighths) / 16)
    left = spec_of(left_handed=True)
    yield "saddle-left-handed", turn_drawing(left, Turn(Part.SADDLE_HEIGHT, 2, string=4))
    yield "posts-both", turn_drawing(posts, Turn(Part.SADDLE_HEIGHT, 2), travel_mm=0.2)
    yield "post-treble", turn_drawing(posts, Turn(Part.SADDLE_HEIGHT, -21, side=Side.TREBLE))
    for eighths in (-1, 2, 52, -160):
        turn = Turn(Part.SADDLE_POSITION, eighths, string=3)
        yield f"position{eighths:+d}", turn_drawing(bass, turn, travel_mm=abs(eighths) / 16)
    front = spec_of(bridge={"intonation_heads": ScrewHeads.FRONT})
    for eighths in (-6, 20):
        turn = Turn(Part.SADDLE_POSITION, eighths, string=4)
        yield f"position-front{eighths:+d}", turn_drawing(front, turn, travel_mm=1.2, units=THOU)
    yield "saddle-none", saddle_work_drawing(spec_of("classical_6"), 0.0, 1.2, units=SIXTY_FOURTHS)


def _pickups() -> Iterator[tuple[str, Drawing]]:
    for adjust in (PickupAdjust.RING, PickupAdjust.BODY):
        spec = spec_of(pickups={"adjust": adjust})
        for side, eighths, now, after in ((Side.BASS, 40, 5.0, 2.5), (Side.TREBLE, -20, 1.0, 2.2)):
            turn = Turn(Part.PICKUP_HEIGHT, eighths, pickup=1, side=side)
            name = f"pickup-{adjust.value}-{side.value}"
            yield name, turn_drawing(spec, turn, now=now, after=after, units=SIXTY_FOURTHS)
    turn = Turn(Part.PICKUP_HEIGHT, 3, pickup=1, side=Side.BASS)
    yield "pickup-left-handed", turn_drawing(spec_of(left_handed=True), turn, now=3.2, after=2.6)
