"""A take cut into what sounds in it, each stretch matched to the note that was asked for, or refused
whole."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from webapp.physics.alignment import ASK_ABOVE_CENTS, Alignment, Reading, align
from webapp.physics.comb import Candidate, Peaks, candidates, peaks
from webapp.physics.numbers import say_number
from webapp.physics.onsets import onsets

Floats = NDArray[np.float64]
# String, fret, nominal pitch in hertz.
Asked = tuple[int, int, float]

LEAST_RATE_HZ, MOST_RATE_HZ = 8000.0, 200_000.0
LEAST_HZ, MOST_HZ = 10.0, 2000.0
TINY = 1e-9
LEAST_MATCHED = 0.7
# A note further than this from its place (once the common offset is out) is another note.
STRAY_CENTS = 55.0
BEFORE_NEXT_S = 0.05
COARSE_BEGIN_S, COARSE_END_S, LEAST_COARSE_S = 0.06, 0.7, 0.15


@dataclass(frozen=True)
class Sounding:
    """A stretch of the take from one onset to the next, and the ways to read its pitch."""

    start_s: float
    stop_s: float
    peaks: Peaks
    readings: tuple[Candidate, ...]


@dataclass(frozen=True)
class Take:
    """A take, cut and matched: why it is refused whole (and whether on the common offset alone), or None."""

    sound: Floats
    soundings: tuple[Sounding, ...]
    wanted: tuple[Asked, ...]
    matched: Alignment
    refused: str | None
    asks: bool

    @property
    def pairs(self) -> list[tuple[Sounding, Candidate, int]]:
        """Each stretch that was matched, how its pitch is read, and the number of the note asked for."""
        found = self.soundings
        return [(found[h], found[h].readings[which], a) for h, a, which in self.matched.pairs]


def cut(samples: Sequence[float] | Floats, rate_hz: float, asked: Iterable[Asked]) -> Take:
    """Cut a take at its onsets and match it to ``asked``, in order.

    Refused where fewer than ``LEAST_MATCHED`` of the notes were heard in order, and where all lie more than
    ``ASK_ABOVE_CENTS`` off. Raises ``ValueError`` for a rate or a pitch out of range, more than one
    channel, or nothing asked.
    """
    wanted = tuple((int(string), int(fret), float(hz)) for string, fret, hz in asked)
    sound = _checked(samples, rate_hz, wanted)
    soundings = tuple(_soundings(sound, rate_hz))
    matched = _match(soundings, wanted)
    refused, asks = _refusal(matched, soundings, wanted)
    return Take(sound, soundings, wanted, matched, refused, asks)


def _soundings(sound: Floats, rate_hz: float) -> list[Sounding]:
    """Every stretch from an onset to the next, with the readings of its pitch, best first."""
    starts = onsets(sound, rate_hz)
    ends = np.append(starts[1:] - BEFORE_NEXT_S, len(sound) / rate_hz)[: len(starts)]
    found = []
    for start, end in zip(starts, ends, strict=True):
        part = sound[
            round((start + COARSE_BEGIN_S) * rate_hz) : round(min(end, start + COARSE_END_S) * rate_hz)
        ]
        if len(part) > LEAST_COARSE_S * rate_hz:
            stand_out = peaks(part, rate_hz)
            found.append(Sounding(float(start), float(end), stand_out, tuple(candidates(stand_out))))
    return found


def _checked(samples: Sequence[float] | Floats, rate_hz: float, wanted: Sequence[Asked]) -> Floats:
    """The sound as floats of full scale 1 without its mean; anything not finite is silence."""
    if not LEAST_RATE_HZ <= rate_hz <= MOST_RATE_HZ:
        raise ValueError("the rate must be from 8000 to 200000 Hz")
    if not wanted or not all(LEAST_HZ <= hz <= MOST_HZ for *_, hz in wanted):
        raise ValueError("ask for at least one note, from 10 to 2000 Hz")
    sound = np.array(samples, dtype=float)
    if sound.ndim != 1:
        raise ValueError("one channel is read, not several")
    sound[~np.isfinite(sound)] = 0.0
    if not len(sound):
        return sound
    # Scaled before the mean is taken, which could be more than a float holds.
    sound /= max(float(np.abs(sound).max()), TINY)
    sound -= sound.mean()
    return np.asarray(sound / max(float(np.abs(sound).max()), TINY))


def _match(soundings: Sequence[Sounding], wanted: Sequence[Asked]) -> Alignment:
    best = [
        [
            Reading(
                1200 * math.log2(reading.pitch_hz), 1.5 * (1 - reading.score / sounding.readings[0].score)
            )
            for reading in sounding.readings
        ]
        for sounding in soundings
    ]
    cents = [1200 * math.log2(hz) for *_, hz in wanted]
    steps = np.diff(np.unique(np.round(cents, 1)))
    tolerance = min(STRAY_CENTS, 0.45 * float(steps.min())) if len(steps) else STRAY_CENTS
    return align(best, cents, tolerance)


def _refusal(
    matched: Alignment, soundings: Sequence[Sounding], wanted: Sequence[Asked]
) -> tuple[str | None, bool]:
    share = len({asked for _, asked, _ in matched.pairs}) / len(wanted)
    if share < LEAST_MATCHED:
        named = [say_number(s.readings[0].pitch_hz, 0) for s in soundings if s.readings]
        heard = f"heard about {', '.join(named[:12])} Hz" if named else "no clear note was heard"
        return f"Only {round(100 * share)} % of the notes were found: {heard}.", False
    if abs(matched.common_cents) > ASK_ABOVE_CENTS:
        way, far = "sharp" if matched.common_cents > 0 else "flat", say_number(abs(matched.common_cents), 0)
        return f"Everything is {far} cents {way} of what was asked: is that so?", True
    return None, False
