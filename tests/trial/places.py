"""Places that are read, and what is true there: relief, height.2, nut.2, intonation.2.12, pickups.1.bass."""

from __future__ import annotations

from tests.trial.instrument import Instrument
from tests.trial.kinds import PICKUP_USUAL, Band

USUAL_12_CENTS, USUAL_HIGH_CENTS = (-8.0, 8.0), (-12.0, 12.0)


def truth(instrument: Instrument, slot: str) -> float | None:
    """What is true at a place, said the family's standard way; None for a name that is no such place."""
    name, *rest = slot.split(".")
    if name == "relief":
        return instrument.standard_relief
    if name == "pickups" and len(rest) == 2:
        return instrument.pickup_gap(int(rest[0]), rest[1])
    if not rest or not rest[0].isdigit():
        return None
    string = int(rest[0])
    if name == "height":
        return instrument.height(string)
    if name == "nut":
        return max(instrument.nut_gap(string), 0.0)  # the string lies on the fret
    if name == "intonation" and len(rest) == 2:
        return instrument.cents(string, instrument.kind.high_fret if rest[1] == "high" else int(rest[1]))
    return None


def usual(instrument: Instrument, slot: str) -> Band:
    """The usual band of a place that `truth` knows."""
    kind = instrument.kind
    name, *rest = slot.split(".")
    if name == "relief":
        return kind.bands.relief_usual
    if name == "height":
        return kind.bands.height(kind.across(instrument.index(int(rest[0]))), usual=True)
    if name == "nut":
        return kind.bands.nut_usual
    if name == "intonation":
        return USUAL_12_CENTS if rest[1] == "12" else USUAL_HIGH_CENTS
    return PICKUP_USUAL[kind.is_bass, kind.pickups[int(rest[0]) - 1]][0 if rest[1] == "bass" else 1]


def is_usual(instrument: Instrument, slot: str) -> bool:
    value, (low, high) = truth(instrument, slot), usual(instrument, slot)
    return value is not None and low <= value <= high


def side_out(instrument: Instrument, slot: str) -> int:
    """+1 above the usual band, -1 below it, 0 within."""
    value, (low, high) = truth(instrument, slot), usual(instrument, slot)
    assert value is not None
    return int(value > high) - int(value < low)


def outer_slots(instrument: Instrument, side: str) -> tuple[str, ...]:
    """The heights that a post answers for: the outer string on its side, both for both."""
    bass, treble = f"height.{len(instrument.strings)}", "height.1"
    return {"bass": (bass,), "treble": (treble,)}.get(side, (bass, treble))
