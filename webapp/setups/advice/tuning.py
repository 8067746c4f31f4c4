"""Intonation: which way the saddle moves, and how far."""

from __future__ import annotations

from webapp.physics.intonation import cents_per_mm, saddle_shift_mm
from webapp.setups.advice.model import Advice, Forecast
from webapp.setups.advice.screws import amount, blind_step, pitch_of, screw_step
from webapp.setups.case import Case
from webapp.setups.journal import Entry, Part, Turn
from webapp.setups.slots import string_label
from webapp.trade.words import BridgeType


def contradicts(case: Case, number: int, at_12: float, high_fret: int, at_high: float) -> bool:
    """Whether the high fret's error is too far from what the error at 12 would make of it (about twice)."""
    scale = case.spec.scale_of(number)
    ratio = cents_per_mm(scale, high_fret) / cents_per_mm(scale, 12)
    return abs(at_high - ratio * at_12) > case.trade.practice.doubt.high_fret_cents


def intonation_advice(case: Case, number: int, readings: dict[int, Entry], out_of_band: bool) -> Advice:
    """Answer the readings {fret: entry} of one string, taken against its tuned open note."""
    errors = {fret: entry.value for fret, entry in readings.items() if entry.value is not None}
    if not out_of_band:
        return Advice("Good: the string plays in tune up the neck.")
    scale = case.spec.scale_of(number)
    shift_mm = saddle_shift_mm(scale, errors)
    sharp = shift_mm > 0
    name = string_label(case.spec, number)
    if abs(shift_mm) < case.trade.practice.turn.least_saddle_mm:
        return Advice(
            "The saddle is in its best place; what is left comes from an old string, the nut or a fret.",
            repairer=f"{name}: {_read_words(case, errors)}, with the saddle in its best place. "
            "Try a fresh string first.",
        )
    pitch, length = ("sharp", "short") if sharp else ("flat", "long")
    means = f"The fretted notes are {pitch}: the string is a little too {length}."
    travel = f"{case.say.length(abs(shift_mm))} {'back, away from the nut' if sharp else 'toward the nut'}"
    if has_no_screw(case):
        return Advice(means, repairer=f"{name}: in tune with the saddle {travel}. Try fresh strings first.")
    if has_no_room(case, number):
        return Advice(
            f"{means} The saddle has no room left.",
            repairer=f"{name}: saddle out of travel; it should go {travel}. Try a fresh string first.",
        )
    return _move(case, number, readings, shift_mm, means, travel)


def _read_words(case: Case, errors: dict[int, float]) -> str:
    return " and ".join(f"{case.say.cents(errors[fret])} at fret {fret}" for fret in sorted(errors))


def has_no_screw(case: Case) -> bool:
    bridge = case.spec.bridge
    return bridge.type is BridgeType.ONE_PIECE or bridge.intonation_thread == "none"


def has_no_room(case: Case, number: int) -> bool:
    """Whether the player said, after the last move of this saddle, that it can go no further."""
    moves = (t for t in case.journal.turns if t.turn.part is Part.SADDLE_POSITION and t.turn.string == number)
    moved = max((t.id for t in moves), default=0)
    return any(
        entry.id > moved and entry.detail.get("answer") == "no_room"
        for entry in case.journal.observations(f"saddle.{number}")
    )


def _move(
    case: Case, number: int, readings: dict[int, Entry], shift_mm: float, means: str, travel: str
) -> Advice:
    pitch = pitch_of(case, case.spec.bridge.intonation_thread)
    most = case.trade.practice.turn.intonation_eighths
    step = blind_step(case, shift_mm, most) if pitch is None else screw_step(shift_mm, pitch, most)
    clock = "clockwise" if step.eighths > 0 else "anticlockwise"
    name = string_label(case.spec, number)
    do = (
        f"Move the saddle of the {name} {travel}.",
        f"That is {amount(case, step)}; on most bridges {clock}, seen from behind.",
        "Slacken the string first, so that the saddle slides without weight on it.",
    )
    turn = Turn(Part.SADDLE_POSITION, eighths=step.eighths, string=number)
    first = readings[12]
    forecast = None
    if step.step_mm is not None and first.value is not None:
        moved = step.step_mm * cents_per_mm(case.spec.scale_of(number), 12)
        spread = (first.error or 0.0) + abs(moved) * case.trade.practice.turn.felt_share
        forecast = Forecast(first.value - moved, spread, "the string's length; read at the 12th fret")
    return Advice(means, do, turn, forecast, "Retune the open string, then read both frets again.")
