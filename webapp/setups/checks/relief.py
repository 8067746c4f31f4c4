"""Relief: the bow of the neck."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from webapp.setups.advice.rod import rod_advice
from webapp.setups.case import Case
from webapp.setups.checks.common import blank, check_state, first_open, judged
from webapp.setups.convert import relief_factor, relief_way
from webapp.setups.journal import Entry, Part
from webapp.setups.slots import Slot
from webapp.setups.states import CheckState, SlotState
from webapp.trade.words import Check

SLOT = Slot(Check.RELIEF)


def relief_state(case: Case) -> SlotState:
    """The relief reading said the family's standard way, judged and answered."""
    reading = case.journal.newest_reading(SLOT.key)
    if reading is None or reading.value is None:
        return blank(case, SLOT)
    factor = relief_factor(case.spec, relief_way(reading, case.relief_standard), case.relief_standard)
    standard = reading.value * factor
    state = judged(case, SLOT, standard, (reading.error or 0.0) * abs(factor), reading)
    settled = settles_at(case)
    state = replace(state, provisional=settled is not None and taken_at(case, reading) < settled)
    if not state.measured:
        return state
    return replace(state, advice=rod_advice(case, reading, standard, state.verdict))


def taken_at(case: Case, reading: Entry) -> datetime:
    """When the gauge was there: a correction typed later does not move the reading in time."""
    return case.journal.stands_for(reading).at


def settles_at(case: Case) -> datetime | None:
    """When the rod will have settled after its last turn; None where it was not turned."""
    turned = case.journal.last_turn(Part.ROD)
    return turned.at + timedelta(hours=case.trade.rod.settle_hours) if turned else None


def read_again_at(case: Case) -> datetime | None:
    """When relief should be read once more: the rod was turned, and not read since it settled."""
    settled = settles_at(case)
    reading = case.journal.newest_reading(SLOT.key)
    if settled is None or (reading is not None and taken_at(case, reading) >= settled):
        return None
    return settled


def assess_relief(case: Case) -> CheckState:
    """One slot: measure, then turn or keep."""
    state = relief_state(case)
    return check_state(Check.RELIEF, [state], first_open([[state]]))
