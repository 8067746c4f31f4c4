"""What can be read on one instrument: a slot is one place where a gauge, a ruler or a tuner goes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, Check, Side

_KEY = re.compile(
    r"(?:(?P<relief>relief)"
    r"|(?P<level>height\.level)"
    r"|(?P<per_string>height|nut)\.(?P<string>\d{1,2})"
    r"|intonation\.(?P<tuned>\d{1,2})\.(?P<place>12|high)"
    r"|pickups\.(?P<pickup>\d{1,2})\.(?P<side>bass|treble))"
)


class NoSuchSlot(ValueError):
    """The key names no place that can be read on this instrument."""


@dataclass(frozen=True)
class Slot:
    """One place to read. `string` counts from 1 at the thinnest, `pickup` from 1 at the neck.

    `high` marks the second intonation reading, at whichever high fret the player can reach; `level` the one
    place of a floating bridge itself.
    """

    check: Check
    string: int | None = None
    high: bool = False
    pickup: int | None = None
    side: Side | None = None
    level: bool = False

    @property
    def key(self) -> str:
        """The stored name: relief, height.3, nut.3, intonation.3.12, intonation.3.high, pickups.1.bass."""
        if self.check is Check.RELIEF:
            return "relief"
        if self.level:
            return "height.level"
        if self.check is Check.INTONATION:
            return f"intonation.{self.string}.{'high' if self.high else '12'}"
        if self.check is Check.PICKUPS:
            assert self.side is not None
            return f"pickups.{self.pickup}.{self.side.value}"
        return f"{self.check.value}.{self.string}"


def parse_slot(key: str, spec: InstrumentSpec) -> Slot:
    """Read a slot key; raise NoSuchSlot when the instrument has no such place."""
    match = _KEY.fullmatch(key)
    slot = _from_match(match) if match else None
    if slot is None or slot not in all_slots(spec):
        raise NoSuchSlot(key)
    return slot


def _from_match(match: re.Match[str]) -> Slot:
    if match["relief"]:
        return Slot(Check.RELIEF)
    if match["level"]:
        return Slot(Check.HEIGHT, level=True)
    if match["per_string"]:
        return Slot(Check(match["per_string"]), string=int(match["string"]))
    if match["tuned"]:
        return Slot(Check.INTONATION, string=int(match["tuned"]), high=match["place"] == "high")
    return Slot(Check.PICKUPS, pickup=int(match["pickup"]), side=Side(match["side"]))


def slot_groups(spec: InstrumentSpec, check: Check) -> tuple[tuple[Slot, ...], ...]:
    """The slots of a check in the order of the bench: a group is finished before the next is asked for."""
    return _groups(check, *_shape(spec))


def _shape(spec: InstrumentSpec) -> tuple[int, bool, int, bool]:
    """What the places to read depend on: strings, a fret above the twelfth, pickups, a floating bridge."""
    floating = spec.bridge.type is BridgeType.FLOATING
    return len(spec.strings), spec.fret_count > 12, len(spec.pickups), floating


@lru_cache(maxsize=512)
def _groups(
    check: Check, strings: int, is_high: bool, pickups: int, floating: bool
) -> tuple[tuple[Slot, ...], ...]:
    numbers = tuple(range(strings, 0, -1))
    if check is Check.RELIEF:
        return ((Slot(Check.RELIEF),),)
    if check is Check.HEIGHT:
        outer = tuple(dict.fromkeys((numbers[0], numbers[-1])))
        inner = numbers[1:-1]
        rows = (outer, inner) if inner else (outer,)
        level = ((Slot(check, level=True),),) if floating else ()
        return (*level, *(tuple(Slot(check, string=n) for n in row) for row in rows))
    if check is Check.NUT:
        return (tuple(Slot(check, string=n) for n in numbers),)
    if check is Check.INTONATION:
        # A board of twelve frets has no higher fret to read.
        highs = (False, True) if is_high else (False,)
        return tuple(tuple(Slot(check, string=n, high=high) for high in highs) for n in numbers)
    if check is Check.PICKUPS:
        return tuple(
            tuple(Slot(check, pickup=p, side=side) for side in Side) for p in range(1, pickups + 1)
        )
    return ()


def slots_of(spec: InstrumentSpec, check: Check) -> tuple[Slot, ...]:
    """Every slot of one check, in order."""
    return tuple(slot for group in slot_groups(spec, check) for slot in group)


def all_slots(spec: InstrumentSpec) -> tuple[Slot, ...]:
    """Every slot of the instrument, check by check."""
    return _all(*_shape(spec))


@lru_cache(maxsize=64)
def _all(*shape: Any) -> tuple[Slot, ...]:
    return tuple(slot for check in Check for group in _groups(check, *shape) for slot in group)


def string_numbers(spec: InstrumentSpec) -> tuple[int, ...]:
    """String numbers from the bass side to the treble side: 4, 3, 2, 1 on a four-string bass."""
    return tuple(range(len(spec.strings), 0, -1))


def string_label(spec: InstrumentSpec, number: int) -> str:
    """How the player calls a string: 'E string', or 'E string (6)' where two strings share a letter."""
    letters = [s.note.rstrip("0123456789").replace("b", "♭").replace("#", "♯") for s in spec.strings]
    letter = letters[len(letters) - number]
    return f"{letter} string" if letters.count(letter) == 1 else f"{letter} string ({number})"


def slot_label(spec: InstrumentSpec, slot: Slot) -> str:
    """A short name for headings and tables."""
    if slot.string is not None:
        name = string_label(spec, slot.string)
        if slot.check is Check.INTONATION:
            return f"{name}, {'high fret' if slot.high else '12th fret'}"
        return name
    if slot.pickup is not None and slot.side is not None:
        return f"{pickup_label(spec, slot.pickup)}, {slot.side.value} side"
    return "Bridge, level" if slot.level else "Relief"


def pickup_label(spec: InstrumentSpec, number: int) -> str:
    """'Neck pickup', or 'Pickup' where there is only one."""
    if len(spec.pickups) == 1:
        return "Pickup"
    position = spec.pickups[number - 1].position.value
    return f"{position.capitalize()} pickup"
