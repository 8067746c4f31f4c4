"""The append-only journal of a setup: entries, what is still valid, what each adjustment puts out of date."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum
from functools import cached_property
from math import isfinite
from typing import Any, NamedTuple

from webapp.setups.slots import RELIEF, Slot, outer_heights
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check, Side

START_PLACE = "start"
# What belongs to no check is written under the first.
OF_NO_CHECK = Check.START
QUICK = "quick"
# Answers about a turn that could not be made as asked, and a word on the room compared with before.
WILL_NOT_MOVE, CREAKS, NO_ROOM = "will_not_move", "creaks", "no_room"
# The answer "I like it so".
KEPT = "kept"
# Which way it would not go on, +1 or -1, in such an answer's detail.
WAY = "way"
COMPARED = "compared"
# The time of an entry that is not recorded yet.
NOT_YET = datetime.min.replace(tzinfo=UTC)


class EntryKind(StrEnum):
    """What one line of the journal is."""

    READING = "reading"
    ADJUSTMENT = "adjustment"
    OBSERVATION = "observation"
    NOTE = "note"
    VOID = "void"


class Part(StrEnum):
    """What was turned, moved or changed."""

    ROD = "rod"
    SADDLE_HEIGHT = "saddle_height"
    SADDLE_POSITION = "saddle_position"
    PICKUP_HEIGHT = "pickup_height"
    NUT = "nut"
    STRINGS = "strings"
    SPRINGS = "springs"

    @property
    def check(self) -> Check:
        """The check that its turns are written under."""
        return _REACH[self].check

    @property
    def moves(self) -> frozenset[Check]:
        """The checks whose places read otherwise after a turn (design, section 2)."""
        return _REACH[self].moves

    @property
    def frees(self) -> frozenset[Check]:
        """The checks whose places may stand anywhere after work that counts no turns."""
        return _REACH[self].frees

    @classmethod
    def worked_on(cls, check: Check) -> Part:
        """What was worked on where a place of this check was put right. No part belongs to the play test."""
        return next(part for part in cls if part.check is check)


class _Reach(NamedTuple):
    """How far a turn of a part reaches."""

    check: Check
    frees: frozenset[Check]
    moves: frozenset[Check]


def _reach(check: Check, *moves: Check, frees: tuple[Check, ...] | None = None) -> _Reach:
    return _Reach(check, frozenset((check,) if frees is None else frees), frozenset(moves))


_REACH: Mapping[Part, _Reach] = {
    Part.ROD: _reach(
        Check.RELIEF, Check.RELIEF, Check.HEIGHT, Check.INTONATION, Check.PICKUPS,
        frees=(Check.RELIEF, Check.HEIGHT),
    ),
    Part.SADDLE_HEIGHT: _reach(Check.HEIGHT, Check.HEIGHT, Check.INTONATION, Check.PICKUPS),
    Part.SADDLE_POSITION: _reach(Check.INTONATION, Check.INTONATION),
    Part.PICKUP_HEIGHT: _reach(Check.PICKUPS, Check.PICKUPS),
    Part.NUT: _reach(Check.NUT, Check.NUT, Check.HEIGHT, Check.INTONATION),
    Part.STRINGS: _reach(Check.START, *Check, frees=()),
    Part.SPRINGS: _reach(Check.HEIGHT, Check.HEIGHT, Check.INTONATION, frees=()),
}  # fmt: skip


@dataclass(frozen=True)
class Entry:
    """One line of the journal. `value` is in mm or cents, `typed` is what the player wrote.

    A new one has neither number nor time. Recorded, it has both: a larger `id` is newer, `at` is UTC.
    Raises ValueError for a value or an error that is no finite number.
    """

    kind: EntryKind
    check: Check
    slot: str
    value: float | None = None
    unit: str = ""
    typed: str = ""
    tool: str = ""
    error: float | None = None
    detail: Mapping[str, Any] = field(default_factory=dict)
    voids: int | None = None
    id: int = 0
    at: datetime = NOT_YET

    def __post_init__(self) -> None:
        for number in (self.value, self.error):
            if number is not None and not isfinite(number):
                raise ValueError("an entry's value and error are finite numbers or None")

    @cached_property
    def turn(self) -> Turn:
        """The adjustment's own data; only for adjustments."""
        side = self.detail.get("side")
        return Turn(
            part=Part(self.detail["part"]),
            eighths=int(self.detail.get("eighths", 0)),
            string=self.detail.get("string"),
            pickup=self.detail.get("pickup"),
            side=Side(side) if side else None,
        )


