"""When notes begin: the moments at which a sound rises in many bands at once.

A pluck lifts the level over the whole spectrum within a few hundredths of a second; a string that rings, a
hum or a steady noise does not. The levels are logarithms, so that a soft pluck counts like a hard one.
Source: S. Dixon, Onset Detection Revisited, Proc. Digital Audio Effects, 2006 (spectral flux); the bands, the
floor and the test of the level are ours.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HOP_S = 0.01
WINDOW_S = 0.04
BAND_COUNT, LEAST_BINS = 22, 2
LOWEST_HZ, HIGHEST_HZ = 60.0, 6000.0
FRAMES_AT_ONCE = 1500
# A band counts from this far below the loudest moment of the take, and from its own quiet level up.
DEPTH_DB = 58.0
# How far a quiet band sways above its quiet level.
QUIET_SWAY_DB = 7.0
RISE_DB = 4.0
LIFT_DB, LIFTED_BANDS, FALL_DB = 8.0, 3, 8.0
APART_S = 0.13
LEAST_FRAMES = 24
# The flux peaks this long after the string is let go: half a window, less the look ahead.
LATE_S = 0.5 * WINDOW_S


def onsets(samples: Floats, rate_hz: float) -> Floats:
    """Seconds, rising, at which notes begin in ``samples`` (one channel, full scale 1).

    The root mean square over bands of the rise of the level (dB) across 30 ms has a peak above ``RISE_DB``,
    and over the next 0.1 s the bands that rise most stay ``LIFT_DB`` above the last 0.06 s. Empty for
    silence.
    """
    levels = _above_floor(band_levels(samples, rate_hz))
    if len(levels) < LEAST_FRAMES:
        return np.zeros(0)
    before = np.maximum(levels[:-5], np.maximum(levels[1:-4], levels[2:-3]))
    rise = np.zeros(len(levels))
    # Squares: a high note rises in few bands, but far.
    rise[3:-2] = np.sqrt((np.maximum(levels[5:] - before, 0.0) ** 2).mean(axis=1))
    reach = round(APART_S / HOP_S)
    found: list[int] = []
    for place in np.flatnonzero(rise > RISE_DB):
        near = rise[max(0, place - reach) : place + reach + 1]
        if rise[place] >= near.max() and place + 8 < len(levels) and _lifts(levels, int(place)):
            if found and place - found[-1] < reach:
                continue
            found.append(int(place))
    return np.maximum(np.array(found, dtype=float) * HOP_S + LATE_S - HOP_S, 0.0)


def band_levels(samples: Floats, rate_hz: float) -> Floats:
    """Level in dB, [frame, band]: a frame each ``HOP_S``, bands evenly spaced in pitch."""
    size, hop = round(WINDOW_S * rate_hz), round(HOP_S * rate_hz)
    if len(samples) < size:
        return np.zeros((0, 1))
    frames = np.lib.stride_tricks.sliding_window_view(samples, size)[::hop]
    window = np.hanning(size)
    top = min(HIGHEST_HZ, 0.45 * rate_hz)
    edges = np.geomspace(LOWEST_HZ, top, BAND_COUNT + 1)
    bins = np.fft.rfftfreq(size, 1.0 / rate_hz)
    first, last = _bands(np.searchsorted(bins, edges).tolist())
    levels = np.empty((len(frames), len(first)))
    for begin in range(0, len(frames), FRAMES_AT_ONCE):
        part = frames[begin : begin + FRAMES_AT_ONCE] * window
        power = np.abs(np.fft.rfft(part, axis=1)) ** 2
        sums = np.concatenate([np.zeros((len(part), 1)), np.cumsum(power, axis=1)], axis=1)
        levels[begin : begin + len(part)] = 10 * np.log10(sums[:, last] - sums[:, first] + 1e-12)
    return levels


def _bands(edges: list[int]) -> tuple[list[int], list[int]]:
    """First bin and the one after the last of each band; the lowest are widened, as one bin of noise sways
    far."""
    kept = edges[:1]
    for edge in edges[1:]:
        if edge >= kept[-1] + LEAST_BINS:
            kept.append(edge)
    return kept[:-1], kept[1:]


def _above_floor(levels: Floats) -> Floats:
    """Each band's level above its floor: its own quiet level, or ``DEPTH_DB`` under the loudest band."""
    if not len(levels):
        return levels
    floor = np.maximum(np.quantile(levels, 0.1, axis=0) + QUIET_SWAY_DB, levels.max() - DEPTH_DB)
    return np.asarray(np.maximum(levels - floor, 0.0))


def _lifts(levels: Floats, place: int) -> bool:
    after = levels[place + 2 : place + 12].mean(axis=0)
    before = levels[max(0, place - 8) : max(1, place - 2)].mean(axis=0)
    # A hand that damps spreads what sounded over other bands, and then it is gone.
    stays = levels[place + 7 : place + 13].mean(axis=0).max() > before.max() - FALL_DB
    # The bands that rise most: a gain control turns all the others down.
    return bool(stays and np.sort(after - before)[-LIFTED_BANDS:].mean() > LIFT_DB)
