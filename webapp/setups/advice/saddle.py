"""String height at the saddle."""

from __future__ import annotations

from math import hypot

from webapp.physics.arc import string_travel
from webapp.setups.advice.model import Advice, Forecast
from webapp.setups.advice.screws import (
    QUARTER_EIGHTHS,
    ScrewStep,
    amount,
    at_a_time,
    height_basis,
    height_pitch,
    screw_step,
)
from webapp.setups.case import Case
from webapp.setups.convert import STANDARD_HEIGHT, height_way, saddle_per_action
from webapp.setups.geometry import offset_mm
from webapp.setups.journal import Entry, Part, Turn
from webapp.setups.slots import Slot, string_label, string_numbers
from webapp.setups.verdicts import Verdict, Word
from webapp.trade.words import BridgeType, Side

_MEANS = {
    Word.TOO_LOW: "Too low: it will buzz or choke.",
    Word.TOUCH_LOW: "A little lower than suits your touch; listen for buzz.",
    Word.GOOD: "Good height for your touch.",
    Word.TOUCH_HIGH: "A little higher than suits your touch.",
    Word.TOO_HIGH: "Too high: stiff to play, and notes go sharp.",
}


def height_advice(
    case: Case,
    slot: Slot,
    reading: Entry,
    standard_mm: float,
    verdict: Verdict,
    expected: float | None = None,
) -> Advice:
    """Answer a height reading; `standard_mm` is read at 12, held at 1.

    An inner string aims for what its outer neighbours expect of it, as far as that lies in its target.
    """
    if verdict.word is Word.MEASURE_AGAIN:
        return Advice(verdict.why)
    means = _MEANS[verdict.word]
    if verdict.word is Word.GOOD:
        return Advice(means)
    target = case.bands(slot).target
    aim_mm = target.middle if expected is None else min(max(expected, target.low), target.high)
    wanted_mm = aim_mm - standard_mm
    return move_string(case, slot, wanted_mm, means, reading)


def move_string(case: Case, slot: Slot, wanted_mm: float, means: str, reading: Entry | None) -> Advice:
    """Bring one string up (plus) or down by `wanted_mm` at the 12th fret, by what this bridge allows."""
    assert slot.string is not None
    travel_mm = wanted_mm * saddle_per_action(case.spec, slot.string, STANDARD_HEIGHT)
    bridge = case.spec.bridge.type
    if bridge is BridgeType.ONE_PIECE:
        return Advice(means, repairer=_one_piece(case, slot, travel_mm))
    if bridge is BridgeType.INDIVIDUAL:
        return _saddle_screws(case, slot, travel_mm, means, reading)
    return _post(case, slot, travel_mm, means, reading)


def raise_for_buzz(case: Case, slot: Slot, means: str, reading: Entry | None, outer_low: bool) -> Advice:
    """Bring a string that buzzes all along up a little.

    On two posts an inner string takes the whole bridge along, as long as both outer strings are low enough
    in their targets (`outer_low`) to come too; else the bridge's own curve is to blame.
    """
    numbers = string_numbers(case.spec)
    posts = case.spec.bridge.type in (BridgeType.TWO_POST, BridgeType.FLOATING)
    if posts and outer_low and slot.string not in (numbers[0], numbers[-1]):
        turn = Turn(Part.SADDLE_HEIGHT, eighths=QUARTER_EIGHTHS)
        do = (
            "Raise both posts a quarter turn: on most bridges anticlockwise, seen from above.",
            "Turn both alike. Slacken the strings first if they feel tight.",
        )
        return Advice(means, do, turn, None, "Retune, then measure the strings again.")
    return move_string(case, slot, case.trade.practice.turn.raise_for_buzz_mm, means, reading)


def _one_piece(case: Case, slot: Slot, travel_mm: float) -> str:
    verb = "higher" if travel_mm > 0 else "lower"
    assert slot.string is not None
    name = string_label(case.spec, slot.string)
    return f"{name}: the saddle should be {case.say.length(abs(travel_mm))} {verb} under this string."


