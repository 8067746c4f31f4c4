"""How far a turn takes its saddle or post, for whoever looks at that instead of the screw."""

from __future__ import annotations

from webapp.setups.case import Case
from webapp.setups.journal import Part, Turn


def travel_mm(case: Case, turn: Turn, change: float) -> float | None:
    """How far the screw of a string takes its saddle, mm without a sign, where its place's reading is to
    change by so much (mm of height, cents); None for a turn that has no string of its own."""
    if turn.string is None:
        return None
    index = case.spec.index_of(turn.string)
    if turn.part is Part.SADDLE_POSITION:
        return abs(change / float(case.frame.tuning_gains[index]))
    if turn.part is Part.SADDLE_HEIGHT:
        return abs(change * float(case.frame.per_action[index]))
    return None
