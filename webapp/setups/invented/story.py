"""The demo's two years: invented instruments that drift with the room, and an owner who reads and turns.

Everything comes from content/demo.toml, a seed and the date: what the owner turns is what the advice says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from random import Random
from typing import Any

from webapp.physics.numbers import write_number
from webapp.setups.air_log.daily import DailyAir, air_of, conditions
from webapp.setups.assess import assess_case
from webapp.setups.belief.reading import entry_detail
from webapp.setups.case import Case
from webapp.setups.checks import READ_CHECKS, height, pickups, playtest
from webapp.setups.invented.instrument import Piece, new_piece, room_air
from webapp.setups.journal import (
    DRIFT_PLACE,
    OF_NO_CHECK,
    QUICK,
    START_PLACE,
    Entry,
    EntryKind,
    Journal,
    Part,
    Turn,
    quick_slots,
    turn_detail,
)
from webapp.setups.say import turn_words
from webapp.setups.seasons.due import age_key, strings_due_at
from webapp.setups.slots import RELIEF, Slot, check_of, parse_slot, string_numbers
from webapp.setups.states import Act, Assessment, SlotState, Step
from webapp.trade.content import Trade
from webapp.trade.demo import DemoInstrument
from webapp.trade.spec import InstrumentSpec
from webapp.trade.tools import ReadingMethod
from webapp.trade.words import Check

BETWEEN = timedelta(minutes=2)
MOST_STEPS = 250
# The air is known for so long before the first setup: the wood remembers it.
AIR_BEFORE_DAYS = 120
_HYGROMETER_PERCENT = 1.5
_DAY_SCATTER_MM = 0.012


@dataclass(frozen=True)
class TellingSetup:
    """One setup or quick check of the story: its entries in order, each with the time it was made.

    The entries' ids only order them within the instrument's story.
    """

    started_at: datetime
    quick: bool
    finished: bool
    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class Story:
    """One invented instrument and everything its owner wrote down, oldest first."""

    spec: InstrumentSpec
    setups: tuple[TellingSetup, ...]


def demo_air(trade: Trade, now: datetime) -> dict[Any, tuple[float, float]]:
    """The room's daily means, up to the day before `now`."""
    oldest = max(max(one.habits.setup_days_ago) for one in trade.demo.instrument)
    first = now - timedelta(days=oldest + AIR_BEFORE_DAYS)
    return room_air(trade.demo.room, first.date(), (now - timedelta(days=1)).date())


def tell(trade: Trade, told: DemoInstrument, daily: DailyAir, now: datetime) -> Story:
    """The story of one instrument up to `now` (UTC); the same seed, air and day tell it the same way."""
    spec = told.spec_from(trade.kinds[told.kind].spec)
    teller = _Teller.begin(Case(spec, trade, Journal(()), now), told, daily, now)
    plan = [(days, "setup") for days in told.habits.setup_days_ago]
    if told.habits.left_off_days_ago is not None:
        plan.append((told.habits.left_off_days_ago, "left off"))
    plan += [(days, "quick") for days in _quick_days(told, teller.rng)]
    for days_ago, what in sorted(plan, reverse=True):
        teller.at = now - timedelta(days=days_ago)
        teller.tell(what)
    return Story(spec, tuple(teller.done))


def _quick_days(told: DemoInstrument, rng: Random) -> list[float]:
    """Quick checks every few weeks, none within a few days of a setup."""
    setups = [*told.habits.setup_days_ago, told.habits.left_off_days_ago or 0.0]
    days = max(setups)
    found: list[float] = []
    while True:
        days -= told.habits.quick_every_days * rng.uniform(0.7, 1.3)
        if days < 2:
            return found
        if all(abs(days - other) > 4 for other in setups):
            found.append(round(days, 2))


