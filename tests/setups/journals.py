"""A bench to write a journal at: entries with growing ids and times, and what the heart makes of them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from webapp.physics.numbers import Unit
from webapp.setups.assess import assess_case
from webapp.setups.belief.reading import entry_detail
from webapp.setups.case import Case
from webapp.setups.checks import height, pickups, playtest
from webapp.setups.journal import KEPT, START_PLACE, Entry, EntryKind, Journal, Part, Turn, turn_detail
from webapp.setups.say import Say
from webapp.setups.slots import Slot, all_slots, parse_slot, string_numbers
from webapp.setups.states import Assessment, SlotState, Step
from webapp.trade.content import Trade, load_trade
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check, Side

CONTENT = Path(__file__).parents[2] / "content"
MORNING = datetime(2025, 3, 1, 9, 0, tzinfo=UTC)
BETWEEN = timedelta(minutes=1)

BASS, GUITAR, POSTS = "bass_4_34", "electric_6", "electric_6_posts"
ACOUSTIC, CLASSICAL = "acoustic_6", "classical_6"


@cache
def the_trade() -> Trade:
    """What the repository's content folder says."""
    return load_trade(CONTENT)


def spec_of(kind: str = BASS, **changes: Any) -> InstrumentSpec:
    """An instrument of a kind, changed in a few fields; `rod`, `bridge` and `pickups` take dicts of changes.

    A dict for `pickups` changes every pickup alike.
    """
    spec = the_trade().kinds[kind].spec
    fields: dict[str, Any] = {}
    for name, value in changes.items():
        if name in ("rod", "bridge"):
            fields[name] = getattr(spec, name).model_copy(update=value)
        elif name == "pickups" and isinstance(value, dict):
            fields[name] = tuple(one.model_copy(update=value) for one in spec.pickups)
        else:
            fields[name] = value
    changed = spec.model_copy(update=fields)
    return InstrumentSpec.model_validate(changed.model_dump())


_TOOLS = {Check.RELIEF: "feeler", Check.NUT: "feeler", Check.HEIGHT: "gauge", Check.PICKUPS: "gauge",
          Check.INTONATION: "tuner"}  # fmt: skip
_CHECK_OF_PART = {Part.ROD: Check.RELIEF, Part.SADDLE_HEIGHT: Check.HEIGHT, Part.NUT: Check.NUT,
                  Part.SADDLE_POSITION: Check.INTONATION, Part.PICKUP_HEIGHT: Check.PICKUPS,
                  Part.STRINGS: Check.START, Part.SPRINGS: Check.HEIGHT}  # fmt: skip


