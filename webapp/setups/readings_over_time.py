"""One place of an instrument through all its journals: what was read, what was turned, and pairs of both."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import NamedTuple

from webapp.setups.case import Case
from webapp.setups.checks.height import standard_height
from webapp.setups.convert import STANDARD_HEIGHT, height_way
from webapp.setups.journal import Entry, EntryKind, Journal
from webapp.setups.learning import standard_relief_reading
from webapp.setups.slots import Slot
from webapp.setups.turned import turned_words
from webapp.trade.words import Check


@dataclass(frozen=True)
class Read:
    """One reading said the standard way and its tool's error, mm; when, and after how many steps."""

    entry: Entry
    at: datetime
    value_mm: float
    error_mm: float
    steps_before: int


@dataclass(frozen=True)
class Stepped:
    """Turns that count as one step: when, in words, and the readings just before and after, if any."""

    at: datetime
    until: datetime
    words: tuple[str, ...]
    before: Read | None = None
    after: Read | None = None

    @property
    def paired(self) -> bool:
        return self.before is not None and self.after is not None


@dataclass(frozen=True)
class OverTime:
    """Readings and steps of one place, oldest first. Readings in the middle of the turning are left out."""

    slot: Slot
    readings: tuple[Read, ...]
    steps: tuple[Stepped, ...]


class _Happening(NamedTuple):
    at: datetime
    entry: Entry
    journal: Journal


def over_time(case: Case, slot: Slot) -> OverTime:
    """Everything that concerns a slot in the instrument's journals.

    Turns close to each other are one step, and readings close to it show it. Later the air may have moved
    the neck as well.
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
    kept = tuple(_last_of_each_day(case, slot, part, number) for number, part in enumerate(readings))
    steps = tuple(_step(case, group, kept[i], kept[i + 1]) for i, group in enumerate(groups))
    return OverTime(slot, _settled(kept, steps, near), steps)


def _happenings(case: Case, slot: Slot) -> list[_Happening]:
    """Valid readings of the slot and turns that move it; a correction stands where its original stood."""
    found = []
    for journal in case.journals:
        for entry in journal.live:
            stands = journal.stands_for(entry)
            read = entry.kind is EntryKind.READING and entry.slot == slot.key and entry.value is not None
            if read or (entry.kind is EntryKind.ADJUSTMENT and entry.turn.outdates(slot)):
                found.append((stands.at, stands.id, _Happening(stands.at, entry, journal)))
    return [happening for _, _, happening in sorted(found, key=lambda one: one[:2])]


def _last_of_each_day(case: Case, slot: Slot, some: Sequence[_Happening], steps: int) -> tuple[Read, ...]:
    days = {happening.at.date(): happening for happening in some}
    return tuple(_read(case, slot, happening, steps) for happening in days.values())


def _read(case: Case, slot: Slot, happening: _Happening, steps: int) -> Read:
    entry = happening.entry
    if slot.check is Check.RELIEF:
        value, error = standard_relief_reading(case, entry)
    else:
        value, error = _height(case, slot, happening)
    return Read(entry, happening.at, value, error, steps)


def _height(case: Case, slot: Slot, happening: _Happening) -> tuple[float, float]:
    """A height read another way is converted with the neck as it was bowed then."""
    entry, journal = happening.entry, happening.journal
    unstated = case.trade.practice.doubt.unstated_mm
    if height_way(entry) == STANDARD_HEIGHT:
        assert entry.value is not None
        return entry.value, entry.error or unstated
    until = journal.stands_for(entry).id
    then = Journal(tuple(e for e in journal.entries if journal.stands_for(e).id <= until or e.id == entry.id))
    reading = replace(entry, error=entry.error or unstated)
    return standard_height(replace(case, journal=then), slot, reading)


def _step(case: Case, group: Sequence[_Happening], before: Sequence[Read], after: Sequence[Read]) -> Stepped:
    first, last, near = group[0].at, group[-1].at, case.trade.practice.time.step
    near_before = [r for r in before if first - r.at <= near]
    near_after = [r for r in after if r.at - last <= near]
    words = tuple(dict.fromkeys(turned_words(case, happening.entry) for happening in group))
    return Stepped(
        first,
        last,
        words,
        near_before[-1] if near_before else None,
        # The last one: the rod had longest to settle.
        near_after[-1] if near_after else None,
    )


def _settled(
    kept: Sequence[Sequence[Read]], steps: Sequence[Stepped], near: timedelta
) -> tuple[Read, ...]:
    """Without the readings of the first days after a step, but for the last of them."""
    return tuple(read for number, part in enumerate(kept) for read in _after(part, number, steps, near))


def _after(
    part: Sequence[Read], number: int, steps: Sequence[Stepped], near: timedelta
) -> Iterator[Read]:
    step = steps[number - 1] if number else None
    for read in part:
        unsettled = step is not None and read.at - step.until <= near
        if not unsettled or (step is not None and read is step.after):
            yield read
