"""How well each fault explains one string's buzz: the clearance map as a forward model, run both ways.

Every hypothesis is a board with one thing wrong. Its odds are the chance of the marks as they are, marked and
unmarked notes alike, summed over what the readings leave open: the relief, the string's action and nut gap
(a normal spread from the tool's error), and how hard the player truly plucks. A note is heard when the least
room under it, gap less swing, is below 0, blurred by the frets' unevenness:
P = slip + (1 - 2 slip) / (1 + exp(1.702 room / noise)).

Arrays end with the axes [relief, swing, action] (the nodes), the answers with [relief, swing]: what is common
to all strings is summed out when they have come together. What is asked about (pair, fret, size) comes first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from webapp.setups.buzz_scene import SWING_STEPS, Array, Scene, StringScene
from webapp.setups.buzz_shapes import Shapes
from webapp.trade.buzz import BuzzSheet

Odds = NDArray[np.float64]
Marks = NDArray[np.bool_]

# How far a fret may stand proud or be worn, in the hypotheses, mm.
UNEVEN_MM: Array = np.array([0.05, 0.10, 0.15, 0.20, 0.26, 0.32], dtype=np.float32)
# How surely a part that rattles at one pitch answers it.
RATTLE = 0.85
# A setting in order stands up to this far above the lowest clean action, at 12, mm.
ROOM_ABOVE_MM = 0.9
# Some stand higher still, which makes nothing buzz.
HIGH_MM, HIGH_SHARE = 4.0, 0.15
# Where the neck pulled straight under it, a saddle left alone may stand this far below.
ROOM_BELOW_MM = 1.2
# A string that is too low has hardly this much to spare, and falls short by about so much; put right, it is
# raised by that.
HARDLY_MM, SHORT_MM, RAISED_MM = 0.08, 0.5, 0.8
EDGE_MM = 0.04
# From one pluck to the next the same hand differs by this share.
PLUCK_SPREAD = 0.04
PROBIT = 1.702
CLEAR_MM = 9.0


def log_sum(values: Odds | Array, axis: int | tuple[int, ...]) -> Odds:
    """log(sum(exp(values))), safe for very small chances."""
    top = np.max(values, axis=axis, keepdims=True)
    total = np.log(np.sum(np.exp(values - top), axis=axis, keepdims=True)) + top
    return np.asarray(np.squeeze(total, axis=axis), dtype=np.float64)


def log_box(x: Array, low: ArrayLike, high: ArrayLike, edge: float = EDGE_MM) -> Array:
    """Log density of 'somewhere between low and high', with soft edges and a thin floor outside."""
    low, high = np.asarray(low, dtype=np.float32), np.asarray(high, dtype=np.float32)
    inside = _expit((x - low) / np.float32(edge)) * _expit((high - x) / np.float32(edge))
    return np.asarray(np.log(inside / np.maximum(high - low, np.float32(edge)) + np.float32(1e-4)))


def _expit(x: Array) -> Array:
    return np.asarray(1 / (1 + np.exp(np.clip(-x, -60, 60))))


def _ahead(values: NDArray[np.float32], axes: int) -> Array:
    """Add axes behind, so that values broadcast against as many node axes."""
    return values.reshape(*values.shape, *([1] * axes))


@dataclass(frozen=True)
class StringOdds:
    """The chances of one string's marks under every hypothesis."""

    scene: Scene
    string: StringScene
    sheet: BuzzSheet

    # the room under every note

    @cached_property
    def swing(self) -> Array:
        """Open-string swings that may have been played, [swing, 1]."""
        share = 1.0 + self.scene.swing_spread * SWING_STEPS
        return np.asarray(self.string.swing_mm * share[:, None], dtype=np.float32)

    @cached_property
    def relief(self) -> Array:
        return self.scene.relief.values[:, None, None]

    @cached_property
    def scale(self) -> np.float32:
        """From room in mm to the logit of a touch."""
        pluck = PLUCK_SPREAD * self.string.swing_mm
        noise_mm = np.sqrt(2 * self.sheet.fret_spread_mm**2 + pluck**2)
        return np.float32(-PROBIT / noise_mm)

    @cached_property
    def room(self) -> Array:
        """Gap less swing, [pair, nodes]."""
        p = self.string.pairs
        return np.asarray(
            _ahead(p.per_action, 3) * self.string.action.values
            + _ahead(p.per_relief, 3) * self.relief
            - _ahead(p.reach, 3) * self.swing
        )

    @cached_property
    def open_room(self) -> Array:
        """The same for the open string over frets 1 and up, [over, nut, nodes]."""
        p = self.string.pairs
        return np.asarray(
            _ahead(p.open_per_action, 4) * self.string.action.values
            + _ahead(p.open_per_nut, 4) * _ahead(self.string.nut.values, 3)
            + _ahead(p.open_per_relief, 4) * self.relief
            - _ahead(p.open_reach, 4) * self.swing
        )

    def _least(self, room: Array) -> Array:
        """Of rooms [pair, ...] the least of each fretted note with frets ahead, [note, ...]."""
        starts = np.flatnonzero(np.diff(self.string.pairs.fretted, prepend=0))
        # Note by note: several times quicker than reduceat, which takes the pairs one number at a time.
        return np.stack([part.min(axis=0) for part in np.split(room, starts[1:])])

    @cached_property
    def least(self) -> Array:
        """The least room of each fretted note 1 to the last, [note, nodes]; nothing is ahead of the last."""
        rows = self._least(self.room)
        return np.concatenate([rows, np.full_like(rows[:1], CLEAR_MM)])

    @cached_property
    def open_least(self) -> Array:
        """[nut, nodes]"""
        return np.asarray(self.open_room.min(axis=0))

    def chance(self, room: Array) -> Array:
        """Chance that a note with this least room is heard to buzz, slips aside."""
        return _expit(room * self.scale)

    def log_mark(self, chance: Array, tapped: Marks | np.bool_, without: Array | None = None) -> Array:
        """Log chance of the marks as they are; `tapped` broadcasts as it stands.

        `without` is the chance that the note would buzz with the fault put right. What is weighed is one
        fault on a board that is clean but for it: a marked note buzzes with it and not without it.
        """
        slip = np.float32(self.sheet.slip)
        if without is None:
            agree = np.where(tapped, chance, 1 - chance)
        else:
            agree = np.where(tapped, np.maximum(chance - without, 0), 1 - np.maximum(chance, without))
        return np.asarray(np.log(slip + (1 - 2 * slip) * agree))

    @cached_property
    def tapped(self) -> Marks:
        """Marks of notes 1 to the last, ready to broadcast over the nodes."""
        return self.string.tapped[1:, None, None, None]

    # what the readings say

    @cached_property
    def need(self) -> Array:
        """Lowest clean action with the relief brought into its target, [relief, swing, 1]."""
        target, p = self.scene.relief_target, self.string.pairs
        relief = np.clip(self.relief, target.low, target.high)
        lack = (_ahead(p.reach, 3) * self.swing - _ahead(p.per_relief, 3) * relief) / _ahead(p.per_action, 3)
        return np.asarray(np.max(lack, axis=0))

    def in_order(self, shift_mm: ArrayLike = 0.0) -> Array:
        """Log weight of each action if the string stands as it should, or higher, [..., nodes].

        `shift_mm` is what the fault itself adds to the reading.
        """
        usual = self._weighted(0.0, ROOM_ABOVE_MM, shift_mm)
        high = self._weighted(ROOM_ABOVE_MM, HIGH_MM, shift_mm) + np.float32(np.log(HIGH_SHARE))
        return np.asarray(np.logaddexp(usual, high))

    def _weighted(self, low_mm: float, high_mm: float, shift_mm: ArrayLike = 0.0) -> Array:
        action = self.string.action
        shift = _ahead(np.asarray(shift_mm, dtype=np.float32), 3)
        return np.asarray(action.log_weight + log_box(action.values - shift - self.need, low_mm, high_mm))

    @cached_property
    def healthy(self) -> Array:
        return self.in_order()

    @cached_property
    def nut_healthy(self) -> Array:
        """Log weight of each nut gap if the slot is as it should be, [nut, 1, 1, 1]."""
        bands = self.string.nut_bands
        return self._nut(bands.target.low - 0.05, bands.usual.high)

    @cached_property
    def nut_low(self) -> Array:
        """The same if the slot is too low; for an open string that rattles, up to the middle is low."""
        return self._nut(-0.05, self.string.nut_bands.target.middle)

    def _nut(self, low_mm: float, high_mm: float) -> Array:
        nut = self.string.nut
        return _ahead(nut.log_weight + log_box(nut.values, low_mm, high_mm), 3)

    # the marks if the map alone is to blame, and if it is not

    @cached_property
    def touch(self) -> Array:
        """Chance that each fretted note touches by the map, [note, nodes]."""
        return self.chance(self.least)

    @cached_property
    def open_touch(self) -> Array:
        """The same for the open note, [nut, nodes]."""
        return self.chance(self.open_least)

    def _open(self, chance: Array, weight: Array, without: Array | None = None) -> Odds:
        """Log chance of the open mark with the nut gap summed out; `chance` is [..., nut, nodes]."""
        return log_sum(self.log_mark(chance, self.string.tapped[0], without) + weight, axis=-4)

    @cached_property
    def by_map(self) -> Odds:
        """Log chance of all marks if the map alone makes the notes buzz, [nodes].

        The open note counts as the saddle's only as far as a saddle in order would quiet it.
        """
        fretted = self.log_mark(self.touch, self.tapped).sum(axis=0)
        raised = self.open_room + _ahead(self.string.pairs.open_per_action, 4) * np.float32(RAISED_MM)
        opened = self._open(self.open_touch, self.nut_healthy, self.chance(raised.min(axis=0)))
        return np.asarray(fretted + opened)

    @cached_property
    def base(self) -> Array:
        """Log chance of each fretted mark on a clean string with no fault, [note, nodes]."""
        return self.log_mark(self.touch, self.tapped, self.touch)

    @cached_property
    def open_mark(self) -> Odds:
        """The same for the open mark and the nut reading, [nodes]."""
        return self._open(self.open_touch, self.nut_healthy, self.open_touch)

    @cached_property
    def fretted(self) -> Odds:
        """All fretted marks on a clean string, and its action reading, [nodes]."""
        return np.asarray(self.healthy + self.base.sum(axis=0), dtype=np.float64)

    @cached_property
    def clean(self) -> Odds:
        """Nothing wrong with this string."""
        return log_sum(self.fretted + self.open_mark, axis=-1)

    @cached_property
    def touching(self) -> Odds:
        """Its action hardly in order, its buzz the map's."""
        return log_sum(self.healthy + self.by_map, axis=-1)

    @cached_property
    def bent(self) -> Odds:
        """Its action in order, its buzz the relief's: with the relief in its target it would be clean."""
        target, p = self.scene.relief_target, self.string.pairs
        outside = (self.relief < target.low) | (self.relief > target.high)
        over = np.where(outside, np.float32(target.middle) - self.relief, np.float32(0))
        within = self._least(self.room + _ahead(p.per_relief, 3) * over)
        fretted = self.log_mark(self.touch[:-1], self.tapped[:-1], self.chance(within)).sum(axis=0)
        open_within = (self.open_room + _ahead(p.open_per_relief, 4) * over).min(axis=0)
        opened = self._open(self.open_touch, self.nut_healthy, self.chance(open_within))
        return log_sum(self.healthy + fretted + self.base[-1] + opened, axis=-1)

    @cached_property
    def too_low(self) -> Odds:
        """Its action short of what it needs: a little more often than by much."""
        action = self.string.action
        spare = action.values - self.need - np.float32(HARDLY_MM)
        density = _expit(-spare / np.float32(EDGE_MM)) * np.exp(np.minimum(spare, 0) / np.float32(SHORT_MM))
        weight = action.log_weight + np.log(density / np.float32(SHORT_MM) + np.float32(1e-4))
        return log_sum(weight + self.by_map, axis=-1)

    @cached_property
    def pulled_straight(self) -> Odds:
        """The neck pulled straight under a saddle left alone: action low, or still in order."""
        return log_sum(self._weighted(-ROOM_BELOW_MM, ROOM_ABOVE_MM) + self.by_map, axis=-1)

    @cached_property
    def slot_low(self) -> Odds:
        return log_sum(self.fretted + self._open(self.open_touch, self.nut_low), axis=-1)

    # one fret too high or worn

    @cached_property
    def high_fret(self) -> Odds:
        """Each fret proud by each size, [fret - 1, size, relief, swing]."""
        p, h = self.string.pairs, _ahead(UNEVEN_MM, 3)
        n = p.fretted - 1
        raised = np.minimum(self.least[n, None], self.room[:, None] - h)
        marks = self.log_mark(self.chance(raised), self.tapped[n, None], self.touch[n, None])
        gain = marks - self.base[n, None]
        order = np.argsort(p.over, kind="stable")
        first = np.flatnonzero(np.diff(p.over[order], prepend=0))
        below = np.zeros((self.base.shape[0], *gain.shape[1:]), dtype=np.float32)
        below[1:] = np.stack([part.sum(axis=0) for part in np.split(gain[order], first[1:])])
        least = np.minimum(self.open_least, self.open_room[:, None] - h[:, None])
        opened = self._open(self.chance(least), self.nut_healthy, self.open_touch)
        return log_sum(self.fretted + below + self._pressed_at(UNEVEN_MM) + opened, axis=-1)

    @cached_property
    def worn_fret(self) -> Odds:
        """Each fret worn by each size, as above: the note pressed there comes closer to every fret ahead.

        That a worn fret gives other notes more room is left out: they are clean anyway.
        """
        return log_sum(self.fretted + self.open_mark + self._pressed_at(-UNEVEN_MM), axis=-1)

    def _pressed_at(self, lift: Array) -> Array:
        """What changes for the note pressed at a fret that stands `lift` higher, [note, lift, nodes]."""
        p = self.string.pairs
        moved = self.room[:, None] + _ahead((1 - p.share)[:, None] * lift, 3)
        least = self._least(moved)
        gain = np.zeros((self.base.shape[0], *least.shape[1:]), dtype=np.float32)
        marks = self.log_mark(self.chance(least), self.tapped[:-1, None], self.touch[:-1, None])
        gain[:-1] = marks - self.base[:-1, None]
        return gain

    def shaped(self, shapes: Shapes) -> Odds:
        """Many frets off at once, and the readings with them, [shape, relief, swing]."""
        p = self.string.pairs
        relief, action = shapes.relief_mm, shapes.action_mm
        level = -(p.per_relief[:, None] * relief + p.per_action[:, None] * action)
        open_level = -(p.open_per_relief[:, None] * relief + p.open_per_action[:, None] * action)
        rise = shapes.rise.T
        risen = level + rise[p.fretted] * (1 - p.share)[:, None] - rise[p.over]
        # Many shapes leave the readings alike: the board without them is worked out once for each.
        kinds, which = np.unique(np.stack([relief, action]), axis=1, return_inverse=True)
        first = np.array([int(np.flatnonzero(which == kind)[0]) for kind in range(kinds.shape[1])])
        with_it = self.chance(self._least(self.room[:, None] + _ahead(risen, 3)))
        without = self.chance(self._least(self.room[:, None] + _ahead(level[:, first], 3)))[:, which]
        open_with = self._open_chance(open_level - rise[1:])
        open_without = self._open_chance(open_level[:, first])[which]
        marks = self.log_mark(with_it, self.tapped[:-1, None], without).sum(axis=0)
        opened = self._open(open_with, self.nut_healthy, open_without)
        return log_sum(marks + self.base[-1] + self.in_order(action) + opened, axis=-1)

    def _open_chance(self, change: Array) -> Array:
        """Chance of the open note with its gaps changed by [over, shape]; [shape, nut, nodes]."""
        return self.chance((self.open_room[:, None] + _ahead(change, 4)).min(axis=0))

    # reasons that have nothing to do with the gaps

    def scattered(self, rates: Iterable[float], with_open: bool = True) -> Odds:
        """Every note of a clean string buzzes by itself at a rate, [rate, relief, swing]."""
        out = []
        for rate in rates:
            total = self.healthy + self._by_itself(rate, self.touch, self.tapped).sum(axis=0)
            out.append(log_sum(total + (self._open_at(rate) if with_open else self.open_mark), axis=-1))
        return np.stack(out)

    def _by_itself(self, rate: float, touch: Array, tapped: Marks | np.bool_) -> Array:
        either = np.float32(rate) + (1 - np.float32(rate)) * touch
        return self.log_mark(either, tapped, touch)

    def _open_at(self, rate: float) -> Odds:
        marks = self._by_itself(rate, self.open_touch, self.string.tapped[0])
        return log_sum(marks + self.nut_healthy, axis=-4)

    @cached_property
    def open_rattle(self) -> Odds:
        """The open string may rattle by itself, at the nut or behind it."""
        return log_sum(self.fretted + self._open_at(0.5), axis=-1)

    def at_pitches(self, pitches: Iterable[int]) -> Odds:
        """Something on the instrument rattles at one pitch, [pitch, relief, swing]."""
        return np.stack([self._at_fret(pitch - self.string.open_pitch) for pitch in pitches])

    def _at_fret(self, fret: int) -> Odds:
        if fret == 0:
            return log_sum(self.fretted + self._open_at(RATTLE), axis=-1)
        if not 0 < fret <= self.string.pairs.last:
            return self.clean
        rattle = float(np.log(RATTLE if self.string.tapped[fret] else 1 - RATTLE))
        return log_sum(self.fretted - self.base[fret - 1] + rattle + self.open_mark, axis=-1)
