"""An instrument's past: every reading of every place in time, said the standard way, and what was turned."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Protocol

from webapp.setups.case import Case
from webapp.setups.checks.common import KEPT
from webapp.setups.checks.height import standard_height
from webapp.setups.convert import STANDARD_HEIGHT, height_way, relief_factor, relief_way
from webapp.setups.journal import Entry, EntryKind, Journal
from webapp.setups.slots import Slot, all_slots, slot_label
from webapp.setups.states import Assessment
from webapp.setups.turned import turned_words
from webapp.setups.verdicts import Verdict, Word, judge
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
    """One reading as it was taken, and said the way the bands are stated (mm, or cents)."""

    slot: Slot
    entry: Entry
    value: float
    way: str
    tool: str
    standard: float
    bands: Bands
    converted: bool
    verdict: Verdict

    @property
    def how(self) -> str:
        """The frets and the tool in words: 'at fret 12, held at 1; string-height gauge'."""
        return "; ".join(part for part in (self.way, self.tool) if part)


def take(case: Case, slot: Slot, reading: Entry) -> Taken:
    """Judge one reading of a setup, newest or not; a reading without a value raises ValueError."""
    if reading.value is None:
        raise ValueError("a reading needs a value")
    tool = case.trade.tools.get(reading.tool)
    standard, error = _standard(_at_that_time(case, slot, reading), slot, reading.value, reading)
    bands = _bands(case, slot, reading)
    return Taken(
        slot=slot,
        entry=reading,
        value=reading.value,
        way=way_words(case, slot, reading),
        tool=tool.name if tool else reading.tool,
        standard=standard,
        bands=bands,
        converted=_other_way(case, slot, reading),
        verdict=judge(standard, error, bands),
    )


def _at_that_time(case: Case, slot: Slot, reading: Entry) -> Case:
    """The case before whatever put this reading out of date: the neck that it was read on."""
    turned = case.journal.outdated(slot, reading)
    if turned is None:
        return case
    journal = case.journal
    return replace(
        case, journal=Journal(tuple(e for e in journal.entries if journal.stands_for(e).id < turned.id))
    )


def _standard(case: Case, slot: Slot, value: float, reading: Entry) -> tuple[float, float]:
    error = reading.error or 0.0
    if slot.check is Check.HEIGHT:
        return standard_height(case, slot, reading)
    if slot.check is Check.RELIEF:
        factor = relief_factor(case.spec, relief_way(reading, case.relief_standard), case.relief_standard)
        return value * factor, error * abs(factor)
    return value, error


def _bands(case: Case, slot: Slot, reading: Entry) -> Bands:
    # An older reading may have been taken at another high fret than the newest one.
    if slot.check is Check.INTONATION:
        return case.bands_at(slot, _fret(case, slot, reading))
    return case.bands(slot)


def _fret(case: Case, slot: Slot, reading: Entry) -> int:
    return int(reading.detail.get("fret", case.high_fret)) if slot.high else 12


def _other_way(case: Case, slot: Slot, reading: Entry) -> bool:
    if slot.check is Check.RELIEF:
        return relief_way(reading, case.relief_standard) != case.relief_standard
    return slot.check is Check.HEIGHT and height_way(reading) != STANDARD_HEIGHT


def way_words(case: Case, slot: Slot, reading: Entry) -> str:
    """Where the string was held and where the gap was read."""
    if slot.check is Check.RELIEF:
        return relief_way(reading, case.relief_standard).text
    if slot.check is Check.HEIGHT:
        return height_way(reading).text
    if slot.check is Check.INTONATION:
        return f"at fret {_fret(case, slot, reading)}"
    return "open, over fret 1" if slot.check is Check.NUT else f"pressed at fret {case.spec.fret_count}"


def readings_taken(case: Case, slot: Slot) -> tuple[Taken, ...]:
    """The valid readings of a slot, oldest first."""
    return tuple(take(case, slot, e) for e in case.journal.readings(slot.key) if e.value is not None)


@dataclass(frozen=True)
class Event:
    """One line of a series: a reading, or something turned that put the readings before it out of date.

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
    """The setups in which a slot was read, or something was turned that put its readings out of date."""
    return [p for p in past if slot.key in p.journal.ever_read or _turned_for(p.journal, slot)]


def _turned_for(journal: Journal, slot: Slot) -> bool:
    return any(e.kind is EntryKind.ADJUSTMENT and e.turn.outdates(slot) for e in journal.entries)


