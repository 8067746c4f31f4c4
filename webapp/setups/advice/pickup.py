"""Pickup height."""

from __future__ import annotations

from math import hypot

from webapp.physics.arc import drop
from webapp.setups.advice.model import Advice, Forecast
from webapp.setups.advice.screws import ScrewStep, amount, pitch_of, screw_step
from webapp.setups.case import Case
from webapp.setups.geometry import offset_mm, radius_mm
from webapp.setups.journal import Entry, Part, Turn
from webapp.setups.slots import Slot, pickup_label
from webapp.setups.verdicts import Verdict, Word
from webapp.trade.words import PickupAdjust, PickupType

_MEANS = {
    Word.TOO_LOW: "Too close: the magnet pulls the string, and notes may sound odd.",
    Word.TOUCH_LOW: "A little close: full, but listen for odd beating.",
    Word.GOOD: "Good distance.",
    Word.TOUCH_HIGH: "A little far: softer and clearer.",
    Word.TOO_HIGH: "Far: the sound may be thin and weak.",
}


def pickup_advice(case: Case, slot: Slot, reading: Entry, verdict: Verdict) -> Advice:
    """Answer the gap between a pickup and the string pressed at the last fret."""
    if verdict.word is Word.MEASURE_AGAIN:
        return Advice(verdict.why)
    means = _MEANS[verdict.word]
    if verdict.word is Word.GOOD:
        return Advice(means)
    assert slot.pickup is not None and slot.side is not None and reading.value is not None
    pickup = case.spec.pickups[slot.pickup - 1]
    if pickup.adjust is PickupAdjust.FIXED:
        return Advice(means, repairer=_fixed(case, slot, reading.value))
    rise_mm = reading.value - case.bands(slot).target.middle
    step = screw_step(rise_mm, pitch_of(case, pickup.thread), case.trade.practice.turn.pickup_eighths)
    turn = Turn(Part.PICKUP_HEIGHT, eighths=step.eighths, pickup=slot.pickup, side=slot.side)
    do = _lines(case, slot, step, pickup.adjust, rise_mm)
    return Advice(means, do, turn, _forecast(case, reading, step), "Measure again, then listen.")


def _fixed(case: Case, slot: Slot, value_mm: float) -> str:
    assert slot.pickup is not None and slot.side is not None
    target = case.bands(slot).target
    name = f"{pickup_label(case.spec, slot.pickup)}, {slot.side.value} side"
    return (
        f"{name}: {case.say.length(value_mm)} from the string; "
        f"{case.say.band(target.low, target.high)} would suit. It has no height screws."
    )


def _lines(case: Case, slot: Slot, step: ScrewStep, adjust: PickupAdjust, rise_mm: float) -> tuple[str, ...]:
    assert slot.side is not None and slot.pickup is not None
    raising = step.eighths > 0
    clock = "clockwise" if raising == (adjust is PickupAdjust.RING) else "anticlockwise"
    verb = "Raise" if raising else "Lower"
    far = case.say.length(abs(rise_mm))
    lines = [f"{verb} the {slot.side.value} side by {far}: {amount(case, step)}, {clock}."]
    if case.spec.pickups[slot.pickup - 1].type is PickupType.SPLIT:
        lines.append(
            "On a split pickup let the inner end of each half stand "
            f"{case.say.length(inner_end_rise_mm(case))} higher than its outer end, to follow the strings."
        )
    return tuple(lines)


def inner_end_rise_mm(case: Case) -> float:
    """How much higher the middle strings stand than the outer ones at the last fret, mm: the arc."""
    spec = case.spec
    count = len(spec.strings)
    radius = radius_mm(spec, spec.fret_count)
    middle = (count + 1) // 2
    outer, inner = (float(drop(radius, offset_mm(spec, n, spec.fret_count))) for n in (count, middle))
    return outer - inner


def _forecast(case: Case, reading: Entry, step: ScrewStep) -> Forecast | None:
    if step.step_mm is None or reading.value is None:
        return None
    spread = hypot(reading.error or 0.0, abs(step.step_mm) * case.trade.practice.turn.felt_share)
    return Forecast(reading.value - step.step_mm, spread, "the screw's thread")
