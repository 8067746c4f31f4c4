"""From a distance to turns of a screw and back, and learning an unknown screw's pitch."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

EIGHTHS_PER_TURN = 8


def turns(travel_mm: float, pitch_mm: float) -> float:
    """Turns that move a screw ``travel_mm``: ``travel / pitch``, exact and signed.

    Raises ``ValueError`` for a pitch that is not above 0.
    """
    _check_pitch(pitch_mm)
    return travel_mm / pitch_mm


def eighths(turn_count: float) -> int:
    """The nearest whole number of eighths of a turn, signed; halves go away from zero."""
    return int(math.copysign(math.floor(abs(turn_count) * EIGHTHS_PER_TURN + 0.5), turn_count))


def round_to_eighth(turn_count: float) -> float:
    """Turns rounded to the nearest eighth, the smallest step a hand feels."""
    return eighths(turn_count) / EIGHTHS_PER_TURN


def travel_mm(turn_count: float, pitch_mm: float) -> float:
    """How far a screw moves in this many turns, mm, signed. Raises ``ValueError`` as ``turns`` does."""
    _check_pitch(pitch_mm)
    return turn_count * pitch_mm


@dataclass(frozen=True)
class LearntPitch:
    """A pitch found from readings: the estimate and its standard error, both mm."""

    pitch_mm: float
    error_mm: float


def learn_pitch(travelled_mm: float, turn_count: float, travel_error_mm: float = 0.0) -> LearntPitch:
    """Pitch of an unknown thread from one before/after pair: ``travel / turns``.

    ``travelled_mm`` is the screw's own travel (convert an action change through the neck first) and
    ``travel_error_mm`` its standard error. Raises ``ValueError`` for no turns, or when the screw
    moved against the turns or not at all: then the reading or the direction is wrong.
    """
    if turn_count == 0:
        raise ValueError("the pitch can only be learnt from a screw that was turned")
    pitch = travelled_mm / turn_count
    if not pitch > 0:
        raise ValueError("the reading did not follow the screw: read again or check the direction")
    return LearntPitch(pitch, abs(travel_error_mm / turn_count))


def combine_pitches(found: Iterable[LearntPitch]) -> LearntPitch:
    """Several estimates of one pitch as their inverse-variance weighted mean.

    Raises ``ValueError`` when there are none or an error is not above 0.
    """
    estimates = list(found)
    if not estimates or any(not one.error_mm > 0 for one in estimates):
        raise ValueError("each estimate of the pitch needs an error above 0 mm")
    weights = [one.error_mm**-2 for one in estimates]
    total = sum(weights)
    mean = sum(weight * one.pitch_mm for weight, one in zip(weights, estimates, strict=True)) / total
    return LearntPitch(mean, total**-0.5)


def _check_pitch(pitch_mm: float) -> None:
    if not (math.isfinite(pitch_mm) and pitch_mm > 0):
        raise ValueError("the pitch of a screw must be above 0 mm")