def series(past: Sequence[PastSetup], slot: Slot, today: PastSetup | None = None) -> Series | None:
    """The series of a slot; None where no setup has such a place or anything read there.

    Where `past` is a part of all, `today` is the newest setup there is: lengths are judged by its bands, and
    the part may hold nothing but turns.
    """
    ordered = sorted((p for p in past if slot in all_slots(p.spec)), key=lambda p: p.started_at)
    events = tuple(event for setup in ordered for event in _events(setup, slot))
    if not events or (today is None and not any(event.reading for event in events)):
        return None
    newest = today if today is not None and slot in all_slots(today.spec) else ordered[-1]
    bands = next((e.reading.bands for e in reversed(events) if e.reading), newest.case.bands(slot))
    # Lengths are judged by today's touch and description; what is good in cents hangs on the fret used.
    bands = bands if slot.check is Check.INTONATION else newest.case.bands(slot)
    return Series(slot, slot_label(newest.spec, slot), bands, events)


def _events(setup: PastSetup, slot: Slot) -> Iterator[Event]:
    journal = setup.journal
    for entry in sorted(journal.entries, key=lambda e: (journal.stands_for(e).id, e.id)):
        struck = entry.id in journal.voided
        at, finished = journal.stands_for(entry).at, setup.finished_at is not None
        if entry.kind is EntryKind.READING and entry.slot == slot.key and entry.value is not None:
            taken = _with_doubt(setup, slot, take(setup.case, slot, entry))
            kept = not struck and _kept(journal, slot, entry)
            yield Event(at, setup.id, finished, reading=taken, struck=struck, kept=kept)
        elif entry.kind is EntryKind.ADJUSTMENT and entry.turn.outdates(slot):
            yield Event(at, setup.id, finished, turned=turned_words(setup.case, entry), struck=struck)


def _with_doubt(setup: PastSetup, slot: Slot, taken: Taken) -> Taken:
    """The setup's last reading may have been doubted because of its neighbours."""
    state = setup.assessment.slot(slot.key)
    last = state.reading is not None and state.reading.id == taken.entry.id
    return replace(taken, verdict=state.verdict) if last and state.outdated_by is None else taken


def _kept(journal: Journal, slot: Slot, reading: Entry) -> bool:
    later = (e for e in journal.readings(slot.key) if e.id > reading.id)
    until = min((e.id for e in later), default=None)
    return any(
        o.id > reading.id and (until is None or o.id < until) and o.detail.get("answer") == KEPT
        for o in journal.observations(slot.key)
    )


@dataclass(frozen=True)
class Newest:
    """The newest standing of one place: where it was last read, and what that means."""

    slot: Slot
    label: str
    reading: Taken | None
    verdict: Verdict
    kept: bool = False


def newest_by_check(past: Sequence[PastSetup]) -> dict[Check, tuple[Newest, ...]]:
    """Every place that was ever read, by its check, bass side first. Only the setups that it was last read
    in are judged."""
    ordered = sorted(past, key=lambda p: p.started_at, reverse=True)
    read_in: dict[Slot, PastSetup | None] = {}
    places, settled = _Places(), set[str]()
    for setup in ordered:
        # After the first few setups there is nothing new in most.
        for key in setup.journal.ever_read - settled:
            slot = places.of(setup.spec).get(key)
            newest = setup.journal.newest_reading(key)
            if slot is not None and newest is not None and newest.value is not None:
                read_in[slot] = setup
                settled.add(key)
            elif slot is not None:
                read_in.setdefault(slot, None)
    found: dict[Check, list[Newest]] = {check: [] for check in Check}
    for slot in sorted(read_in, key=_bass_first):
        where = read_in[slot]
        found[slot.check].append(_newest(where, slot) if where else _struck_out(ordered, slot, places))
    return {check: tuple(newest) for check, newest in found.items()}


class _Places:
    """The places of each description, made once for all the setups that go by it."""

    def __init__(self) -> None:
        self._of: dict[int, tuple[InstrumentSpec, dict[str, Slot]]] = {}

    def of(self, spec: InstrumentSpec) -> dict[str, Slot]:
        if id(spec) not in self._of:
            # With the description itself, so that its number is not given to another meanwhile.
            self._of[id(spec)] = spec, {slot.key: slot for slot in all_slots(spec)}
        return self._of[id(spec)][1]


def _bass_first(slot: Slot) -> tuple[int, int, str, bool]:
    return -(slot.string or 0), slot.pickup or 0, slot.side.value if slot.side else "", slot.high


def _newest(setup: PastSetup, slot: Slot) -> Newest:
    state = setup.assessment.slot(slot.key)
    assert state.reading is not None, "it was found by its newest reading"
    taken = take(setup.case, slot, state.reading)
    return Newest(slot, state.label, taken, state.verdict, state.accepted and state.measured)


def _struck_out(ordered: Sequence[PastSetup], slot: Slot, places: _Places) -> Newest:
    """Everything read here was struck through: the place is listed, so that the readings can be found."""
    newest = next(setup for setup in ordered if slot.key in places.of(setup.spec))
    return Newest(slot, slot_label(newest.spec, slot), None, Verdict(Word.NOT_MEASURED))
