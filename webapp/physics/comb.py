"""A first idea of a note's pitch: which stiff harmonic series the peaks of its spectrum belong to.

A candidate is good when it explains the peaks that are there and when the partials that it
foretells are there. Half the true pitch foretells partials that are missing, twice the true pitch
leaves every other peak unexplained: the harmonic mean of the two tells octaves apart, where a plain comb
does not.
Sources: A. M. Noll, Pitch Determination of Human Speech by the Harmonic Product Spectrum, the Harmonic Sum
Spectrum and a Maximum Likelihood Estimate, 1969 (combs); the law of the teeth in ``stiff_string``; the
score is ours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from webapp.physics.stiff_string import partial_hz

Floats = NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 24.0, 1500.0
TOP_HZ = 5000.0
TEETH = 24
STIFFNESSES = (0.0, 3e-5, 7e-5, 1.2e-4, 2e-4, 3e-4, 4.5e-4, 7e-4, 1.1e-3, 1.7e-3, 2.6e-3)
# Peaks above the last tooth count neither way.
BEYOND = 1.02
MOST_PEAKS = 70
# A peak counts when it stands this far over its surroundings and no further than this under the highest.
OVER_FLOOR_DB, UNDER_TOP_DB = 11.0, 46.0
# How far from its tooth a peak may lie: this part of its frequency, or this many bins.
NEAR_SHARE, NEAR_BINS = 0.006, 0.6
KEEP_ABOVE = 0.8


@dataclass(frozen=True)
class Candidate:
    """One reading of a spectrum: a pitch, its rough stiffness, how well it does (0 to 1), its lowest
    partial."""

    pitch_hz: float
    stiffness: float
    score: float
    lowest: int


@dataclass(frozen=True)
class Peaks:
    """Frequencies (rising) and weights (dB above the least that counts) of a spectrum's peaks; its bin's
    width."""

    hz: Floats
    weight: Floats
    bin_hz: float


def peaks(samples: Floats, rate_hz: float) -> Peaks:
    """The peaks of a stretch of sound, at most ``MOST_PEAKS``, those that stand out of their surroundings."""
    size = len(samples)
    padded = 2 ** int(np.ceil(np.log2(2 * size)))
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(size), padded))
    step = rate_hz / padded
    last = min(len(spectrum) - 1, int(TOP_HZ / step))
    level = 20 * np.log10(spectrum[:last] + 1e-12)
    inner = level[1:-1]
    tops = 1 + np.flatnonzero((inner > level[:-2]) & (inner >= level[2:]))
    tops = tops[tops * step > LOWEST_HZ]
    if not len(tops):
        return Peaks(np.zeros(0), np.zeros(0), rate_hz / size)
    over = np.minimum(
        level[tops] - _floor(level, step)[tops] - OVER_FLOOR_DB,
        level[tops] - level[tops].max() + UNDER_TOP_DB,
    )
    tops, over = tops[over > 0], over[over > 0]
    strongest = np.sort(np.argsort(over)[::-1][:MOST_PEAKS])
    tops, over = tops[strongest], over[strongest]
    left, here, right = level[tops - 1], level[tops], level[tops + 1]
    aside = 0.5 * (left - right) / (left - 2 * here + right - 1e-12)
    return Peaks((tops + np.clip(aside, -0.5, 0.5)) * step, over, rate_hz / size)


def candidates(found: Peaks) -> list[Candidate]:
    """The readings of a set of peaks, best first: all that come near the best. Empty for fewer than two
    peaks."""
    if len(found.hz) < 2:
        return []
    guesses = _guesses(found)
    marks = np.array([_scores(guesses, stiffness, found) for stiffness in STIFFNESSES])
    best = marks.argmax(axis=0)
    marks = marks.max(axis=0)
    kept: list[Candidate] = []
    for place in np.argsort(marks)[::-1]:
        pitch, mark = guesses[place], float(marks[place])
        if mark <= 0 or (kept and mark < KEEP_ABOVE * kept[0].score):
            break
        if all(abs(math.log(pitch / other.pitch_hz)) > 0.02 for other in kept):
            kept.append(_refined(float(pitch), STIFFNESSES[best[place]], mark, found))
    return kept


def explained(found: Peaks, pitch_hz: float, stiffness: float) -> float:
    """The share (0 to 1) of the peaks' weight that lies on the partials of one string."""
    if not len(found.hz):
        return 0.0
    hit, nearer, teeth = _hits(np.array([pitch_hz]), stiffness, found)
    within = found.weight[found.hz < BEYOND * teeth[0, -1]].sum()
    return float(found.weight[np.unique(nearer[hit])].sum() / max(within, 1e-9))


