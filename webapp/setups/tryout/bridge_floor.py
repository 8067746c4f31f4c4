"""The lowest that a bridge's screws can set its strings without leaving one of them below its height."""

from __future__ import annotations

from math import ceil

import numpy as np

from webapp.physics.mixture import Floats

# Far below any screw: what is over an eighth by so little is no eighth more.
NOTHING = 1e-6


def least_eighths(want_mm: float, gain_mm: float) -> int:
    """Signed eighths of one saddle's screws for a wanted gain of height; rounded up, since lower would buzz.

    `gain_mm` is the height gained by one eighth.
    """
    return ceil(want_mm / gain_mm - NOTHING)


def lowest_bar(wants_mm: Floats, gains_mm: Floats) -> tuple[int, int]:
    """Signed steps for the bass and the treble end of one stiff bar, after which no string lacks height.

    `wants_mm` (strings) are the wanted gains of height, `gains_mm` (2, strings) what a step of an end gives.
    Of all such steps, those that leave the strings lowest together.
    """
    at_bass, at_treble = gains_mm
    # The bass end within some times of what lifts every string by the most that any of them wants.
    far = 8 * ceil(float(np.max(np.abs(wants_mm))) / float(np.min(gains_mm.sum(axis=0)))) + 8
    bass = np.arange(-far, far + 1)
    lacking = wants_mm - np.outer(bass, at_bass)
    rising, falling = at_treble > NOTHING, at_treble < -NOTHING
    # The least that the treble end has to do for each; a string beyond the bass post goes the other way.
    treble = np.ceil(np.max(lacking[:, rising] / at_treble[rising], axis=1) - NOTHING)
    most = np.min(lacking[:, falling] / at_treble[falling], axis=1, initial=np.inf)
    still = np.max(lacking[:, ~(rising | falling)], axis=1, initial=0.0)
    possible = (treble <= most + NOTHING) & (still <= NOTHING)
    height = bass * at_bass.sum() + treble * at_treble.sum()
    lowest = int(np.argmin(np.where(possible, height, np.inf)))
    return int(bass[lowest]), int(treble[lowest])
