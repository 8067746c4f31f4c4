"""Which note that was heard is which that was asked for: an alignment in order, by dynamic programming.

What was heard may have notes too many, notes twice and notes missing, and the whole string may be out of tune
by a common offset. The offset is tried at every value that some pair of notes suggests.
Source: the recurrence is that of S. B. Needleman and C. D. Wunsch, A General Method Applicable to the Search
for Similarities in the Amino Acid Sequence of Two Proteins, 1970; the rewards are ours.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

REPEAT_REWARD = 0.3
MISS_COST, EXTRA_COST = 0.25, 0.1
STRAY_COST = 0.45
OFFSET_COST = 0.3
ASK_ABOVE_CENTS = 60.0
OFFSETS_TRIED = 14
BIN_CENTS = 16.0


@dataclass(frozen=True)
class Reading:
    """One way to read a heard note: its pitch in cents, and what choosing it costs (0 for the best
    reading)."""

    cents: float
    cost: float


@dataclass(frozen=True)
class Alignment:
    """``pairs``: (heard, asked, which reading), in order, an asked note perhaps twice; the common offset."""

    pairs: tuple[tuple[int, int, int], ...]
    common_cents: float
    reward: float


def align(heard: Sequence[Sequence[Reading]], asked: Sequence[float], tolerance: float) -> Alignment:
    """The best alignment of ``heard`` to ``asked`` (cents, in order), notes within ``tolerance`` of the
    offset."""
    best = _along(heard, asked, tolerance, 0.0)
    for offset in _offsets(heard, asked):
        tried = _along(heard, asked, tolerance, offset)
        if tried.pairs:
            away = [heard[h][r].cents - asked[a] for h, a, r in tried.pairs]
            tried = _along(heard, asked, tolerance, float(np.median(away)))
        if tried.reward > best.reward + 1e-9:
            best = tried
    if not best.pairs:
        return best
    away = [heard[h][r].cents - asked[a] for h, a, r in best.pairs]
    return Alignment(best.pairs, float(np.median(away)), best.reward)


def _offsets(heard: Sequence[Sequence[Reading]], asked: Sequence[float]) -> list[float]:
    """Common offsets that the pairs of a heard and an asked note suggest most often."""
    away = np.array([reading.cents - cents for note in heard for reading in note for cents in set(asked)])
    if not len(away):
        return []
    bins, counts = np.unique(np.round(away / BIN_CENTS), return_counts=True)
    # Two bins side by side may share one offset.
    both = counts + np.array([counts[bins == value + 1].sum() for value in bins])
    return [float(bins[place] * BIN_CENTS) for place in np.argsort(both)[::-1][:OFFSETS_TRIED]]


def _along(
    heard: Sequence[Sequence[Reading]], asked: Sequence[float], tolerance: float, offset: float
) -> Alignment:
    rows, columns = len(heard), len(asked)
    gains, chosen = _gains(heard, asked, tolerance, offset)
    # Plain lists: this runs for every heard and every asked note, and again for each offset.
    before = [-MISS_COST * column for column in range(columns + 1)]
    step = [[0] + [2] * columns]
    for gain_row in gains.tolist():
        value, ways_in = [before[0] - EXTRA_COST], [1]
        for column, gain in enumerate(gain_row, 1):
            again = before[column] + REPEAT_REWARD + gain - 1.0 if step[-1][column] in (0, 3) else -math.inf
            ways = (before[column - 1] + gain, before[column] - EXTRA_COST, value[-1] - MISS_COST, again)
            best = max(ways)
            value.append(best)
            ways_in.append(ways.index(best))
        before = value
        step.append(ways_in)
    reward = before[columns] - (OFFSET_COST if abs(offset) > ASK_ABOVE_CENTS else 0.0)
    pairs = _back(step, rows, columns)
    return Alignment(tuple((h, a, int(chosen[h, a])) for h, a in pairs), offset, reward)


def _gains(
    heard: Sequence[Sequence[Reading]], asked: Sequence[float], tolerance: float, offset: float
) -> tuple[np.ndarray, np.ndarray]:
    """(reward of each heard note as each asked one, -inf where it cannot be; the reading that gives it)."""
    gains = np.full((len(heard), len(asked)), -np.inf)
    chosen = np.zeros((len(heard), len(asked)), dtype=int)
    target = np.asarray(asked, dtype=float)
    for row, note in enumerate(heard):
        for which, reading in enumerate(note):
            stray = (reading.cents - target - offset) / tolerance
            gain = np.where(np.abs(stray) < 1, 1 - STRAY_COST * stray**2 - reading.cost, -np.inf)
            better = gain > gains[row]
            gains[row, better], chosen[row, better] = gain[better], which
    return gains, chosen


def _back(step: list[list[int]], row: int, column: int) -> list[tuple[int, int]]:
    pairs = []
    while row > 0 or column > 0:
        way = step[row][column]
        if way in (0, 3) and row > 0 and column > 0:
            pairs.append((row - 1, column - 1))
        row, column = row - (way in (0, 1, 3)), column - (way in (0, 2))
    return pairs[::-1]
