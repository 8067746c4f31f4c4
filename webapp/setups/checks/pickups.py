"""Pickups: both sides of each, then by ear."""

from __future__ import annotations

from dataclasses import replace

from webapp.setups.advice.pickup import pickup_advice
from webapp.setups.case import Case
from webapp.setups.checks.common import blank, check_state, first_open, judged, not_here
from webapp.setups.journal import Entry, Part
from webapp.setups.slots import Slot, slot_groups
from webapp.setups.states import Act, CheckState, SlotState, Step
from webapp.trade.words import Check

EAR = "pickups.ear"


def pickup_state(case: Case, slot: Slot) -> SlotState:
    """One side of one pickup."""
    reading = case.journal.newest_reading(slot.key)
    if reading is None or reading.value is None:
        return blank(case, slot)
    state = judged(case, slot, reading.value, reading.error or 0.0, reading)
    if not state.measured:
        return state
    return replace(state, advice=pickup_advice(case, slot, reading, state.verdict))


def newest_listening(case: Case) -> Entry | None:
    """The last answer about the sound, unless the pickups or what stands over them moved since."""
    heard = case.journal.observations(EAR)
    if not heard:
        return None
    parts = (Part.PICKUP_HEIGHT, Part.SADDLE_HEIGHT, Part.ROD, Part.STRINGS)
    newer = any(t.id > heard[-1].id and t.turn.part in parts for t in case.journal.turns)
    return None if newer else heard[-1]


def ear_notes(case: Case) -> tuple[str, ...]:
    """What to do about what was heard."""
    answer = newest_listening(case)
    heard = set(answer.detail.get("heard", ())) if answer else set()
    return tuple(f"{s.label}: {s.says}" for s in case.trade.ear if s.key in heard)


def assess_pickups(case: Case) -> CheckState:
    """Measure and adjust each pickup, then listen."""
    if not case.spec.pickups:
        return not_here(Check.PICKUPS)
    groups = [
        tuple(pickup_state(case, slot) for slot in group) for group in slot_groups(case.spec, Check.PICKUPS)
    ]
    step = first_open(groups)
    if step is None and newest_listening(case) is None:
        step = Step(Act.LISTEN, Check.PICKUPS, EAR, "Plug in and listen")
    return check_state(Check.PICKUPS, [s for group in groups for s in group], step, ear_notes(case))
