"""An instrument's past: every reading of every place in time, said the standard way, and what was turned."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Protocol

from webapp.setups.belief.fold import Belief
from webapp.setups.belief.frame import frame_of
from webapp.setups.belief.reading import seen_of
from webapp.setups.case import Case
from webapp.setups.checks import READ_CHECKS
from webapp.setups.geometry import fret_played
from webapp.setups.journal import KEPT, Entry, EntryKind, Journal
from webapp.setups.past.narrate import turned_words
from webapp.setups.slots import Slot, all_slots, slot_label, slots_by_key
from webapp.setups.states import Assessment, SlotState, Verdict, Word, said, word_of
from webapp.trade.content import Trade
from webapp.trade.ranges import Bands
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check


class PastSetup(Protocol):
    """One setup of an instrument, finished or not. Its journal is at hand; judging it may take a moment."""

    @property
    def id(self) -> str: ...
    @property
    def started_at(self) -> datetime: ...
    @property
    def finished_at(self) -> datetime | None: ...
    @property
    def spec(self) -> InstrumentSpec: ...
    @property
    def journal(self) -> Journal: ...
    @property
    def case(self) -> Case: ...
    @property
    def assessment(self) -> Assessment: ...


@dataclass(frozen=True)
class JudgedSetup:
    """A past setup that is judged already."""

    id: str
    started_at: datetime
    finished_at: datetime | None
    case: Case
    assessment: Assessment

    @property
    def spec(self) -> InstrumentSpec:
        return self.case.spec

    @property
    def journal(self) -> Journal:
        return self.case.journal


@dataclass(frozen=True)
class Taken:
    """One reading: the entry as it was taken, and as `standard` the same the way the bands are stated."""

    slot: Slot
    entry: Entry
    standard: Entry
    way: str
    tool: str
    bands: Bands
    verdict: Verdict

    @property
    def value(self) -> float:
        """mm said the standard way, or cents."""
        assert self.standard.value is not None
        return self.standard.value

    @property
    def converted(self) -> bool:
        return self.standard is not self.entry

    @property
    def how(self) -> str:
        """The frets and the tool in words: 'at fret 12, held at 1; string-height gauge'."""
        return "; ".join(part for part in (self.way, self.tool) if part)

    @property
    def said(self) -> str:
        """The verdict in the words of its check."""
        return said(self.slot.check, self.verdict.word)


def take(case: Case, slot: Slot, reading: Entry, belief: Belief, bands: Bands | None = None) -> Taken:
    """One reading of a setup, newest or not, judged by itself; `belief` is what a reading taken another way
    is converted by. A reading without a value raises ValueError.
    """
    if reading.value is None:
        raise ValueError("a reading needs a value")
    tool = case.trade.tools.get(reading.tool)
    check = READ_CHECKS[slot.check]
    standard = check.standard(belief, slot, reading)
    if slot.is_cents:
        # An older reading may have been taken at another high fret than the newest one.
        bands = case.bands_at(slot, fret_played(reading, case.high_fret))
    bands = bands or case.bands(slot)
    return Taken(
        slot=slot,
        entry=reading,
        standard=standard,
        way=check.way_taken(case, reading) or check.only_way(case),
        tool=tool.name if tool else reading.tool,
        bands=bands,
        verdict=verdict_of(case.trade, standard, bands),
    )


def verdict_of(trade: Trade, standard: Entry, bands: Bands) -> Verdict:
    """What one reading says by itself, without anything else that is known.

    A range that reaches from one word into another is near an edge while all of it is usual; else this tool
    cannot tell.
    """
    assert standard.value is not None
    seen = seen_of(trade, standard)
    is_range = "low" in standard.detail or "high" in standard.detail
    about = standard.value - seen.sigma, standard.value + seen.sigma
    low, high = (seen.low, seen.high) if is_range else about
    word, ends = word_of(standard.value, bands), {word_of(low, bands), word_of(high, bands)}
    if len(ends) == 1:
        return Verdict(ends.pop())
    spills = is_range and bool(ends & {Word.TOO_LOW, Word.TOO_HIGH})
    return Verdict(Word.CANNOT_TELL) if spills else Verdict(word, near_edge=True)


def readings_taken(case: Case, slot: Slot) -> tuple[Taken, ...]:
    """The valid readings of a slot, oldest first."""
    readings = case.journal.readings(slot.key)
    return tuple(take(case, slot, e, case.belief) for e in readings if e.value is not None)


@dataclass(frozen=True)
class Event:
    """One line of a series: a reading, or something turned that moved what the readings before it read.

    `at` is when the reading was taken: a correction stands at the time of what it corrects.
    """

    at: datetime
    setup_id: str
    finished: bool
    reading: Taken | None = None
    turned: str = ""
    struck: bool = False
    kept: bool = False


@dataclass(frozen=True)
class Series:
    """Every reading of one place through all the setups, oldest first."""

    slot: Slot
    label: str
    bands: Bands
    events: tuple[Event, ...]

    @property
    def valid(self) -> tuple[Taken, ...]:
        """What still counts, oldest first."""
        return tuple(e.reading for e in self.events if e.reading is not None and not e.struck)


def touched(past: Iterable[PastSetup], slot: Slot) -> list[PastSetup]:
    """The setups in which a slot was read, or something was turned that moved it."""
    return [p for p in past if slot.key in p.journal.ever_read or _turned_for(p.journal, slot)]


def _turned_for(journal: Journal, slot: Slot) -> bool:
    return any(e.kind is EntryKind.ADJUSTMENT and e.turn.moves(slot) for e in journal.entries)


def series(past: Sequence[PastSetup], slot: Slot, today: PastSetup | None = None) -> Series | None:
    """The series of a slot; None where no setup has such a place or anything read there.

    Where `past` is a part of all, `today` is the newest setup there is: lengths are judged by its bands, and
    the part may hold nothing but turns.
    """
    ordered = sorted((p for p in past if slot in all_slots(p.spec)), key=lambda p: p.started_at)
    if not ordered:
        return None
    newest = today if today is not None and slot in all_slots(today.spec) else ordered[-1]
    judge = _Judge(newest, slot)
    events = tuple(event for setup in ordered for event in judge.events(setup))
    if not events or (today is None and not any(event.reading for event in events)):
        return None
    return Series(slot, slot_label(newest.spec, slot), judge.bands_of(events), events)


class _Judge:
    """Judges every reading of one place as it is judged today: by today's touch, description and bow.

    What is good in cents hangs on the fret used.
    """

    def __init__(self, newest: PastSetup, slot: Slot) -> None:
        self.newest, self.slot = newest, slot
        self.state = newest.assessment.slot(slot.key)
        self.bands = newest.case.bands(slot)

    def bands_of(self, events: Sequence[Event]) -> Bands:
        return next((e.reading.bands for e in reversed(events) if e.reading), self.bands)

    def events(self, setup: PastSetup) -> Iterator[Event]:
        journal, slot = setup.journal, self.slot
        for entry in sorted(journal.entries, key=lambda e: (journal.stands_for(e).id, e.id)):
            struck = entry.id in journal.voided
            at, finished = journal.stands_for(entry).at, setup.finished_at is not None
            if entry.kind is EntryKind.READING and entry.slot == slot.key and entry.value is not None:
                kept = not struck and _kept(journal, slot, entry)
                taken = self._taken(setup, entry)
                yield Event(at, setup.id, finished, reading=taken, struck=struck, kept=kept)
            elif entry.kind is EntryKind.ADJUSTMENT and entry.turn.moves(slot):
                yield Event(at, setup.id, finished, turned=turned_words(setup.case, entry), struck=struck)

    def _taken(self, setup: PastSetup, entry: Entry) -> Taken:
        taken = take(setup.case, self.slot, entry, self._belief(setup), self.bands)
        newest = self.state.measured and self.state.reading is entry
        return replace(taken, verdict=self.state.verdict) if newest else taken

    def _belief(self, setup: PastSetup) -> Belief:
        """Today's; a board described otherwise knows nothing of it."""
        belief, frame = self.newest.case.belief, frame_of(setup.spec, setup.case.trade)
        return belief if belief.frame is frame else Belief.first(frame)


