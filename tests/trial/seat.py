"""A setup over the pure core that anybody's simulated player can sit down to.

Only this module of the trial knows the product. It hands on what `assess` says to do, one thing at a time,
and records what the player did as journal entries.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from webapp.setups.assess import assess_case
from webapp.setups.belief.reading import entry_detail
from webapp.setups.buzz_marks import ASKED, next_question
from webapp.setups.case import Case
from webapp.setups.checks import READ_CHECKS
from webapp.setups.checks.height import BUZZ, CAUSE
from webapp.setups.checks.pickups import EAR
from webapp.setups.journal import START_PLACE, Entry, EntryKind, Journal, Part, Turn, turn_detail
from webapp.setups.slots import all_slots, parse_slot
from webapp.setups.states import Act, Assessment, SlotState
from webapp.trade.content import Trade, load_trade
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check, Touch

READING_MINUTES, TURN_MINUTES = 2.0, 4.0
PARTS = {
    Part.ROD: "rod", Part.SADDLE_HEIGHT: "saddle_height", Part.SADDLE_POSITION: "saddle_position",
    Part.PICKUP_HEIGHT: "pickup", Part.SPRINGS: "springs",
}  # fmt: skip


@lru_cache(maxsize=1)
def the_trade() -> Trade:
    return load_trade(Path(__file__).parents[2] / "content")


@dataclass
class Seat:
    """One setup. `told` may name height_thread and intonation_thread; `start` is a time with zone."""

    kind: str
    told: Mapping[str, str] = field(default_factory=dict)
    start: datetime = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
    past: tuple[Journal, ...] = ()

    def __post_init__(self) -> None:
        self.trade = the_trade()
        self.spec = _described(self.trade, self.kind, self.told)
        self.now = self.start
        self.entries: list[Entry] = []
        self._number = max((e.id for j in self.past for e in j.entries), default=0)
        self._queue: list[tuple[Act, SlotState]] = []
        self._told: set[str] = set()
        self._assessed: Assessment | None = None
        done = [item.key for item in self.trade.start.items]
        self._record(
            EntryKind.OBSERVATION, Check.START, START_PLACE, {"done": done, "age": "weeks", "stoppers": []}
        )

    def another(self) -> Seat:
        """A new setup of the same instrument, with all that was recorded before."""
        return Seat(
            self.kind, self.told, self.now + timedelta(hours=1), (*self.past, Journal.of(self.entries))
        )

    # What to do

    def next(self) -> dict[str, Any]:
        """The one next thing."""
        if self._queue:
            act, state = self._queue[0]
            return self._read_this(state) if act is Act.MEASURE else self._turn_this(state)
        step = self.assessment.next
        if step.act in (Act.MEASURE, Act.DECIDE):
            self._queue = self._list(step.act, step.places)
            return self.next()
        if step.act is Act.LISTEN and step.place == BUZZ:
            return {"do": "board", "slot": BUZZ}
        if step.act is Act.REST:
            return {"do": "rest", "slot": step.place, "hours": step.hours}
        if step.act in (Act.ANSWER, Act.LISTEN):
            return self._question(step.place)
        return self._end()

    def _list(self, act: Act, keys: Sequence[str]) -> list[tuple[Act, SlotState]]:
        """What is done in one go, as a page lists it: decided together, and each turn said once."""
        states = [self.assessment.slot(key) for key in keys]
        if act is Act.MEASURE:
            return [(act, state) for state in states]
        turns = {s.advice.turn: s for s in reversed(states) if s.advice is not None and s.wants is act}
        return [(act, state) for state in states if state in turns.values()]

    def _end(self) -> dict[str, Any]:
        for item in self.assessment.repairer:
            if item.text not in self._told:
                self._told.add(item.text)
                return {"do": "repairer", "slot": self._slot_of(item.text, item.check), "why": item.text}
        return {"do": "finish", "slot": ""}

    def _slot_of(self, text: str, check: Check) -> str:
        for state in self.assessment.checks[check].slots:
            if state.advice is not None and state.advice.repairer == text:
                return state.slot.key
        return check.value

    def _read_this(self, state: SlotState) -> dict[str, Any]:
        slot, case = state.slot, self.case
        way = READ_CHECKS[slot.check].way(case, slot, None)
        methods = [
            {
                "key": method.key,
                "unit": "cents" if method.input == "cents" or slot.check is Check.INTONATION else "mm",
                "answers": [choice.key for choice in method.choices],
            }
            for method in self.trade.methods_for(slot.check)
        ]
        known = state.moved_by is not None or state.usual > 0.9
        return {
            "do": "read", "slot": slot.key, "check": slot.check.value, "string": slot.string,
            **{name: way.get(name) for name in ("fret", "hold", "press", "gap")},
            "pickup": slot.pickup, "side": slot.side.value if slot.side else None, "methods": methods,
            "expected": (state.value, state.give) if known else None,
        }  # fmt: skip

    def _turn_this(self, state: SlotState) -> dict[str, Any]:
        advice = state.advice
        assert advice is not None and advice.turn is not None
        turn, forecast = advice.turn, advice.forecast
        part = PARTS[turn.part]
        if turn.part is Part.SADDLE_HEIGHT and turn.string is None:
            part = "post"
        side = turn.side.value if turn.side else ("both" if part == "post" else None)
        expected = {state.slot.key: (forecast.value, forecast.give)} if forecast else {}
        return {
            "do": "turn", "slot": state.slot.key, "part": part, "string": turn.string, "side": side,
            "pickup": turn.pickup, "eighths": turn.eighths, "expected": expected,
        }  # fmt: skip

    def _question(self, place: str) -> dict[str, Any]:
        if place == EAR:
            return {"do": "question", "slot": place, "name": EAR, "choices": [s.key for s in self.trade.ear]}
        if place == CAUSE:
            return {"do": "question", "slot": place, "name": next_question(self.case), "choices": list(ASKED)}
        symptoms = [s.key for q in self.trade.playtest for s in q.symptoms]
        return {"do": "question", "slot": place, "name": "playtest", "choices": symptoms}

    # What was done

    def read(
        self, slot: str, method: str, value: float | None = None, answer: str | None = None,
        step: float | None = None,
    ) -> None:  # fmt: skip
        """A reading: a value in mm or cents with the tool's division, or a word of the method."""
        found = parse_slot(slot, self.spec)
        way = self.trade.method(found.check, method)
        detail = dict(READ_CHECKS[found.check].way(self.case, found, None))
        stored, more = entry_detail(self.trade, way, value, answer, step)
        unit = "cents" if found.check is Check.INTONATION else "mm"
        self._pass(READING_MINUTES)
        self._record(
            EntryKind.READING, found.check, slot, {**detail, **more}, value=stored, unit=unit, tool=way.tool
        )
        self._done(slot)

    def turn(self, slot: str, eighths: int, outcome: str = "done") -> None:
        """A turn as far as it went; where it did not go on, what the screw did."""
        state = next((s for _, s in self._queue if s.slot.key == slot), None) or self.assessment.slot(slot)
        assert state.advice is not None and state.advice.turn is not None, f"nothing to turn at {slot}"
        asked = state.advice.turn
        self._pass(TURN_MINUTES)
        if eighths:
            turn = Turn(asked.part, eighths, asked.string, asked.pickup, asked.side)
            self._record(EntryKind.ADJUSTMENT, state.slot.check, slot, turn_detail(turn))
        if outcome != "done":
            detail = {"answer": outcome, "way": 1 if asked.eighths > 0 else -1}
            self._record(EntryKind.OBSERVATION, state.slot.check, slot, detail)
        self._done(slot)
        if outcome != "done":
            # What is left on the list is looked at again.
            self._queue = self._list(Act.DECIDE, [left.slot.key for _, left in self._queue])

    def board(self, marks: Sequence[tuple[int, int]]) -> None:
        """Every fret plucked: (string, fret) of what buzzes."""
        self._pass(6.0)
        detail = {"taps": [list(mark) for mark in marks], "touch": Touch.MEDIUM.value}
        self._record(EntryKind.OBSERVATION, Check.HEIGHT, BUZZ, detail)

    def answer(self, name: str, choices: Sequence[str]) -> None:
        """The answer to a question; several choices may be true."""
        self._pass(2.0)
        if name == EAR:
            self._record(EntryKind.OBSERVATION, Check.PICKUPS, EAR, {"heard": list(choices)})
        elif name == "playtest":
            detail = {"symptoms": list(choices), "signed": True}
            self._record(EntryKind.OBSERVATION, Check.PLAYTEST, "playtest", detail)
        else:
            told = choices[0] if choices else "unsure"
            self._record(EntryKind.OBSERVATION, Check.HEIGHT, CAUSE, {"asked": name, "answer": told})

    def wait(self, hours: float) -> None:
        """Time passes."""
        self._pass(60 * hours)

    def state(self) -> dict[str, dict[str, Any]]:
        """Every place that has a reading or is settled: heights and relief the family's standard way."""
        found = {}
        for slot in all_slots(self.spec):
            state = self.assessment.slot(slot.key)
            known = slot.key in self.case.belief.read or state.settled
            found[slot.key] = {
                "word": state.verdict.word.value,
                "value": state.value if known else None,
                "give_or_take": state.give if known else None,
                "usual": state.usual, "target": state.target, "settled": state.settled,
            }  # fmt: skip
        return found

    # The journal

    @property
    def case(self) -> Case:
        return Case(self.spec, self.trade, Journal.of(self.entries), self.now, past=self.past)

    @property
    def assessment(self) -> Assessment:
        if self._assessed is None:
            self._assessed = assess_case(self.case)
        return self._assessed

    def _pass(self, minutes: float) -> None:
        self.now += timedelta(minutes=minutes)
        self._assessed = None

    def _done(self, slot: str) -> None:
        self._queue = [one for one in self._queue if one[1].slot.key != slot]

    def _record(self, kind: EntryKind, check: Check, slot: str, detail: dict[str, Any], **more: Any) -> None:
        self._number += 1
        self.entries.append(Entry(kind, check, slot, detail=detail, **more, id=self._number, at=self.now))
        self._assessed = None


def _described(trade: Trade, kind: str, told: Mapping[str, str]) -> InstrumentSpec:
    spec = trade.kinds[kind].spec
    bridge = spec.bridge.model_copy(
        update={k: v for k, v in told.items() if k in ("height_thread", "intonation_thread")}
    )
    return spec.model_copy(update={"bridge": bridge})
