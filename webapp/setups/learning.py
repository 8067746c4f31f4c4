"""What this instrument has shown: its rod's response, its screws' pitch, the rod's pull on the action."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from math import hypot

from webapp.physics.belief import Belief
from webapp.physics.neck import action_per_relief
from webapp.physics.rod import RodResponse
from webapp.physics.screws import LearntPitch, combine_pitches, learn_pitch
from webapp.setups.case import Case
from webapp.setups.convert import (
    STANDARD_HEIGHT,
    height_between,
    height_way,
    relief_factor,
    relief_way,
    saddle_per_action,
)
from webapp.setups.journal import Entry, Part
from webapp.setups.pairs import Pair, is_part, pairs
from webapp.setups.slots import string_numbers
from webapp.trade.threads import Thread
from webapp.trade.words import BridgeType

# A learnt pitch is of use once its error is below this share of it.
SURE_SHARE = 0.35


@dataclass(frozen=True)
class ReliefPair:
    """Relief before and after some eighths of the rod, read the family's standard way, mm."""

    before_mm: float
    after_mm: float
    eighths: int
    error_mm: float
    at: datetime

    @property
    def moved_mm(self) -> float:
        """Relief taken out (plus) or let in."""
        return self.before_mm - self.after_mm


def relief_pairs(case: Case) -> tuple[ReliefPair, ...]:
    """Every before/after pair of the rod on this instrument, oldest first."""
    return tuple(
        _relief_pair(case, pair)
        for journal in case.journals
        for pair in pairs(journal, "relief", is_part(Part.ROD), is_part(Part.STRINGS))
    )


def _relief_pair(case: Case, pair: Pair) -> ReliefPair:
    (before, error), (after, other) = (standard_relief_reading(case, e) for e in (pair.before, pair.after))
    return ReliefPair(before, after, pair.eighths, hypot(error, other), pair.after.at)


def standard_relief_reading(case: Case, entry: Entry) -> tuple[float, float]:
    """A relief reading said the family's standard way, and its error, mm."""
    factor = relief_factor(case.spec, relief_way(entry, case.relief_standard), case.relief_standard)
    assert entry.value is not None
    return entry.value * factor, (entry.error or case.trade.practice.doubt.unstated_mm) * abs(factor)


def rod_response(case: Case) -> RodResponse:
    """How far an eighth moves this neck: the common prior, updated with every pair that was read."""
    prior = case.trade.rod
    response = RodResponse(prior.response_mm_per_eighth, prior.spread_mm)
    for pair in relief_pairs(case):
        share = pair.error_mm / 2**0.5
        response = response.updated(pair.before_mm, pair.after_mm, pair.eighths, share, share)
    return response


def rod_basis(case: Case, response: RodResponse) -> str:
    """What a forecast of the rod rests on, in words."""
    if not response.pairs:
        return "an ordinary neck; yours may move more or less"
    turns = "one turn" if response.pairs == 1 else f"{response.pairs} turns"
    return f"about {case.say.length(response.mean_mm_per_eighth)} per eighth on this neck, from {turns}"


def _lately(case: Case) -> tuple[ReliefPair, ...]:
    """The pairs of this pass: what a rod did in another season may have been mended since."""
    since = case.now - case.trade.practice.time.rod_pass
    return tuple(pair for pair in relief_pairs(case) if pair.at >= since)


def rod_warning(case: Case) -> str:
    """What to say when the last turn of the rod did nothing, or the wrong thing; else empty."""
    found = _lately(case)
    if not found:
        return ""
    last = found[-1]
    moved = last.moved_mm * (1 if last.eighths > 0 else -1)
    if moved < -last.error_mm:
        return (
            "The last turn moved the relief the wrong way. Check which way this rod tightens before you "
            "turn it again; if you are sure, stop and see a repairer."
        )
    expected = abs(last.eighths) * case.trade.rod.response_mm_per_eighth
    if abs(last.moved_mm) <= last.error_mm and expected > last.error_mm:
        return (
            "The last turn had no effect that your tool can show. Try one more eighth; "
            "if nothing moves again, stop and see a repairer."
        )
    return ""


def rod_without_effect(case: Case) -> bool:
    """Whether the last two pairs showed nothing or the wrong way: time to stop."""
    last_two = _lately(case)[-2:]
    return len(last_two) == 2 and all(
        pair.moved_mm * (1 if pair.eighths > 0 else -1) <= 0.25 * pair.error_mm for pair in last_two
    )