def _floor(level: Floats, step: float) -> Floats:
    """The level of the surroundings: the middle value of a stretch, drawn through the stretches' middles."""
    width = max(8, int(90.0 / step))
    count = max(2, len(level) // width)
    parts = np.array_split(level, count)
    middles = np.cumsum([len(part) for part in parts]) - 0.5 * np.array([len(part) for part in parts])
    return np.asarray(
        np.interp(np.arange(len(level)), middles, [float(np.quantile(part, 0.4)) for part in parts])
    )


def _guesses(found: Peaks) -> Floats:
    """Pitches worth trying: every strong peak as any partial, each once."""
    strong = found.hz[np.argsort(found.weight)[::-1][:14]]
    pitches = (strong[:, None] / np.arange(1, 25)).ravel()
    pitches = np.sort(pitches[(pitches > LOWEST_HZ) & (pitches < HIGHEST_HZ)])
    return np.asarray(pitches[np.concatenate([[True], np.diff(np.log(pitches)) > 0.0008])])


def _hits(
    pitch: Floats, stiffness: float, found: Peaks
) -> tuple[NDArray[np.bool_], NDArray[np.intp], Floats]:
    """[pitch, tooth]: whether a peak lies on the tooth, which is nearest, and where the tooth is in hertz."""
    number = np.arange(1, TEETH + 1, dtype=float)
    teeth = pitch[:, None] * partial_hz(number, 1.0, stiffness)
    after = np.clip(np.searchsorted(found.hz, teeth), 1, len(found.hz) - 1)
    nearer = np.where(teeth - found.hz[after - 1] < found.hz[after] - teeth, after - 1, after)
    near = np.maximum(NEAR_SHARE * teeth, NEAR_BINS * found.bin_hz)
    # Teeth that reach further than this would catch anything.
    near = np.minimum(near, 0.15 * pitch[:, None])
    return np.abs(found.hz[nearer] - teeth) < near, nearer, teeth


def _scores(pitch: Floats, stiffness: float, found: Peaks) -> Floats:
    """The harmonic mean of the share of peaks explained and the share of teeth filled, for each pitch."""
    hit, nearer, teeth = _hits(pitch, stiffness, found)
    low, high = _range(found)
    counted = (teeth > 0.93 * low) & (teeth < high)
    filled = (hit & counted).sum(axis=1) / np.maximum(counted.sum(axis=1), 1)
    taken = np.zeros((len(pitch), len(found.hz)), dtype=bool)
    rows, columns = np.nonzero(hit)
    taken[rows, nearer[rows, columns]] = True
    within = (found.hz < BEYOND * teeth[:, -1:]) @ found.weight
    share = taken @ found.weight / np.maximum(within, 1e-9)
    score = 2 * filled * share / np.maximum(filled + share, 1e-9)
    return np.where(hit.sum(axis=1) < 2, 0.0, score)


def _refined(pitch: float, stiffness: float, score: float, found: Peaks) -> Candidate:
    hit, nearer, teeth = _hits(np.array([pitch]), stiffness, found)
    ratio = float(np.median((found.hz[nearer] / teeth)[hit]))
    return Candidate(pitch * ratio, stiffness, score, int(hit[0].argmax()) + 1)


def _range(found: Peaks) -> tuple[float, float]:
    """From the lowest strong peak to where nearly all the weight lies below."""
    strong = found.hz[found.weight > 0.35 * found.weight.max()]
    share = np.cumsum(found.weight) / found.weight.sum()
    return float(strong[0]), float(found.hz[np.searchsorted(share, 0.85)] * 1.01)
