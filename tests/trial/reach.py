"""What can be had of an instrument at all by turning what turns; asked of the truth before anybody starts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.trial.generator import cents_per_mm
from tests.trial.instrument import Instrument
from tests.trial.places import is_usual, usual

PASS_EIGHTHS = 8
NUT_DOUBT_MM = 0.05  # nearer than this to the edge of its band, a nut's gap may be taken for either
_GRID = np.linspace(-2.5, 2.5, 101)


@dataclass(frozen=True)
class Reach:
    """`rod`: its relief comes into the usual band within eight eighths; `rod_later`: within sixteen.

    `rod_works` is false of a rod that is stuck, slack or reversed. `heights`, `cents`: the bridge can do it.
    """

    rod: bool
    rod_later: bool
    rod_works: bool
    heights: bool
    cents: bool
    adjustable: bool

    @property
    def all(self) -> bool:
        return self.rod and self.heights and self.cents and self.adjustable


def reach_of(instrument: Instrument) -> Reach:
    bridge = instrument.bridge.kind
    return Reach(
        rod=_rod_reaches(instrument, PASS_EIGHTHS),
        rod_later=_rod_reaches(instrument, 2 * PASS_EIGHTHS),
        rod_works=instrument.rod.works,
        heights=bridge == "saddles" or bar_can_fit(instrument),
        cents=all(saddle_can_fit(instrument, string) for string in instrument.strings),
        adjustable=bridge != "one_piece",
    )


def _rod_reaches(instrument: Instrument, eighths: int) -> bool:
    low, high = instrument.kind.bands.relief_usual
    relief, rod = instrument.standard_relief, instrument.rod
    if low <= relief <= high:
        return True
    if not rod.works:
        return False
    tighten = relief > high
    away = relief - high if tighten else low - relief
    lost = rod.play - rod.slack if tighten else rod.slack
    return away / rod.response_mm + lost <= min(eighths, rod.room(1.0 if tighten else -1.0))


def bar_can_fit(instrument: Instrument) -> bool:
    """Whether some height and tilt of the bar brings every string into its usual band."""
    kind, bridge = instrument.kind, instrument.bridge
    if bridge.kind != "posts":
        return False
    strings = list(instrument.strings)[::-1]
    now = np.array([instrument.height(string) for string in strings])
    bands = np.array([kind.bands.height(kind.across(i), usual=True) for i in range(len(strings))])
    common, tilt = _GRID[:, None, None], _GRID[None, :, None]
    there = now + common + tilt * np.linspace(-1.0, 1.0, len(strings))
    return bool(((there >= bands[:, 0]) & (there <= bands[:, 1])).all(axis=2).any())


def saddle_can_fit(instrument: Instrument, string: int) -> bool:
    """Whether the saddle has room to bring its 12th into the usual band."""
    bridge, index = instrument.bridge, instrument.index(string)
    if bridge.back_pitch_mm == 0.0:
        return is_usual(instrument, f"intonation.{string}.12")
    cents = instrument.cents(string, 12)
    room = bridge.room_back_mm[index] if cents > 0 else bridge.room_forward_mm[index]
    return bool(abs(cents) - 5.0 <= max(room, 0.0) * cents_per_mm(instrument.kind, 12))


def is_false_repairer(instrument: Instrument, slot: str, at_start: Reach) -> bool:
    """Whether a repairer is named for what is right, or for what the player's own hands could put right."""
    name, *rest = slot.split(".")
    string = int(rest[0]) if rest and rest[0].isdigit() else None
    faulty = instrument.high_fret is not None or bool(instrument.loose_notes)
    if name in ("relief", "rod"):
        return at_start.rod
    if name == "height":
        return not faulty and _heights_need_nobody(instrument, string)
    if name == "intonation" and string:
        return saddle_can_fit(instrument, string) and _both_fit(instrument, string)
    if name == "nut" and string:
        low, high = usual(instrument, slot)
        rattles = (string, 0) in instrument.rattles()
        return not rattles and low + NUT_DOUBT_MM <= instrument.nut_gap(string) <= high - NUT_DOUBT_MM
    return name == "pickups" or not (faulty or instrument.rattles())


def _heights_need_nobody(instrument: Instrument, string: int | None) -> bool:
    """A string's height, or all of them: right as they are, or the player's own to turn.

    A string on its own saddle that rattles though it stands high has a fret to blame.
    """
    kind = instrument.kind
    strings = [string] if string else list(instrument.strings)
    if instrument.bridge.kind == "saddles":
        rattling = {rattler for rattler, _ in instrument.rattles()}
        middle = {
            s: float(np.mean(kind.bands.height(kind.across(instrument.index(s)), False))) for s in strings
        }
        return not any(s in rattling and instrument.height(s) > middle[s] for s in strings)
    return all(is_usual(instrument, f"height.{s}") for s in strings) or bar_can_fit(instrument)


def _both_fit(instrument: Instrument, string: int) -> bool:
    """Whether the 12th and the high fret could be usual together, the saddle moved as well as can be."""
    kind = instrument.kind
    at_12, high = instrument.cents(string, 12), instrument.cents(string, kind.high_fret)
    left = high - at_12 * cents_per_mm(kind, kind.high_fret) / cents_per_mm(kind, 12)
    return abs(left) <= 12.0
