"""Nut: the gap of every open string over the first fret."""

from __future__ import annotations

from dataclasses import replace

from webapp.setups.advice.nut import nut_advice
from webapp.setups.case import Case
from webapp.setups.checks.common import blank, check_state, first_open, judged
from webapp.setups.checks.height import open_buzzes
from webapp.setups.slots import Slot, slots_of
from webapp.setups.states import CheckState, SlotState
from webapp.trade.words import Check


def nut_state(case: Case, slot: Slot) -> SlotState:
    """One string at the nut."""
    reading = case.journal.newest_reading(slot.key)
    if reading is None or reading.value is None:
        return blank(case, slot)
    state = judged(case, slot, reading.value, reading.error or 0.0, reading)
    if not state.measured:
        return state
    assert slot.string is not None
    advice = nut_advice(case, slot, reading.value, state.verdict, open_buzzes(case, slot.string))
    return replace(state, advice=advice)


def assess_nut(case: Case) -> CheckState:
    """All strings in one go; nothing here is turned by the player."""
    states = [nut_state(case, slot) for slot in slots_of(case.spec, Check.NUT)]
    return check_state(Check.NUT, states, first_open([states]))