@dataclass
class _Teller:
    """Writes one instrument's journals, entry by entry."""

    case: Case
    piece: Piece
    daily: DailyAir
    rng: Random
    at: datetime
    done: list[TellingSetup] = field(default_factory=list)
    past: tuple[Journal, ...] = ()
    entries: list[Entry] = field(default_factory=list)
    count: int = 0
    air_noted: Mapping[str, float] = field(default_factory=dict)
    off_mm: float = 0.0

    @classmethod
    def begin(cls, case: Case, told: DemoInstrument, daily: DailyAir, now: datetime) -> _Teller:
        rng = Random(told.seed)
        begins = now - timedelta(days=told.habits.setup_days_ago[0])
        air = air_of(conditions((), daily))
        return cls(case, new_piece(case, told, air, begins, rng), daily, rng, begins)

    def tell(self, what: str) -> None:
        """One setup or quick check, from its start to its end."""
        started = self.at
        self.air_noted = self._hygrometer()
        # One day's reading differs a little from the next, and all of a day's readings share that.
        self.off_mm = self.rng.gauss(0, _DAY_SCATTER_MM)
        if what == "quick":
            self._quick()
        else:
            self._setup(left_off=what == "left off")
        self.done.append(TellingSetup(started, what == "quick", what != "left off", tuple(self.entries)))
        self.past = (*self.past, Journal(tuple(self.entries)))
        self.entries = []

    def _hygrometer(self) -> dict[str, float]:
        temperature, humidity = self.daily[min(self.at.date(), max(self.daily))]
        humidity = min(max(humidity + self.rng.gauss(0, _HYGROMETER_PERCENT), 5.0), 95.0)
        return {"temperature_c": round(temperature * 2) / 2, "humidity_percent": float(round(humidity))}

    # what is done

    def _quick(self) -> None:
        self._observe(START_PLACE, {QUICK: True, "age": self._age(), "done": [], "stoppers": []})
        for slot in quick_slots(self.case.spec):
            self._read(slot)
        numbers = string_numbers(self.case.spec)
        cents = {str(n): float(round(self.rng.gauss(-3, 4))) for n in numbers}
        self._observe(DRIFT_PLACE, {"cents": cents}, OF_NO_CHECK)

    def _setup(self, left_off: bool) -> None:
        sheet = self.case.trade.start
        done = [item.key for item in sheet.items]
        due = strings_due_at(self._now())
        self._observe(START_PLACE, {"done": done, "age": self._age(), "stoppers": []})
        if due is None or due <= self.at:
            self._new_strings()
        for _ in range(MOST_STEPS):
            found = assess_case(self._now())
            called_away = left_off and found.next.check is not RELIEF.check
            if called_away or found.next.act in (Act.FINISH, Act.STOP):
                break
            self._do(found, found.next)
        if left_off:
            self._leave_off()

    def _leave_off(self) -> None:
        """Called away in the middle: an eighth of the rod to try, read once, and the rest another day."""
        if self._now().journal.last_turn(Part.ROD) is None:
            high = self.piece.relief(self.at) >= self.case.bands_relief.target.low + 0.05
            self._turn(Turn(Part.ROD, eighths=1 if high else -1), RELIEF.key)
            self._read(RELIEF)

    def _new_strings(self) -> None:
        """Read before and after, so that what the new set does can be told from what the air did."""
        for slot in quick_slots(self.case.spec):
            self._read(slot)
        self.piece.restring(self.rng)
        self._turn(Turn(Part.STRINGS), "log")

    def _do(self, found: Assessment, step: Step) -> None:
        """Obey: several places at once where the step says so, and after a night's rest go on."""
        if step.act is Act.MEASURE:
            for place in step.places:
                self._read(parse_slot(place, self.case.spec))
        elif step.act is Act.DECIDE:
            self._decide([found.slot(place) for place in step.places])
        elif step.act is Act.REST:
            self.at += timedelta(hours=step.hours)
            self._read(parse_slot(step.place, self.case.spec))
        else:
            detail: dict[str, dict[str, Any]] = {
                height.BUZZ: {"taps": [], "touch": self.case.spec.touch.value},
                pickups.EAR: {"heard": []},
                playtest.PLACE: {"symptoms": [], playtest.SIGNED: True},
            }
            self._observe(step.place, detail[step.place])

    def _decide(self, states: Sequence[SlotState]) -> None:
        """Turn what the advice says; what several places ask for alike, once."""
        turned: set[Turn] = set()
        for state in states:
            advice = state.advice
            if advice is None or advice.turn is None or advice.turn in turned:
                continue
            turned.add(advice.turn)
            basis = {"basis": advice.forecast.basis} if advice.forecast else {}
            self._turn(advice.turn, state.slot.key, basis)

    # what is written

    def _read(self, slot: Slot) -> None:
        method = self._method(slot)
        tool = self.case.trade.tools[method.tool]
        value = self.piece.true(self.at, slot) + self.rng.gauss(0, tool.sigma)
        if slot.over_neck:
            value += self.off_mm
        value = round(round(value / tool.division) * tool.division, 2) + 0.0
        value, detail = entry_detail(self.case.trade, method, value)
        self._write(
            EntryKind.READING,
            slot.check,
            slot.key,
            {**READ_CHECKS[slot.check].way(self._now(), slot, None), **detail},
            value=value,
            unit=slot.check.unit,
            typed=write_number(value),
            tool=tool.key,
        )

    def _method(self, slot: Slot) -> ReadingMethod:
        """The owner's own for heights, else the one that is offered first."""
        methods, own = self.case.trade.methods_for(slot.check), self.piece.told.habits.height_method
        return next((m for m in methods if slot.over_neck and m.key == own), methods[0])

    def _observe(self, place: str, detail: Mapping[str, Any], check: Check | None = None) -> None:
        self._write(EntryKind.OBSERVATION, check or check_of(place), place, detail)

    def _turn(self, turn: Turn, place: str, more: Mapping[str, Any] | None = None) -> None:
        self.piece.apply(turn)
        detail = turn_detail(turn) | dict(more or {})
        words = turn_words(self.case.say, turn)
        self._write(EntryKind.ADJUSTMENT, turn.part.check, place, detail, typed=words)

    def _write(
        self, kind: EntryKind, check: Check, slot: str, detail: Mapping[str, Any], **fields: Any
    ) -> None:
        self.count += 1
        self.at += BETWEEN
        noted = {**detail, **self.air_noted}
        self.entries.append(Entry(kind, check, slot, detail=noted, id=self.count, at=self.at, **fields))

    # what is known so far

    def _now(self) -> Case:
        return replace(self.case, journal=Journal(tuple(self.entries)), past=self.past, now=self.at)

    def _age(self) -> str:
        """What the owner answers about the strings: the age that fits best."""
        sheet = self.case.trade.due
        due = strings_due_at(self._now())
        if due is None:
            return "unknown"
        return age_key(sheet, self.at - due + timedelta(days=sheet.string_days[self.case.family]))