@dataclass(frozen=True)
class LearntThread:
    """A saddle screw's pitch found from readings, and the thread it looks like, if one fits."""

    pitch: LearntPitch
    thread: Thread | None
    pairs: int


def learnt_height_thread(case: Case) -> LearntThread | None:
    """The pitch of the saddles' height screws from before/after pairs; None until it is clear."""
    if case.spec.bridge.type is not BridgeType.INDIVIDUAL:
        return None
    found = [one for number in string_numbers(case.spec) for one in _pitches(case, number)]
    if not found:
        return None
    pitch = combine_pitches(found)
    if pitch.error_mm > SURE_SHARE * pitch.pitch_mm:
        return None
    return LearntThread(pitch, _like(case, pitch), len(found))


def _pitches(case: Case, number: int) -> list[LearntPitch]:
    def counts(entry: Entry) -> bool:
        return entry.turn.part is Part.SADDLE_HEIGHT and entry.turn.string == number

    def spoils(entry: Entry) -> bool:
        return entry.turn.part in (Part.ROD, Part.STRINGS) or (
            entry.turn.part is Part.NUT and entry.turn.string == number
        )

    found = []
    per_action = saddle_per_action(case.spec, number, STANDARD_HEIGHT)
    for journal in case.journals:
        for pair in pairs(journal, f"height.{number}", counts, spoils):
            (before, error), (after, other) = (
                _standard_height(case, number, e) for e in (pair.before, pair.after)
            )
            travel, travel_error = (after - before) * per_action, hypot(error, other) * per_action
            if travel * pair.eighths > 0:
                found.append(learn_pitch(travel, pair.eighths / 8, travel_error))
    return found


def _standard_height(case: Case, number: int, entry: Entry) -> tuple[float, float]:
    assert entry.value is not None
    bow, nut_gap = case.neck.curvature_per_mm, case.nut_gap_mm(number)
    way = height_way(entry)
    value = height_between(case.spec, number, entry.value, way, STANDARD_HEIGHT, bow, nut_gap)
    return value, entry.error or case.trade.practice.doubt.unstated_mm


def _like(case: Case, pitch: LearntPitch) -> Thread | None:
    """The listed thread nearest to the found pitch, if it lies within two errors of it."""
    threads = case.trade.threads.values()
    nearest = min(threads, key=lambda t: abs(t.pitch_mm - pitch.pitch_mm), default=None)
    if nearest is None or abs(nearest.pitch_mm - pitch.pitch_mm) > 2 * pitch.error_mm:
        return None
    return nearest


def action_pull(case: Case) -> Belief:
    """Action gained at 12 (held at 1) per mm of relief gained, the saddles left alone: mm per mm.

    Starts from the neck's geometry and is updated with every string read before and after a turn of the rod.
    """
    way = case.relief_standard
    geometric = action_per_relief(case.spec.joint_fret, case.spec.fret_count, way.frets)
    belief = Belief(geometric, case.trade.rod.pull_spread)
    for number in string_numbers(case.spec):
        for seen, error in _pulls(case, number):
            belief = belief.updated(seen, error)
    return belief


def _pulls(case: Case, number: int) -> list[tuple[float, float]]:
    spoils = is_part(Part.SADDLE_HEIGHT, Part.STRINGS, Part.NUT)
    found = []
    for journal in case.journals:
        reliefs = list(pairs(journal, "relief", is_part(Part.ROD), is_part(Part.STRINGS)))
        for pair in pairs(journal, f"height.{number}", is_part(Part.ROD), spoils):
            around = [r for r in reliefs if r.before.id < pair.after.id and pair.before.id < r.after.id]
            if len(around) != 1 or around[0].eighths != pair.eighths:
                continue
            relief = _relief_pair(case, around[0])
            (before, error), (after, other) = (
                _standard_height(case, number, e) for e in (pair.before, pair.after)
            )
            gained = -relief.moved_mm
            # A change of relief that the tool cannot tell from none says nothing about a ratio to it.
            if abs(gained) > 2 * relief.error_mm:
                ratio = (after - before) / gained
                found.append((ratio, hypot(hypot(error, other), ratio * relief.error_mm) / abs(gained)))
    return found


def pull_basis(belief: Belief) -> str:
    """What a forecast of the action after a turn of the rod rests on."""
    if not belief.count:
        return "the neck's geometry"
    times = "one turn" if belief.count == 1 else f"{belief.count} readings"
    return f"what this neck did before, from {times}"
