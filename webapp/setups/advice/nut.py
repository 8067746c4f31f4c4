"""The nut slots: read by the player, worked on by a repairer."""

from __future__ import annotations

from webapp.setups.advice.model import Advice
from webapp.setups.case import Case
from webapp.setups.slots import Slot, string_label
from webapp.setups.verdicts import Verdict, Word


def nut_advice(case: Case, slot: Slot, value_mm: float, verdict: Verdict, open_buzzes: bool) -> Advice:
    """Answer the gap of an open string over fret 1; low matters only when the open string rattles."""
    assert slot.string is not None
    name, say, bands = string_label(case.spec, slot.string), case.say, case.bands(slot)
    if verdict.word is Word.MEASURE_AGAIN:
        return Advice(verdict.why)
    if verdict.word is Word.GOOD and not open_buzzes:
        return Advice("Good: the open string clears the first fret and still presses down easily.")
    if open_buzzes and value_mm < bands.target.middle:
        return Advice(
            "Low, and the open string rattles: the slot is worn or cut too deep.",
            repairer=f"{name}: nut slot low, {say.length(value_mm)} over fret 1, and it rattles open. "
            f"Usual: {say.band(bands.usual.low, bands.usual.high)}.",
        )
    if verdict.word.is_low:
        return Advice("Low, but that only matters if the open string rattles. It does not: leave it.")
    if verdict.word is Word.TOUCH_HIGH:
        return Advice(
            "A little high: the first frets press stiffly and sound sharp. Mention it at the next visit.",
            repairer=_high(case, name, value_mm, bands.target.high),
        )
    if verdict.word is Word.TOO_HIGH:
        return Advice(
            "High: the first frets press stiffly and sound sharp. Cutting nut slots is a repairer's job.",
            repairer=_high(case, name, value_mm, bands.target.high),
        )
    return Advice(
        "The slot is not low, yet the open string rattles: look for something loose before the nut."
    )


def _high(case: Case, name: str, value_mm: float, aim_mm: float) -> str:
    return (
        f"{name}: nut slot high, {case.say.length(value_mm)} over fret 1. "
        f"Ask for at most {case.say.length(aim_mm)}."
    )
