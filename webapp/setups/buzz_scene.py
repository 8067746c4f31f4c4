"""What the buzz finder weighs: the notes that buzzed, and how the instrument may have stood when they were plucked.

The belief's relief and heights hang together. Here they are spread over some scenarios that all strings share (the
relief, how hard and in which way the strings swing, how high they stand together) and, in each, over a few heights
of every string by itself. The scenarios are points of an additive lattice, which fills a space of few dimensions
evenly, the same points every time. Source: Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods,
1992, chapter 5 (recalled, not looked up again).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from webapp.physics.mixture import Mixture
from webapp.setups.belief.neck import HEIGHTS, RELIEF
from webapp.setups.buzz import newest_board
from webapp.setups.buzz_gaps import Array, Floats, Gaps, gaps_of
from webapp.setups.case import Case
from webapp.setups.journal import Entry, EntryKind, Journal, Part
from webapp.setups.slots import Slot, string_numbers
from webapp.setups.touch import swing_for
from webapp.trade.ranges import Band, Bands
from webapp.trade.words import Check, Touch

SCENARIOS, HEIGHT_STEPS, NUT_STEPS = 48, 5, 4
# The scenarios lie a little wider than the belief, so that its ends are tried too; their weights put that right.
WIDER = 1.2
# A player lets the string go from above its rest as deep as from below it, or not so deep: shares of that reach.
FROM_ABOVE = (1.0, 0.6)
# Where the relief, a height or a nut gap may truly be if its reading was a slip after all: about the relief's
# target, in widths of it and mm beyond, and mm from what is believed of a height.
SLIPPED_RELIEF = ((0.2, 0.0), (0.5, 0.0), (0.8, 0.0), (0.0, -0.2), (1.0, 0.2), (1.0, 0.5))
SLIPPED_HEIGHT_MM = (-0.6, 0.6)
CLEARANCE_PARTS = (Part.ROD, Part.SADDLE_HEIGHT, Part.NUT, Part.STRINGS)


@dataclass(frozen=True)
class Scenarios:
    """How the instrument may have stood. Axes: scenario k, string s (bass side first), step j of a string's own height.

    `relief` [k] mm; `harder` [k] how many times the touch's swing was played; `above` [k] which of FROM_ABOVE;
    `log_weight` [k]; `action` [s, k, j] mm at 12 held at 1, with `action_log_weight` [j]; `nut` [n, s] mm, with
    `nut_log_weight` [n].
    """

    relief: Array
    harder: Array
    above: NDArray[np.intp]
    log_weight: Floats
    action: Array
    action_log_weight: Array
    nut: Array
    nut_log_weight: Array


@dataclass(frozen=True)
class Scene:
    """The whole board as it was when the notes were plucked; `numbers` bass side first, `tapped` [string, fret]."""

    case: Case
    board: Entry
    touch: Touch
    numbers: tuple[int, ...]
    tapped: NDArray[np.bool_]
    gaps: Gaps
    swing_mm: Floats

    @property
    def relief_target(self) -> Band:
        return self.case.trade.ranges.relief_bands(self.case.family, self.touch).target

    @property
    def marked(self) -> tuple[int, ...]:
        """The strings that buzz anywhere."""
        return tuple(n for n, row in zip(self.numbers, self.tapped, strict=True) if row.any())

    def frets(self, number: int) -> list[int]:
        """Where a string buzzes."""
        return [int(fret) for fret in np.flatnonzero(self.tapped[self.numbers.index(number)])]

    @cached_property
    def nut_bands(self) -> tuple[Bands, ...]:
        return tuple(self.case.bands(Slot(Check.NUT, string=n)) for n in self.numbers)

    @cached_property
    def open_pitches(self) -> tuple[int, ...]:
        """Open notes counted in semitones, so that the same pitch on two strings is the same number."""
        return tuple(_semitone(self.case.spec.string(n).note) for n in self.numbers)

    @property
    def swing_spread(self) -> float:
        """How far the hand may be off the swing taken, one standard deviation, as a share."""
        own, spread = self.case.spec.own_swing, self.case.trade.buzz.swing_spread
        if own is None or not own_touch(self.case, self.touch):
            return spread
        # A swing found by test still differs from one evening to the next.
        return min(spread, max(0.04, own.error_mm / own.swing_mm))

    @cached_property
    def scenarios(self) -> Scenarios:
        belief, slip = self.case.belief, self.case.trade.belief.reading.slip
        mean, cov = _moments(belief.neck.mixture)
        relief_sd = float(np.sqrt(cov[RELIEF, RELIEF]))
        along = cov[HEIGHTS:, RELIEF] / relief_sd
        together, own = _apart(cov[HEIGHTS:, HEIGHTS:] - np.outer(along, along))
        z, above, log_weight = _lattice(len(SLIPPED_RELIEF))
        target = self.relief_target
        slipped = [target.low + share * target.width + mm for share, mm in SLIPPED_RELIEF]
        believed = mean[RELIEF] + relief_sd * z[: -len(slipped), 0]
        heights = mean[HEIGHTS:, None] + np.outer(along, z[:, 0]) + np.outer(together, z[:, 2])
        steps = own[:, None, None] * _own_steps(len(own), len(z))
        off = np.broadcast_to(SLIPPED_HEIGHT_MM, (*steps.shape[:2], len(SLIPPED_HEIGHT_MM)))
        nut = np.array([belief.nut.mixture.moments(belief.place_row(Slot(Check.NUT, string=n))) for n in self.numbers])
        nut_steps = nut[:, 0] + np.outer(_even(NUT_STEPS), nut[:, 1])
        return Scenarios(
            relief=_f32(np.concatenate((believed, slipped))),
            harder=_f32(1 + self.swing_spread * z[:, 1]),
            above=above,
            log_weight=_with_slips(log_weight, slip),
            action=_f32(heights[..., None] + np.concatenate((steps, off), axis=-1)),
            action_log_weight=_f32(_slip_weights(HEIGHT_STEPS, len(SLIPPED_HEIGHT_MM), slip)),
            nut=_f32(np.concatenate((nut_steps, [[b.target.middle for b in self.nut_bands]]))),
            nut_log_weight=_f32(_slip_weights(NUT_STEPS, 1, slip)),
        )
