"""Turns in words and as the journal keeps them."""

from __future__ import annotations

from webapp.setups.journal import Part, Turn
from webapp.setups.say import Say

# What plus and minus mean for each part, in the words of the bench.
VERBS: dict[Part, tuple[str, str]] = {
    Part.ROD: ("Tightened", "Loosened"),
    Part.SADDLE_HEIGHT: ("Raised", "Lowered"),
    Part.SADDLE_POSITION: ("Moved back", "Moved toward the nut"),
    Part.PICKUP_HEIGHT: ("Raised", "Lowered"),
    Part.SPRINGS: ("Tightened", "Loosened"),
}


def turn_detail(turn: Turn) -> dict[str, object]:
    """A turn as the journal keeps it."""
    detail: dict[str, object] = {"part": turn.part.value, "eighths": turn.eighths}
    if turn.string is not None:
        detail["string"] = turn.string
    if turn.pickup is not None:
        detail["pickup"] = turn.pickup
    if turn.side is not None:
        detail["side"] = turn.side.value
    return detail


def turn_words(say: Say, turn: Turn) -> str:
    """'Tightened an eighth of a turn'; without eighths, what was done."""
    if turn.part in VERBS and turn.eighths:
        return f"{VERBS[turn.part][0 if turn.eighths > 0 else 1]} {say.turns(turn.eighths)}"
    return {Part.STRINGS: "Strings changed", Part.NUT: "Nut slot worked on"}.get(turn.part, "Worked on")
