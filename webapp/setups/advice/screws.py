"""From millimetres of travel to eighths of a turn, with or without a known thread."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.physics.screws import eighths, turns
from webapp.setups.case import Case
from webapp.setups.learning import learnt_height_thread

QUARTER_EIGHTHS = 2


@dataclass(frozen=True)
class ScrewStep:
    """Signed eighths to turn now, signed eighths in all, and the travel of this step in mm.

    Without a known thread `whole_eighths` and `step_mm` are None: a quarter turn will tell.
    """

    eighths: int
    whole_eighths: int | None
    step_mm: float | None


def height_pitch(case: Case) -> float | None:
    """The pitch of the bridge's height screws: as described, else as this instrument has shown it."""
    stated = pitch_of(case, case.spec.bridge.height_thread)
    if stated is not None:
        return stated
    learnt = learnt_height_thread(case)
    if learnt is None:
        return None
    return learnt.thread.pitch_mm if learnt.thread else learnt.pitch.pitch_mm


def height_basis(case: Case) -> str:
    """What a forecast of the height screws rests on."""
    learnt = None
    if pitch_of(case, case.spec.bridge.height_thread) is None:
        learnt = learnt_height_thread(case)
    if learnt is None:
        return "the screw's thread and this neck's geometry"
    looks = f", like {learnt.thread.name}" if learnt.thread else ""
    return f"the screw as this instrument has shown it: {learnt.pitch.pitch_mm:.2f} mm a turn{looks}"


def pitch_of(case: Case, thread_key: str) -> float | None:
    """The pitch of a thread in mm; None where the thread is unknown or there is no screw."""
    thread = case.trade.threads.get(thread_key)
    return thread.pitch_mm if thread else None


def screw_step(travel_mm: float, pitch_mm: float | None, most_eighths: int) -> ScrewStep:
    """How far to turn now for this travel: at least an eighth, at most `most_eighths`.

    Where that would take many rounds, half the way at once: measuring between still catches a wrong way.
    """
    sign = 1 if travel_mm > 0 else -1
    if pitch_mm is None:
        return ScrewStep(sign * QUARTER_EIGHTHS, None, None)
    whole = max(1, abs(eighths(turns(travel_mm, pitch_mm))))
    now = sign * min(whole, max(most_eighths, whole // 2))
    return ScrewStep(now, sign * whole, now / 8 * pitch_mm)


def blind_step(case: Case, travel_mm: float, most_eighths: int) -> ScrewStep:
    """How far to turn a screw of unknown thread for a travel too small to learn its pitch from.

    As if it had the coarsest thread listed: whatever it has, that cannot overshoot, and what is left
    shrinks with every round.
    """
    coarsest = max(thread.pitch_mm for thread in case.trade.threads.values())
    step = screw_step(travel_mm, coarsest, most_eighths)
    sign = 1 if travel_mm > 0 else -1
    return ScrewStep(sign * max(QUARTER_EIGHTHS, abs(step.eighths)), None, None)


def amount(case: Case, step: ScrewStep) -> str:
    """The amount in words: this step, and the whole way where it takes more than one step."""
    words = case.say.turns(step.eighths)
    if step.whole_eighths is None:
        return f"{words}, since the thread is not known yet"
    if step.whole_eighths != step.eighths:
        return f"{words} now ({case.say.turns(step.whole_eighths)} in all; measure between)"
    return words


def at_a_time(case: Case, step: ScrewStep) -> str:
    """How the hand should go about a longer turn of a height screw."""
    most = case.trade.practice.turn.height_eighths
    return f"Go {case.say.turns(most)} at a time. " if abs(step.eighths) > most else ""
