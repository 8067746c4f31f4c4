"""What the next reading of a slot should show, where anything is known about it."""

from __future__ import annotations

from math import hypot

from webapp.physics.neck import action_per_relief
from webapp.setups.advice.model import Forecast
from webapp.setups.case import Case
from webapp.setups.convert import height_way
from webapp.setups.journal import Entry, Part
from webapp.setups.learning import action_pull, pull_basis, rod_basis, rod_response, standard_relief_reading
from webapp.setups.states import SlotState
from webapp.trade.words import Check


def expected_reading(case: Case, state: SlotState) -> Forecast | None:
    """The forecast for the next reading of a slot, in the way it was last read; None where nothing is known.

    After a turn made for this slot: what that turn was to do. A height after a turn of the rod: what the
    rod's pull on the action makes of it. An inner string not read yet: what its outer neighbours say.
    """
    reading = state.reading
    if reading is None:
        if state.expected is None:
            return None
        return Forecast(state.expected, 0.0, "the outer strings: at fret 12, held at 1")
    if state.outdated_by is None:
        return None
    later = [turn for turn in case.journal.turns if turn.id > reading.id and turn.turn.outdates(state.slot)]
    own = [turn for turn in later if turn.slot == state.slot.key and "expected" in turn.detail]
    if own and len(own) == len(later):
        return _as_logged(own[-1]) if len(own) == 1 else None
    if state.slot.check is Check.HEIGHT and all(turn.turn.part is Part.ROD for turn in later):
        return _after_rod(case, state, reading, later)
    return None


def _as_logged(turn: Entry) -> Forecast:
    detail = turn.detail
    basis = str(detail.get("basis", "the last turn"))
    return Forecast(float(detail["expected"]), float(detail.get("spread", 0.0)), basis)


def _after_rod(case: Case, state: SlotState, reading: Entry, turns: list[Entry]) -> Forecast | None:
    """The last height plus what the neck's change of relief does to it, read the way it was read."""
    if reading.value is None:
        return None
    gained, spread, basis = _relief_gained(case, reading, turns)
    pull = action_pull(case)
    spec, frets, way = case.spec, case.relief_standard.frets, height_way(reading)
    # The pull is stated at 12, held at 1; read elsewhere, the same bow shows by another share.
    share = action_per_relief(spec.joint_fret, spec.fret_count, frets, way.hold, way.gap) / action_per_relief(
        spec.joint_fret, spec.fret_count, frets
    )
    moved = pull.mean * gained * share
    error = hypot(hypot(pull.mean * spread, pull.spread * gained) * share, reading.error or 0.0)
    return Forecast(reading.value + moved, error, f"{basis}, and {pull_basis(pull)}")


def _relief_gained(case: Case, height: Entry, turns: list[Entry]) -> tuple[float, float, str]:
    """Relief gained since the height was read, mm the standard way, its error, and where it is from."""
    before = [r for r in case.journal.readings("relief") if r.id < turns[0].id]
    after = [r for r in case.journal.readings("relief") if r.id > turns[-1].id]
    if before and after:
        (old, error), (new, other) = (standard_relief_reading(case, r) for r in (before[-1], after[-1]))
        return new - old, hypot(error, other), "the relief read before and after"
    eighths = sum(turn.turn.eighths for turn in turns)
    response = rod_response(case)
    moved = -eighths * response.mean_mm_per_eighth
    return moved, abs(eighths) * response.spread_mm, rod_basis(case, response)