def _saddle_screws(case: Case, slot: Slot, travel_mm: float, means: str, reading: Entry | None) -> Advice:
    step = screw_step(travel_mm, height_pitch(case), case.trade.practice.turn.height_eighths)
    verb = "Raise" if step.eighths > 0 else "Lower"
    clock = "clockwise" if step.eighths > 0 else "anticlockwise"
    assert slot.string is not None
    do = (
        f"{verb} the saddle of the {string_label(case.spec, slot.string)}: {amount(case, step)}.",
        f"{at_a_time(case, step)}Turn both its screws alike. "
        f"On most saddles that is {clock}, seen from above.",
    )
    turn = Turn(Part.SADDLE_HEIGHT, eighths=step.eighths, string=slot.string)
    return Advice(means, do, turn, _forecast(case, slot, reading, step, 1.0), "Retune, then measure again.")


def _post(case: Case, slot: Slot, travel_mm: float, means: str, reading: Entry | None) -> Advice:
    numbers = string_numbers(case.spec)
    assert slot.string is not None
    if slot.string not in (numbers[0], numbers[-1]):
        name = string_label(case.spec, slot.string)
        move = f"{case.say.length(abs(travel_mm))} {'up' if travel_mm > 0 else 'down'}"
        told = f"{name}: the bridge does not follow the board here; this string should move {move}."
        return Advice(means, repairer=told)
    side = Side.BASS if slot.string == numbers[0] else Side.TREBLE
    lever = _lever(case)
    step = screw_step(travel_mm * lever, height_pitch(case), case.trade.practice.turn.height_eighths)
    verb = "Raise" if step.eighths > 0 else "Lower"
    clock = "anticlockwise" if step.eighths > 0 else "clockwise"
    lines = [
        f"{verb} the {side.value}-side post: {amount(case, step)}.",
        f"{at_a_time(case, step)}On most bridges that is {clock}, seen from above.",
        "Slacken the strings first if it feels tight.",
    ]
    if case.spec.bridge.type is BridgeType.FLOATING:
        lines.append(
            "The springs answer every change: retune all strings, twice, and see that the bridge sits level."
        )
    turn = Turn(Part.SADDLE_HEIGHT, eighths=step.eighths, side=side)
    forecast = _forecast(case, slot, reading, step, 1.0 / lever)
    return Advice(means, tuple(lines), turn, forecast, "Retune, then measure both outer strings again.")


def _lever(case: Case) -> float:
    """Travel of one post, the other left alone, for one mm at the outer string beside it."""
    posts = case.spec.bridge.post_spacing_mm
    if posts is None:
        return 1.0
    return 1.0 / string_travel(1.0, 0.0, posts, case.spec.spacing_bridge_mm)[0]


def _forecast(
    case: Case, slot: Slot, reading: Entry | None, step: ScrewStep, share: float
) -> Forecast | None:
    if reading is None or reading.value is None or step.step_mm is None or slot.string is None:
        return None
    per_action = saddle_per_action(case.spec, slot.string, height_way(reading))
    moved = step.step_mm * share / per_action
    spread = hypot(reading.error or 0.0, abs(moved) * case.trade.practice.turn.felt_share)
    return Forecast(reading.value + moved, spread, height_basis(case))


def expected_inner(case: Case, slot: Slot, outer: tuple[float, float]) -> float:
    """What an inner string should read when the gaps run evenly from the bass to the treble string.

    The gaps are over the board's own arc, so the arc itself drops out; places across the board count.
    """
    numbers = string_numbers(case.spec)
    assert slot.string is not None
    low, high = (offset_mm(case.spec, numbers[i], 12) for i in (0, -1))
    part = (offset_mm(case.spec, slot.string, 12) - low) / (high - low)
    return outer[0] + part * (outer[1] - outer[0])