def _kept(journal: Journal, slot: Slot, reading: Entry) -> bool:
    later = (e for e in journal.readings(slot.key) if e.id > reading.id)
    until = min((e.id for e in later), default=None)
    return any(
        o.id > reading.id and (until is None or o.id < until) and o.detail.get("answer") == KEPT
        for o in journal.observations(slot.key)
    )


def stands(state: SlotState) -> Verdict:
    """How a place is said to stand: one that a turn moved, and that is surely right all the same, is good."""
    return Verdict(Word.GOOD) if state.settled and not state.measured else state.verdict


@dataclass(frozen=True)
class Newest:
    """The newest standing of one place: where it was last read, and how it stands after that.

    Where everything that was read there is struck through, neither is there.
    """

    slot: Slot
    label: str
    reading: Taken | None = None
    state: SlotState | None = None

    @property
    def verdict(self) -> Verdict:
        return stands(self.state) if self.state else Verdict(Word.NOT_MEASURED)

    @property
    def said(self) -> str:
        """The verdict in the words of its check."""
        return said(self.slot.check, self.verdict.word)

    @property
    def kept(self) -> bool:
        return self.state is not None and self.state.accepted and self.state.measured


def newest_by_check(past: Sequence[PastSetup]) -> dict[Check, tuple[Newest, ...]]:
    """Every place that was ever read, by its check, bass side first. Only the setups that it was last read
    in are judged."""
    ordered = sorted(past, key=lambda p: p.started_at, reverse=True)
    read_in: dict[Slot, PastSetup | None] = {}
    settled = set[str]()
    for setup in ordered:
        # After the first few setups there is nothing new in most.
        for key in setup.journal.ever_read - settled:
            slot = slots_by_key(setup.spec).get(key)
            newest = setup.journal.newest_reading(key)
            if slot is not None and newest is not None and newest.value is not None:
                read_in[slot] = setup
                settled.add(key)
            elif slot is not None:
                read_in.setdefault(slot, None)
    found: dict[Check, list[Newest]] = {check: [] for check in Check}
    for slot in sorted(read_in, key=_bass_first):
        where = read_in[slot]
        found[slot.check].append(_newest(where, slot) if where else _struck_out(ordered, slot))
    return {check: tuple(newest) for check, newest in found.items()}


def _bass_first(slot: Slot) -> tuple[int, int, str, bool]:
    return -(slot.string or 0), slot.pickup or 0, slot.side.value if slot.side else "", slot.high


def _newest(setup: PastSetup, slot: Slot) -> Newest:
    state = setup.assessment.slot(slot.key)
    assert state.reading is not None, "it was found by its newest reading"
    return Newest(slot, state.label, take(setup.case, slot, state.reading, setup.case.belief), state)


def _struck_out(ordered: Sequence[PastSetup], slot: Slot) -> Newest:
    """Everything read here was struck through: the place is listed, so that the readings can be found."""
    newest = next(setup for setup in ordered if slot.key in slots_by_key(setup.spec))
    return Newest(slot, slot_label(newest.spec, slot))
