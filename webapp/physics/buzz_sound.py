"""Whether a fret buzzes, from a note plucked softly and the same note plucked hard.

A string that strikes a fret puts energy into its high partials and between them, for as long as it swings far
enough; one that rings freely only grows louder. So each note is its own control: what counts is the hard note
less the soft one, in the high bands against the low, just after the pluck. What is heard asks to be
confirmed; no note is ever cleared by it.
Source: S. Bilbao, A. Torin and V. Chatziioannou, Numerical Modeling of Collisions in Musical Instruments,
Acta Acustica united with Acustica 101, 2015 (what a collision does to the spectrum); the features are ours.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from webapp.physics.take import Asked, Sounding, Take, cut

Floats = NDArray[np.float64]
Place = tuple[int, int]

FRAME_S, HOP_S = 0.05, 0.025
HIGH_BANDS = 5
HIGH_ABOVE_HZ, HIGH_ABOVE_PARTIAL = 700.0, 7.0
TOP_HZ = 7500.0
LOW_PARTIALS, LOW_ABOVE_HZ = 5.5, 350.0
# Just after the pluck, while the swing is wide: seconds from the onset.
BEGIN_S, END_S = 0.03, 0.2
TINY = 1e-12
# The hard note must be louder than the soft one by this.
LEAST_LOUDER_DB = 3.0
OVER_NOISE = 2.0
MARK_DB = 6.8
# What one band alone may say: a lossy codec can leave a soft note nothing at all up there.
MOST_IN_A_BAND_DB = 18.0
LEAST_PLACES = 4

AS_LOUD = "The second was not played harder than the first."
ALL_BRIGHTER = "Every note grew brighter when played hard, so this one does not stand out: listen yourself."
NOT_BOTH = "It takes a soft and a hard note; one was not heard."


@dataclass(frozen=True)
class Contrast:
    """The hard note less the soft one, dB: high against low in each band, and how much louder it was.

    Where the high band of either is under the noise, the contrast is the least it can be.
    """

    high_db: Floats
    louder_db: float


@dataclass(frozen=True)
class BuzzHearing:
    """``marks``: {place: strength in dB} of what was heard and asks to be confirmed; ``unread``: {place:
    why}; ``starts_s``: {place: when its soft note began and when its hard one, seconds into the take}.

    A place in neither was listened to and stays as unknown as it was. ``refused``: why the whole take is.
    """

    marks: dict[Place, float] = field(default_factory=dict)
    unread: dict[Place, str] = field(default_factory=dict)
    refused: str | None = None
    starts_s: dict[Place, tuple[float, float]] = field(default_factory=dict)


def hear_buzzes(samples: Sequence[float] | Floats, rate_hz: float, asked: Iterable[Asked]) -> BuzzHearing:
    """Listen to every fret soft then hard; ``asked`` has each place twice, (string, fret, nominal pitch).

    Raises ``ValueError`` as ``take.cut`` does.
    """
    take = cut(samples, rate_hz, asked)
    if take.refused is not None:
        return BuzzHearing(refused=take.refused)
    unread: dict[Place, str] = {}
    heard: dict[Place, Floats] = {}
    for place, contrast in contrasts(take, rate_hz).items():
        if contrast is None:
            unread[place] = NOT_BOTH
        elif contrast.louder_db < LEAST_LOUDER_DB:
            unread[place] = AS_LOUD
        else:
            heard[place] = np.maximum(contrast.high_db, 0.0)
    marks = {place: strength for place, strength in strengths_db(heard).items() if strength > MARK_DB}
    if heard and np.mean(shared_db(heard)) > MARK_DB:
        unread |= {place: ALL_BRIGHTER for place in heard if place not in marks}
    both = {place: notes for place, notes in _played(take).items() if len(notes) > 1}
    starts_s = {place: (notes[0].start_s, notes[-1].start_s) for place, notes in both.items()}
    return BuzzHearing(marks, unread, starts_s=starts_s)


def strengths_db(heard: Mapping[Place, Floats]) -> dict[Place, float]:
    """One number for each place: how much brighter it is just after a hard pluck, over all high bands."""
    shared = shared_db(heard)
    return {
        place: float(np.minimum(bands - shared, MOST_IN_A_BAND_DB).mean()) for place, bands in heard.items()
    }


def shared_db(heard: Mapping[Place, Floats]) -> Floats:
    """What every place grew brighter by in each band, where there are enough of them to tell.

    A touch that makes every note brighter is the hand's or the instrument's own; but it may be that every
    fret buzzes, and then what is taken off hides it.
    """
    bands = np.array(list(heard.values()), dtype=float)
    return np.asarray(bands.min(axis=0) if len(heard) >= LEAST_PLACES else np.zeros(bands.shape[1:]))


def contrasts(take: Take, rate_hz: float) -> dict[Place, Contrast | None]:
    """The contrast of each place asked for; None where a soft and a hard note were not both heard."""
    pitch = {(string, fret): hz * 2 ** (take.matched.common_cents / 1200) for string, fret, hz in take.wanted}
    noise = _noise(take.sound, rate_hz)
    return {
        place: _contrast(take.sound, rate_hz, notes[0], notes[-1], pitch[place], noise)
        if len(notes) > 1
        else None
        for place, notes in _played(take).items()
    }


def _played(take: Take) -> dict[Place, list[Sounding]]:
    """What was heard of each place asked for, in order."""
    heard: dict[Place, list[Sounding]] = {(string, fret): [] for string, fret, _ in take.wanted}
    for h, a in _pairs(take):
        heard[take.wanted[a][:2]].append(take.soundings[h])
    return heard


def _pairs(take: Take) -> list[tuple[int, int]]:
    """(heard, asked), in order. A hard note that rattles may sound a semitone sharp and be taken for the
    next: where as many were heard as asked and most agree with that, they are counted off."""
    told = [(h, a) for h, a, _ in take.matched.pairs]
    straight = sum(h == a for h, a in told)
    if len(take.soundings) == len(take.wanted) and straight > 0.5 * len(told):
        return [(number, number) for number in range(len(take.wanted))]
    return told


def _contrast(
    sound: Floats, rate_hz: float, soft: Sounding, hard: Sounding, pitch_hz: float, noise: Floats
) -> Contrast | None:
    size = round(FRAME_S * rate_hz)
    bins = np.fft.rfftfreq(2 * size, 1 / rate_hz)
    low = (bins > 0.6 * pitch_hz) & (bins < max(LOW_PARTIALS * pitch_hz, LOW_ABOVE_HZ))
    edges = np.geomspace(
        max(HIGH_ABOVE_HZ, HIGH_ABOVE_PARTIAL * pitch_hz), min(TOP_HZ, 0.45 * rate_hz), HIGH_BANDS + 1
    )
    high = [(bins >= a) & (bins < b) for a, b in zip(edges, edges[1:], strict=False)]
    quiet, loud = (_spectrum(sound, rate_hz, note) for note in (soft, hard))
    if quiet is None or loud is None:
        return None
    low_louder = 10 * math.log10((loud[low].sum() + TINY) / (quiet[low].sum() + TINY))
    # A string that strikes hard keeps little of its swing: what it lost low is still heard, higher up.
    louder = 10 * math.log10((loud.sum() + TINY) / (quiet.sum() + TINY))
    # Softly plucked, noise and all: the most it can have. Hard, less the noise: the least.
    hard_high = np.array([max(loud[band].sum() - OVER_NOISE * noise[band].sum(), 0.0) for band in high])
    soft_high = np.array([quiet[band].sum() for band in high])
    return Contrast(10 * np.log10((hard_high + TINY) / (soft_high + TINY)) - low_louder, louder)


def _spectrum(sound: Floats, rate_hz: float, note: Sounding) -> Floats | None:
    """The mean power spectrum of a note just after the pluck; None where the note is over before."""
    size, hop = round(FRAME_S * rate_hz), round(HOP_S * rate_hz)
    begin = round((note.start_s + BEGIN_S) * rate_hz)
    end = min(round((note.start_s + END_S) * rate_hz), round(note.stop_s * rate_hz), len(sound))
    if end - begin < size:
        return None
    frames = np.lib.stride_tricks.sliding_window_view(sound[begin:end], size)[::hop]
    return np.asarray((np.abs(np.fft.rfft(frames * np.hanning(size), 2 * size, axis=1)) ** 2).mean(axis=0))


def _noise(sound: Floats, rate_hz: float) -> Floats:
    """The power spectrum of the quiet moments of the take."""
    size = round(FRAME_S * rate_hz)
    frames = sound[: len(sound) // size * size].reshape(-1, size)
    power = (frames**2).sum(axis=1)
    quiet = frames[power <= np.quantile(power, 0.08)]
    return np.asarray((np.abs(np.fft.rfft(quiet * np.hanning(size), 2 * size, axis=1)) ** 2).mean(axis=0))
