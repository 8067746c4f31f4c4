"""What can be read on one instrument: a slot is one place where a gauge, a ruler or a tuner goes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from typing import NamedTuple

from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, Check, Side


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

    def __hash__(self) -> int:
        # Looked up thousands of times a page; a text keeps its own hash.
        return hash(self.key)

    @cached_property
    def key(self) -> str:
        """The stored name: relief, height.3, height.level, nut.3, intonation.3.12, pickups.1.bass."""
        end = "level" if self.level else self.side
        if self.check.is_cents:
            end = "high" if self.high else "12"
        parts = (self.check, self.pickup, self.string, end)
        return ".".join(str(part) for part in parts if part is not None)

    @property
    def is_cents(self) -> bool:
        """Whether it is read in cents; all others in mm."""
        return self.check.is_cents

    @property
    def over_neck(self) -> bool:
        """Whether it is read over the bow of the neck: relief, or a string's height at the 12th."""
        return self.check in (Check.RELIEF, Check.HEIGHT) and not self.level


RELIEF = Slot(Check.RELIEF)
LEVEL = Slot(Check.HEIGHT, level=True)


@cache
def height_slot(number: int) -> Slot:
    """Where a string's height is read."""
    return Slot(Check.HEIGHT, string=number)


@cache
def nut_slot(number: int) -> Slot:
    """Where an open string's gap over fret 1 is read."""
    return Slot(Check.NUT, string=number)


@cache
def tuned_slot(number: int, high: bool = False) -> Slot:
    """Where a string's intonation is read: at fret 12, or at the high fret."""
    return Slot(Check.INTONATION, string=number, high=high)


@cache
def pickup_slot(number: int, side: Side) -> Slot:
    """Where a pickup's gap is read."""
    return Slot(Check.PICKUPS, pickup=number, side=side)


def check_of(place: str) -> Check:
    """The check that a slot's key, or a question's, begins with. Raises ValueError for any other place."""
    return Check(place.partition(".")[0])


class _Shape(NamedTuple):
    """What the places to read depend on."""

    strings: int
    has_high_fret: bool
    pickups: int
    floats: bool

    @property
    def numbers(self) -> tuple[int, ...]:
        return tuple(range(self.strings, 0, -1))

    @property
    def outer(self) -> tuple[int, ...]:
        return tuple(dict.fromkeys((self.strings, 1)))


def _shape(spec: InstrumentSpec) -> _Shape:
    # A board of twelve frets has no higher fret to read.
    floats = spec.bridge.type is BridgeType.FLOATING
    return _Shape(len(spec.strings), spec.fret_count > 12, len(spec.pickups), floats)


def _heights(shape: _Shape) -> Iterator[Slot]:
    if shape.floats:
        yield LEVEL
    # The two outer strings first: the others follow from them.
    yield from map(height_slot, shape.outer)
    yield from map(height_slot, shape.numbers[1:-1])


def _tuned(shape: _Shape) -> Iterator[Slot]:
    highs = (False, True) if shape.has_high_fret else (False,)
    return (tuned_slot(number, high) for number in shape.numbers for high in highs)


def _pickups(shape: _Shape) -> Iterator[Slot]:
    return (pickup_slot(number, side) for number in range(1, shape.pickups + 1) for side in Side)


# The places of the checks that are read, each in the order of the bench.
_PLACES: Mapping[Check, Callable[[_Shape], Iterator[Slot]]] = {
    Check.RELIEF: lambda shape: iter((RELIEF,)),
    Check.HEIGHT: _heights,
    Check.NUT: lambda shape: map(nut_slot, shape.numbers),
    Check.INTONATION: _tuned,
    Check.PICKUPS: _pickups,
}


@lru_cache(maxsize=64)
def _by_check(shape: _Shape) -> Mapping[Check, tuple[Slot, ...]]:
    return {check: tuple(places(shape)) for check, places in _PLACES.items()}


@lru_cache(maxsize=64)
def _by_key(shape: _Shape) -> Mapping[str, Slot]:
    return {slot.key: slot for slots in _by_check(shape).values() for slot in slots}


def slots_of(spec: InstrumentSpec, check: Check) -> tuple[Slot, ...]:
    """Every slot of one check, in the order of the bench; none where nothing is read."""
    return _by_check(_shape(spec)).get(check, ())


def slots_by_key(spec: InstrumentSpec) -> Mapping[str, Slot]:
    """Every slot of the instrument by its key, check by check."""
    return _by_key(_shape(spec))


def all_slots(spec: InstrumentSpec) -> tuple[Slot, ...]:
    """Every slot of the instrument, check by check."""
    return tuple(slots_by_key(spec).values())


def parse_slot(key: str, spec: InstrumentSpec) -> Slot:
    """Read a slot key; raise NoSuchSlot when the instrument has no such place."""
    slot = slots_by_key(spec).get(key)
    if slot is None:
        raise NoSuchSlot(key)
    return slot


def string_numbers(spec: InstrumentSpec) -> tuple[int, ...]:
    """String numbers from the bass side to the treble side: 4, 3, 2, 1 on a four-string bass."""
    return _shape(spec).numbers


def strings_seen(spec: InstrumentSpec) -> tuple[int, ...]:
    """String numbers from left to right as the board is seen from the front, head up."""
    return string_numbers(spec)[:: -1 if spec.left_handed else 1]


def outer_heights(spec: InstrumentSpec) -> tuple[Slot, ...]:
    """The heights of the two outer strings, bass side first."""
    return tuple(map(height_slot, _shape(spec).outer))


def string_label(spec: InstrumentSpec, number: int) -> str:
    """How the player calls a string: 'E string', or 'E string (6)' where two strings share a letter."""
    letters = [s.note.rstrip("0123456789").replace("b", "♭").replace("#", "♯") for s in spec.strings]
    letter = letters[len(letters) - number]
    return f"{letter} string" if letters.count(letter) == 1 else f"{letter} string ({number})"


def slot_label(spec: InstrumentSpec, slot: Slot) -> str:
    """A short name for headings and tables."""
    if slot.string is not None:
        name = string_label(spec, slot.string)
        if slot.is_cents:
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
