"""Intonation: each string at 12 and at a high fret, against its own tuned open note."""

from __future__ import annotations

from dataclasses import replace

from webapp.setups.advice.tuning import contradicts, intonation_advice
from webapp.setups.case import Case
from webapp.setups.checks.common import blank, check_state, first_open, judged
from webapp.setups.slots import Slot, slot_groups, string_label
from webapp.setups.states import CheckState, SlotState
from webapp.setups.verdicts import Verdict, Word
from webapp.trade.words import Check


def string_states(case: Case, group: tuple[Slot, ...]) -> tuple[SlotState, ...]:
    """Both readings of one string; the advice weighs them together."""
    states = tuple(_read(case, slot) for slot in group)
    if not all(state.measured for state in states):
        return states
    states = _doubted(case, states)
    # A doubted reading that the player read again and kept is believed.
    if any(state.verdict.word is Word.MEASURE_AGAIN and not state.accepted for state in states):
        return states
    number = group[0].string
    assert number is not None
    readings = {case.intonation_fret(s.slot): s.reading for s in states if s.reading is not None}
    advice = intonation_advice(case, number, readings, any(not s.verdict.settled for s in states))
    # The two frets are one question: "I like it so" at one answers both. Standing by a doubted reading
    # is no such answer: it only says that the number is right.
    kept = any(s.accepted and s.verdict.word is not Word.MEASURE_AGAIN for s in states)
    return tuple(replace(state, advice=advice, accepted=kept or state.accepted) for state in states)


def _read(case: Case, slot: Slot) -> SlotState:
    reading = case.journal.newest_reading(slot.key)
    if reading is None or reading.value is None:
        state = blank(case, slot)
    else:
        state = judged(case, slot, reading.value, reading.error or 0.0, reading)
    assert slot.string is not None
    fret = case.intonation_fret(slot)
    return replace(state, label=f"{string_label(case.spec, slot.string)}, fret {fret}")


def _doubted(case: Case, states: tuple[SlotState, ...]) -> tuple[SlotState, ...]:
    if len(states) < 2:
        return states
    low, high = states
    assert low.slot.string is not None and low.standard is not None and high.standard is not None
    number = low.slot.string
    if not contradicts(case, number, low.standard, case.intonation_fret(high.slot), high.standard):
        return states
    why = "The two frets disagree: the high one should be about twice as far off as the 12th."
    return low, replace(high, verdict=Verdict(Word.MEASURE_AGAIN, why=why))


def assess_intonation(case: Case) -> CheckState:
    """String by string, bass side first."""
    groups = [string_states(case, group) for group in slot_groups(case.spec, Check.INTONATION)]
    return check_state(Check.INTONATION, [s for group in groups for s in group], first_open(groups))
