"""One place of an instrument through all its journals: what was read, and what was turned in between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from webapp.physics.mixture import Seen
from webapp.setups.case import Case
from webapp.setups.checks import READ_CHECKS
from webapp.setups.journal import Entry, EntryKind, Turn
from webapp.setups.past.turn_sums import turned_words
from webapp.setups.slots import Slot


@dataclass(frozen=True)
class Read:
    """One reading, when, and after how many steps: `standard` said the standard way, `seen` as the range it
    is.
    """

    entry: Entry
    at: datetime
    standard: Entry
    seen: Seen
    steps_before: int


@dataclass(frozen=True)
class Stepped:
    """Turns that count as one step: which and when, and in words."""

    turns: tuple[tuple[datetime, Turn], ...]
    words: tuple[str, ...]

    @property
    def at(self) -> datetime:
        return self.turns[0][0]


@dataclass(frozen=True)
class OverTime:
    """Readings and steps of one place, oldest first. Readings in the middle of the turning are left out."""

    slot: Slot
    readings: tuple[Read, ...]
    steps: tuple[Stepped, ...]


class _Happening(NamedTuple):
    at: datetime
    entry: Entry


def over_time(case: Case, slot: Slot) -> OverTime:
    """Everything that concerns a slot in the instrument's journals. Turns close to each other are one step.
    """
    near = case.trade.practice.time.step
    groups: list[list[_Happening]] = []
    readings: list[list[_Happening]] = [[]]
    for happening in _happenings(case, slot):
        if happening.entry.kind is EntryKind.READING:
            readings[-1].append(happening)
            continue
        if groups and happening.at - groups[-1][-1].at <= near:
            # Still at it: what was read between these turns says nothing about the neck by itself.
            readings[-1] = []
        else:
            groups.append([])
            readings.append([])
        groups[-1].append(happening)
    kept = (_last_of_each_day(case, slot, part, number) for number, part in enumerate(readings))
    return OverTime(
        slot, tuple(read for part in kept for read in part), tuple(_step(case, group) for group in groups)
    )


def _happenings(case: Case, slot: Slot) -> list[_Happening]:
    """Valid readings of the slot and turns that move it; a correction stands where its original stood."""
    found = []
    for journal in case.journals:
        for entry in journal.live:
            stands = journal.stands_for(entry)
            read = entry.kind is EntryKind.READING and entry.slot == slot.key and entry.value is not None
            if read or (entry.kind is EntryKind.ADJUSTMENT and entry.turn.moves(slot)):
                found.append((stands.at, stands.id, _Happening(stands.at, entry)))
    return [happening for _, _, happening in sorted(found, key=lambda one: one[:2])]


def _last_of_each_day(case: Case, slot: Slot, some: Sequence[_Happening], steps: int) -> tuple[Read, ...]:
    days = {happening.at.date(): happening for happening in some}
    return tuple(_read(case, slot, happening, steps) for happening in days.values())


def _read(case: Case, slot: Slot, happening: _Happening, steps: int) -> Read:
    entry, belief = happening.entry, case.belief
    standard, seen = READ_CHECKS[slot.check].standard(belief, slot, entry), belief.standard(slot, entry)
    return Read(entry, happening.at, standard, seen, steps)


def _step(case: Case, group: Sequence[_Happening]) -> Stepped:
    words = dict.fromkeys(turned_words(case, happening.entry) for happening in group)
    return Stepped(tuple((happening.at, happening.entry.turn) for happening in group), tuple(words))
