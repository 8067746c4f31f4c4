"""Relief and the truss rod."""

from __future__ import annotations

from math import hypot

from webapp.physics.rod import RodResponse, eighths_for
from webapp.setups.advice.model import Advice, Forecast
from webapp.setups.case import Case
from webapp.setups.convert import relief_factor, relief_way
from webapp.setups.journal import Entry, Part, Turn
from webapp.setups.learning import rod_basis, rod_response, rod_warning, rod_without_effect
from webapp.setups.verdicts import Verdict, Word
from webapp.trade.words import RodAccess, RodNut, RodType

_ACCESS = {
    RodAccess.OPEN: "",
    RodAccess.COVER: "Take the cover off to reach the rod.",
    RodAccess.STRINGS_OFF: "Slacken the strings and move them aside to reach the rod.",
    RodAccess.NECK_OFF: "The neck must come off to reach the rod: slacken the strings first. "
    "If you have not done this before, leave it to a repairer.",
}


def meaning(standard_mm: float, verdict: Verdict) -> str:
    """What a relief says about the neck, in trade words."""
    if verdict.word is Word.MEASURE_AGAIN:
        return "That would be far outside any neck. Measure again."
    if standard_mm < 0:
        return "Back bow: the middle of the neck stands above its ends."
    return {
        Word.TOO_LOW: "Too straight: the strings have no room to swing over the middle of the neck.",
        Word.TOUCH_LOW: "A little straighter than suits your touch.",
        Word.GOOD: "Good bow for your touch.",
        Word.TOUCH_HIGH: "A little more bow than suits your touch.",
        Word.TOO_HIGH: "Too much bow: high in the middle, and it may buzz past the twelfth fret.",
    }[verdict.word]


def rod_advice(case: Case, reading: Entry, standard_mm: float, verdict: Verdict) -> Advice:
    """Answer a relief reading; `standard_mm` is the reading said the standard way."""
    means = meaning(standard_mm, verdict)
    if verdict.word in (Word.GOOD, Word.MEASURE_AGAIN):
        return Advice(means)
    rod = case.spec.rod
    if rod.type is RodType.NONE:
        return Advice(means, repairer=_no_rod(case, standard_mm, verdict))
    tighten = verdict.word.is_high
    stop = _stop(case, tighten)
    if stop:
        return Advice(means, repairer=f"Relief reads {case.say.length(standard_mm)}. {stop}")
    return _turn_advice(case, reading, standard_mm, tighten, means)


def _no_rod(case: Case, standard_mm: float, verdict: Verdict) -> str:
    if verdict.word in (Word.TOUCH_LOW, Word.TOUCH_HIGH):
        return ""
    return (
        f"Relief reads {case.say.length(standard_mm)} and this neck has no rod. "
        "Nothing can be turned; ask a repairer whether it matters."
    )


def turned_lately(case: Case) -> tuple[int, ...]:
    """Signed eighths that the rod was turned within this pass, oldest first.

    An older turn belongs to another season: it says nothing about how far this pass has gone.
    """
    since = case.now - case.trade.practice.time.rod_pass
    return tuple(t.turn.eighths for t in case.journal.turns if t.turn.part is Part.ROD and t.at >= since)


def _stop(case: Case, tighten: bool) -> str:
    turned, practice = sum(turned_lately(case)), case.trade.practice
    if abs(turned) >= practice.turn.rod_in_all_eighths and (turned > 0) == tighten:
        had, days = case.say.turns(practice.turn.rod_in_all_eighths), practice.time.rod_pass_days
        return f"The rod has had {had} that way within {days:g} days. Stop here and see a repairer."
    if rod_without_effect(case):
        return "The last two turns of the rod did not move the neck. Stop here and see a repairer."
    return ""


def _turn_advice(case: Case, reading: Entry, standard_mm: float, tighten: bool, means: str) -> Advice:
    prior = case.trade.rod
    response = rod_response(case)
    target = case.bands_relief.target.middle
    last = case.journal.last_turn(Part.ROD)
    # The first turn only feels the rod out; and where the last one went too far, half as much goes back.
    careful = last is None or (last.turn.eighths > 0) != tighten
    limit = 1 if careful else prior.max_eighths
    count = min(limit, max(1, abs(eighths_for(target - standard_mm, response, prior.max_eighths))))
    sign = 1 if tighten else -1
    turn = Turn(Part.ROD, eighths=sign * count)
    return Advice(
        means,
        do=tuple(line for line in (rod_warning(case), *_steps(case, tighten, count)) if line),
        turn=turn,
        forecast=_forecast(case, reading, turn, response),
        then="Retune to pitch, then measure again. Read once more when it has settled, "
        f"after about {prior.settle_hours:g} hours.",
    )


def _steps(case: Case, tighten: bool, count: int) -> tuple[str, ...]:
    rod, say = case.spec.rod, case.say
    clock = rod.tightens if tighten else rod.tightens.other
    verb = "Tighten" if tighten else "Loosen"
    where = f"looking at its nut at the {'headstock' if rod.nut_at is RodNut.HEADSTOCK else 'body end'}"
    lines = [_ACCESS[rod.access]]
    if tighten:
        lines.append("Ease the rod off an eighth of a turn first, to feel that it moves freely.")
        lines.append(f"Then from where it was, {verb.lower()} {say.turns(count)}: {clock.value}, {where}.")
    else:
        lines.append(f"{verb} {say.turns(count)}: {clock.value}, {where}.")
        if rod.type is RodType.ONE_WAY:
            lines.append(
                "This rod only pulls one way. If it turns loosely, leave it: strings alone bow the neck."
            )
    return tuple(line for line in lines if line)


def _forecast(case: Case, reading: Entry, turn: Turn, response: RodResponse) -> Forecast:
    """Expected in the way the player reads, so that the next reading can be held against it."""
    assert reading.value is not None
    taken = relief_way(reading, case.relief_standard)
    factor = 1.0 / relief_factor(case.spec, taken, case.relief_standard)
    moved = -turn.eighths * response.mean_mm_per_eighth * factor
    spread = hypot(abs(turn.eighths) * response.spread_mm * factor, reading.error or 0.0)
    return Forecast(reading.value + moved, spread, rod_basis(case, response))
