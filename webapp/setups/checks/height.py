"""String height: the outer strings, then the inner ones from the board's radius, then every fret by ear."""

from __future__ import annotations

from dataclasses import replace

from webapp.setups import buzz
from webapp.setups.advice.model import Advice
from webapp.setups.advice.saddle import expected_inner, height_advice, raise_for_buzz
from webapp.setups.case import Case
from webapp.setups.checks.common import blank, check_state, first_open, judged, kept_since
from webapp.setups.convert import STANDARD_HEIGHT, height_between, height_way
from webapp.setups.journal import Entry
from webapp.setups.slots import Slot, slot_groups, string_label, string_numbers
from webapp.setups.states import Act, CheckState, RepairItem, SlotState, Step
from webapp.setups.verdicts import Verdict, Word
from webapp.trade.words import Check

BUZZ = "height.buzz"
BUZZED_LOWER = (
    "A little above the usual target, but lower it buzzed: leave it here. "
    "Touch by test makes targets of your own."
)


def standard_height(case: Case, slot: Slot, reading: Entry) -> tuple[float, float]:
    """The reading as it would be at 12, held at 1, and its error said the same way."""
    assert slot.string is not None and reading.value is not None
    way = height_way(reading)
    k = case.neck.curvature_per_mm
    nut_gap = case.nut_gap_mm(slot.string)
    standard, moved = (
        height_between(case.spec, slot.string, value, way, STANDARD_HEIGHT, k, nut_gap)
        for value in (reading.value, reading.value + 1.0)
    )
    return standard, (reading.error or 0.0) * abs(moved - standard)


def height_states(case: Case) -> tuple[tuple[SlotState, ...], ...]:
    """Every string's state, in groups: outer strings, inner strings."""
    groups = slot_groups(case.spec, Check.HEIGHT)
    outer = tuple(_read(case, slot) for slot in groups[0])
    inner = tuple(_inner(case, _read(case, slot), outer) for slot in groups[1]) if len(groups) > 1 else ()
    board = _current_board(case)
    low = all(s.standard is not None and s.standard < s.bands.target.middle for s in outer)
    return tuple(
        tuple(_advised(case, state, board, low) for state in group) for group in (outer, inner) if group
    )


def _read(case: Case, slot: Slot) -> SlotState:
    reading = case.journal.newest_reading(slot.key)
    if reading is None or reading.value is None:
        return blank(case, slot)
    standard, error = standard_height(case, slot, reading)
    return judged(case, slot, standard, error, reading)


def _inner(case: Case, state: SlotState, outer: tuple[SlotState, ...]) -> SlotState:
    ends = [s.standard for s in outer if s.measured and s.standard is not None]
    if len(ends) < 2:
        return state
    expected = expected_inner(case, state.slot, (ends[0], ends[-1]))
    state = replace(state, expected=expected)
    most = case.trade.practice.doubt.inner_height_mm
    if not state.measured or state.standard is None or abs(state.standard - expected) <= most:
        return state
    why = f"Its outer neighbours say about {case.say.length(expected)} here."
    return replace(state, verdict=Verdict(Word.MEASURE_AGAIN, why=why))


def _advised(case: Case, state: SlotState, board: Entry | None, outer_low: bool) -> SlotState:
    if not state.measured or state.reading is None or state.standard is None:
        return state
    assert state.slot.string is not None
    found = buzz.buzz_of(board, state.slot.string)
    if (
        board
        and found
        and found.pattern is buzz.Pattern.MANY
        and state.verdict.word is not Word.MEASURE_AGAIN
    ):
        kept = kept_since(case, state.slot.key, board.id)
        return replace(
            state, advice=_raise(case, state, found, outer_low), accepted=kept, buzz_frets=found.frets
        )
    if state.verdict.word is Word.TOUCH_HIGH and _buzzed_lower(case, state):
        return replace(state, advice=Advice(BUZZED_LOWER))
    advice = height_advice(case, state.slot, state.reading, state.standard, state.verdict, state.expected)
    return replace(state, advice=advice)


def _buzzed_lower(case: Case, state: SlotState) -> bool:
    """Whether this string was heard to buzz all along when it stood lower: then lower is no way to go."""
    assert state.slot.string is not None and state.standard is not None
    for board in case.journal.observations(BUZZ):
        found = buzz.buzz_of(board, state.slot.string)
        before = [r for r in case.journal.readings(state.slot.key) if r.id < board.id]
        if found and found.pattern is buzz.Pattern.MANY and before:
            return standard_height(case, state.slot, before[-1])[0] < state.standard
    return False


def _raise(case: Case, state: SlotState, found: buzz.StringBuzz, outer_low: bool) -> Advice:
    frets = ", ".join(str(fret) for fret in found.frets)
    means = f"It buzzes at frets {frets}: the string wants to stand a little higher."
    return raise_for_buzz(case, state.slot, means, state.reading, outer_low)


def _current_board(case: Case) -> Entry | None:
    board = buzz.newest_board(case.journal)
    return None if board is None or buzz.board_outdated(case.journal, board) else board


def buzz_notes(case: Case) -> tuple[str, ...]:
    """What the newest buzz board says, string by string."""
    return tuple(_note(case, found) for found in buzz.string_buzzes(_current_board(case)))


def _note(case: Case, found: buzz.StringBuzz) -> str:
    name = string_label(case.spec, found.number)
    if found.pattern is buzz.Pattern.OPEN_ONLY:
        return f"{name}: buzzes open only. That points to the nut, which comes next."
    if found.pattern is buzz.Pattern.ONE_FRET:
        fret = next(f for f in found.frets if f)
        return f"{name}: buzzes only when fretted at {fret}. One uneven fret is a repairer's job."
    return f"{name}: buzzes at several frets. Raise it a little."


def buzz_repairs(case: Case) -> tuple[RepairItem, ...]:
    """Single buzzing frets, for the repairer."""
    return tuple(
        RepairItem(
            Check.HEIGHT,
            f"{string_label(case.spec, found.number)}: buzzes only when fretted at "
            f"{next(f for f in found.frets if f)}. Check the frets just above it for a high or worn one.",
        )
        for found in buzz.string_buzzes(_current_board(case))
        if found.pattern is buzz.Pattern.ONE_FRET
    )


def open_buzzes(case: Case, number: int) -> bool:
    """Whether the open string was heard to rattle, the last time every fret was plucked."""
    found = buzz.buzz_of(buzz.newest_board(case.journal), number)
    return found is not None and found.open


def assess_height(case: Case) -> CheckState:
    """Outer strings, inner strings, then the ear."""
    groups = height_states(case)
    states = [state for number in string_numbers(case.spec) for group in groups for state in group
              if state.slot.string == number]  # fmt: skip
    step = first_open(groups)
    if step is None and _current_board(case) is None:
        step = Step(Act.LISTEN, Check.HEIGHT, BUZZ, "Pluck every fret and mark what buzzes")
    return check_state(Check.HEIGHT, states, step, buzz_notes(case))