class Bench:
    """One setup being written, a minute between two entries."""

    def __init__(self, spec: InstrumentSpec | str = BASS, unit: Unit = Unit.mm, **changes: Any) -> None:
        self.spec = spec_of(spec, **changes) if isinstance(spec, str) else spec
        self.trade = the_trade()
        self.unit = unit
        self.entries: list[Entry] = []
        self.past: tuple[Journal, ...] = ()
        self.now = MORNING

    def another(self, **later: float) -> Bench:
        """The next setup of the same instrument, so much later: another(days=90)."""
        bench = Bench(self.spec, self.unit)
        bench.past = (*self.past, Journal.of(self.entries))
        bench.now = self.now + timedelta(**later)
        return bench

    # writing

    def _write(self, kind: EntryKind, check: Check, slot: str, **fields: Any) -> Entry:
        self.now += BETWEEN
        number = sum(len(journal.entries) for journal in self.past) + len(self.entries) + 1
        entry = Entry(kind, check, slot, **fields, id=number, at=self.now)
        self.entries.append(entry)
        return entry

    def wait(self, **time: float) -> None:
        """Let some time pass: wait(hours=13)."""
        self.now += timedelta(**time)

    def reading(self, key: str, value: float | None = None, *, tool: str = "", error: float | None = None,
                voids: int | None = None, **detail: Any) -> Entry:  # fmt: skip
        """Read a slot with a good tool, or the one named; without a value, the middle of its target."""
        slot = parse_slot(key, self.spec)
        if value is None:
            value = self.middle(slot)
        if slot.check is Check.INTONATION:
            detail.setdefault("fret", self.case().intonation_fret(slot))
        return self._write(
            EntryKind.READING,
            slot.check,
            key,
            value=value,
            unit="cents" if slot.check is Check.INTONATION else "mm",
            typed=f"{value:g}",
            tool=tool or _TOOLS[slot.check],
            error=error,
            detail=detail,
            voids=voids,
        )

    def said(self, key: str, method: str, answer: str, **detail: Any) -> Entry:
        """Read a slot with a method that gives words: a card, an ear, a tuner without numbers."""
        way = self.trade.method(parse_slot(key, self.spec).check, method)
        value, more = entry_detail(self.trade, way, answer=answer)
        return self.reading(key, value, tool=way.tool, **more, **detail)

    def read_fret(self, number: int, role: str, fret: int, cents: float) -> Entry:
        """Read the tuning of any fret of a string, as the page over the whole board does."""
        return self._write(
            EntryKind.READING, Check.INTONATION, f"intonation.{number}.{role}",
            value=cents, unit="cents", typed=f"{cents:g}", tool="tuner",
            detail={"fret": fret},
        )  # fmt: skip

    def turn(self, part: Part, eighths: int = 0, string: int | None = None,
             pickup: int | None = None, side: Side | None = None) -> Entry:  # fmt: skip
        """Turn, move or change something."""
        return self.log(Turn(part, eighths, string, pickup, side))

    def log(self, turn: Turn) -> Entry:
        """The same for a turn that is already made, such as an advised one."""
        return self._write(
            EntryKind.ADJUSTMENT, _CHECK_OF_PART[turn.part], "log", detail=turn_detail(turn)
        )  # fmt: skip

    def observe(self, place: str, **detail: Any) -> Entry:
        """Answer a question page."""
        return self._write(EntryKind.OBSERVATION, Check(place.split(".")[0]), place, detail=detail)

    def keep(self, key: str) -> Entry:
        """'I like it so.'"""
        return self.observe(key, answer=KEPT)

    def stuck(self, key: str, outcome: str, way: int = 1) -> Entry:
        """What a screw did instead: no_room, will_not_move, creaks; `way` is the turn's sign."""
        return self.observe(key, answer=outcome, way=way)

    def void(self, entry: Entry) -> Entry:
        """Strike an entry through."""
        return self._write(EntryKind.VOID, entry.check, entry.slot, voids=entry.id)

    def correct(self, entry: Entry, value: float) -> Entry:
        """Type a reading anew; the old one is struck through."""
        assert entry.value is not None
        return self.reading(
            entry.slot, value, tool=entry.tool, error=entry.error, voids=entry.id, **entry.detail
        )

    def note(self, text: str) -> Entry:
        return self._write(EntryKind.NOTE, Check.START, "log", typed=text)

    # whole stretches

    def start(self, *stoppers: str) -> Bench:
        """Get ready; with stoppers, something ends the setup."""
        self.observe(START_PLACE, stoppers=list(stoppers), age="fresh")
        return self

    def buzz(self, *taps: tuple[int, int]) -> Entry:
        """Pluck every fret; each tap is (string, fret), 0 = open."""
        return self.observe(height.BUZZ, taps=[list(tap) for tap in taps], touch="medium")

    def read(self, *checks: Check) -> Bench:
        """Read every slot of these checks in the middle of its target."""
        for slot in all_slots(self.spec):
            if slot.check in checks:
                self.reading(slot.key)
        return self

    def up_to(self, check: Check) -> Bench:
        """Do everything before a check, mid-target, nothing turned."""
        for done in Check:
            if done is check:
                break
            self.finish_check(done)
        return self

    def finish_check(self, check: Check) -> Bench:
        """Do one whole check as well as it can go."""
        if check is Check.START:
            self.start()
        self.read(check)
        if check is Check.HEIGHT:
            self.buzz()
        if check is Check.PICKUPS and self.spec.pickups:
            self.observe(pickups.EAR, heard=[])
        if check is Check.PLAYTEST:
            self.observe(playtest.PLACE, symptoms=[], signed=True)
        return self

    # asking

    def middle(self, slot: Slot) -> float:
        return self.case().bands(slot).target.middle

    def case(self, entries: Iterable[Entry] | None = None) -> Case:
        journal = Journal.of(self.entries if entries is None else entries)
        return Case(self.spec, self.trade, journal, self.now, Say(self.unit), self.past)

    def assess(self) -> Assessment:
        return assess_case(self.case())

    def state(self, key: str) -> SlotState:
        return self.assess().slot(key)

    @property
    def next(self) -> Step:
        return self.assess().next

    @property
    def moved(self) -> set[str]:
        """The keys of the slots that a turn moved since they were last read."""
        states = (state for check in self.assess().checks.values() for state in check.slots)
        return {state.slot.key for state in states if state.moved_by is not None}

    @property
    def numbers(self) -> tuple[int, ...]:
        return string_numbers(self.spec)

    def keys(self, *checks: Check) -> set[str]:
        """Every slot key of these checks."""
        return {slot.key for slot in all_slots(self.spec) if slot.check in checks}


def all_kinds() -> tuple[str, ...]:
    """Every kind in content/."""
    return tuple(sorted(path.stem for path in (CONTENT / "kinds").glob("*.toml")))