@dataclass(frozen=True)
class Turn:
    """An adjustment as the hand did it: signed eighths of a turn.

    Plus tightens the rod, raises a saddle or a pickup, moves a saddle back (lengthens the string). `eighths`
    is 0 where nothing turns (strings changed, nut worked on).
    """

    part: Part
    eighths: int = 0
    string: int | None = None
    pickup: int | None = None
    side: Side | None = None

    def moves(self, slot: Slot) -> bool:
        """Whether what a slot reads is no longer what it was after this turn (design, section 2)."""
        if slot.level:
            return self.part in (Part.SPRINGS, Part.STRINGS)
        # A post moves the whole bridge, so a turn without a string concerns every string.
        of_it = self.string is None or slot.string in (None, self.string)
        if self.pickup is not None:
            of_it = slot.pickup == self.pickup and self.side in (None, slot.side)
        return of_it and slot.check in self.part.moves

    def own(self, slot: Slot) -> bool:
        """Whether this turn was made to move just what that slot reads."""
        if self.part is Part.NUT or slot.level is not (self.part is Part.SPRINGS):
            return False  # a nut's slot is filed, which no turn counts
        return self.part.check is slot.check and self.moves(slot)


@dataclass(frozen=True)
class Journal:
    """All entries of one setup in the order they were recorded."""

    entries: tuple[Entry, ...]

    @classmethod
    def of(cls, entries: Iterable[Entry]) -> Journal:
        """Sort by id, the order of recording."""
        return cls(tuple(sorted(entries, key=lambda entry: entry.id)))

    @cached_property
    def voided(self) -> frozenset[int]:
        """Ids of entries that a later one struck through."""
        return frozenset(entry.voids for entry in self.entries if entry.voids is not None)

    @cached_property
    def live(self) -> tuple[Entry, ...]:
        """What still counts, in time: neither struck through nor a mere striking-through."""
        found = (e for e in self.entries if e.id not in self.voided and e.kind is not EntryKind.VOID)
        return tuple(sorted(found, key=lambda e: self.stands_for(e).id))

    @cached_property
    def turns(self) -> tuple[Entry, ...]:
        """The adjustments that still count."""
        return tuple(e for e in self.live if e.kind is EntryKind.ADJUSTMENT)

    @cached_property
    def _by_id(self) -> Mapping[int, Entry]:
        return {entry.id: entry for entry in self.entries}

    def stands_for(self, entry: Entry) -> Entry:
        """The entry whose place in time this one holds: itself, or the first one that it corrects.

        Mending a typing slip tells nothing new about the instrument, so it makes no reading fresher.
        """
        while entry.voids is not None and entry.voids in self._by_id and entry.voids < entry.id:
            entry = self._by_id[entry.voids]
        return entry

    @cached_property
    def _by_place(self) -> Mapping[EntryKind, Mapping[str, tuple[Entry, ...]]]:
        """The valid entries of each kind and slot, oldest first."""
        found: dict[EntryKind, dict[str, list[Entry]]] = {kind: {} for kind in EntryKind}
        for entry in self.live:
            found[entry.kind].setdefault(entry.slot, []).append(entry)
        return {kind: {slot: tuple(some) for slot, some in places.items()} for kind, places in found.items()}

    @cached_property
    def is_quick(self) -> bool:
        """Whether this is a quick check or a change of strings between setups, not a setup."""
        told = (*self.observations(START_PLACE), *self.turns)
        return any(entry.detail.get(QUICK) is True for entry in told)

    @cached_property
    def ever_read(self) -> frozenset[str]:
        """The slots of all readings, also of those that were struck through."""
        return frozenset(entry.slot for entry in self.entries if entry.kind is EntryKind.READING)

    def readings(self, slot_key: str) -> tuple[Entry, ...]:
        """The valid readings of one slot, oldest first."""
        return self._by_place[EntryKind.READING].get(slot_key, ())

    def newest_reading(self, slot_key: str) -> Entry | None:
        """The last valid reading of one slot."""
        readings = self.readings(slot_key)
        return readings[-1] if readings else None

    def observations(self, slot_key: str) -> tuple[Entry, ...]:
        """The valid observations of one slot, oldest first."""
        return self._by_place[EntryKind.OBSERVATION].get(slot_key, ())

    def moved_since(self, slot: Slot, reading: Entry) -> Entry | None:
        """The first later adjustment that moved what this reading read, if any."""
        taken = self.stands_for(reading).id
        return next((t for t in self.turns if t.id > taken and t.turn.moves(slot)), None)

    def newest_id(self, slot_key: str) -> int:
        """The id of the newest entry of a slot, valid or not; 0 where there is none."""
        return max((e.id for e in self.entries if e.slot == slot_key), default=0)

    def last_turn(self, part: Part) -> Entry | None:
        """The newest adjustment of one part."""
        return next((t for t in reversed(self.turns) if t.turn.part is part), None)


DRIFT_PLACE = "drift"


def quick_slots(spec: InstrumentSpec) -> tuple[Slot, ...]:
    """What a quick check reads, and what the seasons watch: relief and the two outer strings' heights."""
    return (RELIEF, *outer_heights(spec))


def joined(journals: Iterable[Journal]) -> Journal:
    """The journals of one instrument as one: how it stands after all that was ever read and turned."""
    return Journal.of(entry for journal in journals for entry in journal.entries)


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
