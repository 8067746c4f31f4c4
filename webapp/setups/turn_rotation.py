"""Which way round the hand goes: the one rule from a signed turn to clockwise or not."""

from __future__ import annotations

from webapp.setups.journal import Part, Turn
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import PickupAdjust, Rotation, ScrewHeads


def rotation_of(spec: InstrumentSpec, turn: Turn) -> Rotation:
    """The way to turn, seen looking straight at the head of the screw or at the rod's nut.

    Raises ValueError for a part that no screw moves, and for a turn of no eighths.
    """
    if not turn.eighths:
        raise ValueError("a turn of nothing goes neither way")
    plus = _plus(spec, turn)
    return plus if turn.eighths > 0 else plus.other


def _plus(spec: InstrumentSpec, turn: Turn) -> Rotation:
    """The way that tightens the rod or the springs, raises, or moves a saddle back."""
    if turn.part is Part.ROD:
        return spec.rod.tightens
    if turn.part is Part.SADDLE_HEIGHT:
        # A saddle climbs its own screw as that is driven down; a post is screwed out of the body.
        return _clockwise(turn.string is not None)
    if turn.part is Part.SADDLE_POSITION:
        # Clockwise draws the saddle to the screw's head, wherever that is.
        return _clockwise(spec.bridge.intonation_heads is ScrewHeads.BEHIND)
    if turn.part is Part.PICKUP_HEIGHT and turn.pickup is not None:
        return _clockwise(spec.pickups[turn.pickup - 1].adjust is PickupAdjust.RING)
    if turn.part is Part.SPRINGS:
        return Rotation.CLOCKWISE
    raise ValueError(f"no screw turns for {turn.part.value}")


def _clockwise(yes: bool) -> Rotation:
    return Rotation.CLOCKWISE if yes else Rotation.ANTICLOCKWISE
