"""How well each fault explains every string's marks: the clearance map as a forward model, run both ways.

Every hypothesis is a board with one thing wrong. Its odds are the chance of the marks as they are, marked and
unmarked notes alike, under each scenario of the scene. A note is heard when the least room under it, gap less
swing, is below 0, blurred by all that the map leaves out: P = slip + (1 - 2 slip) / (1 + exp(1.702 room / blur)).
Notes of one board err together, so each counts for less than a whole one (`trust`).

Arrays end with the axes [string, scenario, step of the string's own height], the answers with [string, scenario].
What is asked about (pair, note, fret, size, shape) comes first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from webapp.setups.buzz_gaps import Array, Floats
from webapp.setups.buzz_scene import FROM_ABOVE, Scene
from webapp.setups.buzz_shapes import Shapes
from webapp.trade.buzz import BuzzSheet

Marks = NDArray[np.bool_]

# How far a fret may stand proud or be worn, in the hypotheses, mm.
UNEVEN_MM: Array = np.array([0.06, 0.11, 0.17, 0.24, 0.32], dtype=np.float32)
# How surely a part that rattles at one pitch answers it.
RATTLE = 0.85
# A setting in order stands up to this far above the lowest clean action, at 12, mm.
ROOM_ABOVE_MM = 0.9
# Some stand higher still, which makes nothing buzz.
HIGH_MM, HIGH_SHARE = 4.0, 0.15
# Where the neck pulled straight under it, a saddle left alone may stand this far below.
ROOM_BELOW_MM = 1.2
# A string that is too low has hardly this much to spare, and falls short by about so much.
HARDLY_MM, SHORT_MM = 0.08, 0.5
PROBIT = 1.702
CLEAR_MM = 9.0
FLOOR = np.float32(1e-8)


def log_sum(values: Floats | Array, axis: int | tuple[int, ...]) -> Floats:
    """log(sum(exp(values))), safe for very small chances."""
    top = np.max(values, axis=axis, keepdims=True)
    total = np.log(np.sum(np.exp(values - top), axis=axis, keepdims=True)) + top
    return np.asarray(np.squeeze(total, axis=axis), dtype=np.float64)


def log_box(x: Array, low: ArrayLike, high: ArrayLike, edge: ArrayLike, floor: float = 1e-8) -> Array:
    """Log density of 'somewhere between low and high', with soft edges and a thin floor outside."""
    low, high, edge = (np.asarray(v, dtype=np.float32) for v in (low, high, edge))
    inside = _expit((x - low) / edge) * _expit((high - x) / edge)
    return np.asarray(np.log(inside / np.maximum(high - low, edge) + np.float32(floor)))


def _expit(x: Array) -> Array:
    return np.asarray(1 / (1 + np.exp(np.clip(-x, -60, 60))))


@dataclass(frozen=True)
class BoardOdds:
    """The chances of every string's marks under every hypothesis."""

    scene: Scene
    sheet: BuzzSheet

    # the room under every note

    @cached_property
    def relief(self) -> Array:
        """[scenario, 1], as it broadcasts over the strings and their steps."""
        return self.scene.scenarios.relief[:, None]

    @cached_property
    def reach(self) -> tuple[Array, Array]:
        """[pair, string, way] and [over, string, way]: how deep a string swings that is let go in each way."""
        gaps, above = self.scene.gaps, np.array(FROM_ABOVE, dtype=np.float32)
        return (
            np.maximum(gaps.from_below[..., None], gaps.reach[..., None] * above),
            np.maximum(gaps.open_from_below[..., None], gaps.open_reach[..., None] * above),
        )

    @cached_property
    def swing(self) -> Array:
        """Open-string swings that may have been played, [string, scenario].

        A touch is what is just clean at its own height; let go in another way, that is another swing.
        """
        gaps, swing = self.scene.gaps, self.scene.swing_mm.astype(np.float32)
        bow = np.float32(self.scene.relief_target.middle) * gaps.per_relief
        height = np.max((gaps.reach * swing - bow) / gaps.per_action, axis=0)
        clean = np.min((gaps.per_action * height + bow)[..., None] / self.reach[0], axis=0)
        scenarios = self.scene.scenarios
        return np.asarray(clean[:, scenarios.above] * (1 + scenarios.harder))

    @cached_property
    def dips(self) -> tuple[Array, Array]:
        """How deep the plucked string comes, mm: [pair, string, scenario] and [over, string, scenario]."""
        above = self.scene.scenarios.above
        return self.reach[0][..., above] * self.swing, self.reach[1][..., above] * self.swing

    @cached_property
    def blur_mm(self) -> Array:
        """What a touch is blurred by, [string, scenario]: uneven frets, plucks, bow that is not even, steps."""
        sheet, scenarios, gaps = self.sheet, self.scene.scenarios, self.scene.gaps
        action = np.mean(gaps.per_action, axis=0) * scenarios.action_rest
        relief = np.mean(abs(gaps.per_relief), axis=0) * scenarios.relief_rest
        swung = np.mean(gaps.reach, axis=0)[:, None] * self.swing
        parts = (
            2 * sheet.fret_spread_mm**2
            + (action**2 + relief**2)[:, None]
            + (sheet.bow_spread * scenarios.relief) ** 2
            + (np.hypot(sheet.pluck_spread, scenarios.harder_rest) * swung) ** 2
        )
        return np.asarray(np.sqrt(parts), dtype=np.float32)

    @cached_property
    def scale(self) -> Array:
        """From room in mm to the logit of a touch, [string, scenario, 1]."""
        return np.asarray(-PROBIT / self.blur_mm[..., None])

    @cached_property
    def open_scale(self) -> Array:
        rest = self.scene.scenarios.nut_rest[:, None]
        return np.asarray(-PROBIT / np.hypot(self.blur_mm, rest)[..., None])

    @cached_property
    def room(self) -> Array:
        """Gap less swing, [pair, string, scenario, step]."""
        gaps = self.scene.gaps
        level = gaps.per_relief[..., None] * self.scene.scenarios.relief - self.dips[0]
        return np.asarray(gaps.per_action[..., None, None] * self.scene.scenarios.action + level[..., None])

    @cached_property
    def open_room(self) -> Array:
        """The same for the open string over frets 1 and up, [over, nut, string, scenario, step]."""
        gaps, scenarios = self.scene.gaps, self.scene.scenarios
        level = gaps.open_per_relief[..., None] * scenarios.relief - self.dips[1]
        held = gaps.open_per_action[..., None, None] * scenarios.action + level[..., None]
        nut = gaps.open_per_nut[:, None] * scenarios.nut
        return np.asarray(held[:, None] + nut[..., None, None])

    @cached_property
    def _ends(self) -> list[int]:
        return [int(i) for i in np.flatnonzero(np.diff(self.scene.gaps.fretted))]

    def _least(self, room: Array) -> Array:
        """Of rooms [pair, ...] the least of each fretted note with frets ahead, [note, ...]."""
        parts = np.split(room, [end + 1 for end in self._ends])
        # Note by note: several times quicker than reduceat, which takes the pairs one number at a time.
        return np.stack([part.min(axis=0) for part in parts])

    @cached_property
    def least(self) -> Array:
        """The least room of each fretted note 1 to the last, [note, ...]; nothing is ahead of the last."""
        rows = self._least(self.room)
        return np.concatenate([rows, np.full_like(rows[:1], CLEAR_MM)])

    @cached_property
    def open_least(self) -> Array:
        """[nut, ...]"""
        return np.asarray(self.open_room.min(axis=0))

    def chance(self, room: Array) -> Array:
        """Chance that a note with this least room is heard to buzz, slips aside."""
        return _expit(room * self.scale)

    def open_chance(self, room: Array) -> Array:
        return _expit(room * self.open_scale)

    def log_mark(self, chance: Array, tapped: Marks) -> Array:
        """Log chance of the marks as they are; `tapped` broadcasts as it stands."""
        stray, missed = np.float32(self.sheet.stray), np.float32(self.sheet.missed)
        heard = stray + (1 - stray - missed) * chance
        return np.asarray(np.float32(self.sheet.trust) * np.log(np.where(tapped, heard, 1 - heard)))

    @cached_property
    def tapped(self) -> Marks:
        """Marks of notes 1 to the last, [note, string, 1, 1]."""
        return self.scene.tapped.T[1:, :, None, None]

    @cached_property
    def open_tapped(self) -> Marks:
        """[string, 1, 1]"""
        return self.scene.tapped[:, 0, None, None]

    # what the readings say

    @cached_property
    def need(self) -> Array:
        """Lowest clean action with the relief brought into its target, [string, scenario, 1]."""
        target, gaps = self.scene.relief_target, self.scene.gaps
        relief = np.clip(self.scene.scenarios.relief, target.low, target.high)
        lack = (self.dips[0] - gaps.per_relief[..., None] * relief) / gaps.per_action[..., None]
        return np.asarray(np.max(lack, axis=0)[..., None] + np.float32(self.sheet.need_margin_mm))

    @cached_property
    def edge(self) -> Array:
        """How soft the edges of 'in order' are, [string, 1, 1]: what the map leaves out, and the steps' rest."""
        rest = self.scene.scenarios.action_rest[:, None, None] / PROBIT
        return np.asarray(np.hypot(np.float32(self.sheet.need_spread_mm), rest))

    def in_order(self, shift_mm: ArrayLike = 0.0) -> Array:
        """Log weight of each action if the string stands as it should, or higher, [..., string, scenario, step].

        `shift_mm` is what the fault itself adds to the reading.
        """
        usual = self._weighted(0.0, ROOM_ABOVE_MM, shift_mm)
        high = self._weighted(ROOM_ABOVE_MM, HIGH_MM, shift_mm) + np.float32(np.log(HIGH_SHARE))
        return np.asarray(np.logaddexp(usual, high))

    def _weighted(self, low_mm: float, high_mm: float, shift_mm: ArrayLike = 0.0) -> Array:
        shift = np.asarray(shift_mm, dtype=np.float32)[..., None, None, None]
        spare = self.scene.scenarios.action - shift - self.need
        return np.asarray(self.scene.scenarios.action_log_weight + log_box(spare, low_mm, high_mm, self.edge, self.sheet.afloor))

    @cached_property
    def healthy(self) -> Array:
        return self.in_order()

    @cached_property
    def nut_healthy(self) -> Array:
        """Log weight of each nut gap if the slot is as it should be, [nut, string, 1, 1]."""
        target, usual = (self._nut_edges(one) for one in ("target", "usual"))
        return self._nut(target[0] - 0.05, usual[1])

    @cached_property
    def nut_low(self) -> Array:
        """The same if the slot is too low."""
        low, _ = self._nut_edges("target")
        return self._nut(np.full_like(low, -0.05), low)

    def _nut_edges(self, which: str) -> tuple[Array, Array]:
        bands = [getattr(one, which) for one in self.scene.nut_bands]
        return np.array([b.low for b in bands], np.float32), np.array([b.high for b in bands], np.float32)

    def _nut(self, low_mm: Array, high_mm: Array) -> Array:
        """A slot is judged as it would stand over a neck with the right relief: the nut rides on the neck."""
        scenarios, target = self.scene.scenarios, self.scene.relief_target
        edge = np.hypot(np.float32(self.sheet.nut_spread_mm), scenarios.nut_rest / PROBIT)[:, None]
        lift = np.clip(scenarios.relief, target.low, target.high) - scenarios.relief
        righted = scenarios.nut[..., None] + self.scene.gaps.nut_per_relief[:, None] * lift
        weight = log_box(righted, low_mm[:, None], high_mm[:, None], edge, self.sheet.nfloor)
        return np.asarray(scenarios.nut_log_weight[:, None, None] + weight)[..., None]

    # what the map alone makes of the notes

    @cached_property
    def touch(self) -> Array:
        """Chance that each fretted note touches by the map, [note, ...]."""
        return self.chance(self.least)

    @cached_property
    def open_touch(self) -> Array:
        """The same for the open note, [nut, ...]."""
        return self.open_chance(self.open_least)

    def _open(self, chance: Array, weight: Array) -> Floats:
        """Log chance of the open mark with the nut gap summed out; `chance` is [..., nut, ...]."""
        return log_sum(self.log_mark(chance, self.open_tapped) + weight, axis=-4)

    @cached_property
    def base(self) -> Array:
        """Log chance of each fretted mark, [note, ...]."""
        return self.log_mark(self.touch, self.tapped)

    @cached_property
    def open_mark(self) -> Floats:
        """The same for the open mark and the nut in order, [string, scenario, step]."""
        return self._open(self.open_touch, self.nut_healthy)

    @cached_property
    def fretted(self) -> Floats:
        """All fretted marks of a string that stands in order, [string, scenario, step]."""
        return np.asarray(self.healthy + self.base.sum(axis=0), dtype=np.float64)

    @cached_property
    def clean(self) -> Floats:
        """Nothing wrong with this string; what touches is the relief's, or the hand's."""
        return log_sum(self.fretted + self.open_mark, axis=-1)

    @cached_property
    def too_low(self) -> Floats:
        """Its action short of what it needs: a little more often than by much."""
        scenarios = self.scene.scenarios
        spare = scenarios.action - self.need - np.float32(HARDLY_MM)
        density = _expit(-spare / self.edge) * np.exp(np.minimum(spare, 0) / np.float32(SHORT_MM))
        weight = scenarios.action_log_weight + np.log(density / np.float32(SHORT_MM) + np.float32(self.sheet.afloor))
        return log_sum(weight + self.base.sum(axis=0) + self.open_mark, axis=-1)

    @cached_property
    def pulled_straight(self) -> Floats:
        """The neck pulled straight under a saddle left alone: action low, or still in order."""
        weight = self._weighted(-ROOM_BELOW_MM, ROOM_ABOVE_MM)
        return log_sum(weight + self.base.sum(axis=0) + self.open_mark, axis=-1)

    @cached_property
    def slot_low(self) -> Floats:
        return log_sum(self.fretted + self._open(self.open_touch, self.nut_low), axis=-1)

    # one fret too high or worn

    @cached_property
    def high_fret(self) -> Floats:
        """Each fret proud by each size, [fret - 1, size, string, scenario]."""
        gaps, h = self.scene.gaps, UNEVEN_MM[:, None, None, None]
        n = gaps.fretted - 1
        raised = np.minimum(self.least[n, None], self.room[:, None] - h)
        marks = self.log_mark(self.chance(raised), self.tapped[n, None])
        gain = marks - self.base[n, None]
        order = np.argsort(gaps.over, kind="stable")
        first = np.flatnonzero(np.diff(gaps.over[order], prepend=0))
        below = np.zeros((self.base.shape[0], *gain.shape[1:]), dtype=np.float32)
        below[1:] = np.stack([part.sum(axis=0) for part in np.split(gain[order], first[1:])])
        least = np.minimum(self.open_least, self.open_room[:, None] - h[:, None])
        opened = self._open(self.open_chance(least), self.nut_healthy)
        return log_sum(self.fretted + below + self._pressed_at(UNEVEN_MM) + opened, axis=-1)

    @cached_property
    def worn_fret(self) -> Floats:
        """Each fret worn by each size, as above: the note pressed there comes closer to every fret ahead."""
        return log_sum(self.fretted + self.open_mark + self._pressed_at(-UNEVEN_MM), axis=-1)

    def _pressed_at(self, lift: Array) -> Array:
        """What changes for the note pressed at a fret that stands `lift` higher, [note, lift, ...]."""
        lower = ((1 - self.scene.gaps.share)[:, None] * lift)[..., None, None, None]
        least = self._least(self.room[:, None] + lower)
        gain = np.zeros((self.base.shape[0], *least.shape[1:]), dtype=np.float32)
        marks = self.log_mark(self.chance(least), self.tapped[:-1, None])
        gain[:-1] = marks - self.base[:-1, None]
        return gain

    def shaped(self, shapes: Shapes) -> Floats:
        """Many frets off at once, and the readings with them, [shape, string, scenario]."""
        gaps, rise = self.scene.gaps, shapes.rise.T
        relief, action = shapes.relief_mm[:, None], shapes.action_mm[:, None]
        level = -(gaps.per_relief[:, None] * relief + gaps.per_action[:, None] * action)
        open_level = -(gaps.open_per_relief[:, None] * relief + gaps.open_per_action[:, None] * action)
        lift = rise[gaps.fretted] * (1 - gaps.share)[:, None] - rise[gaps.over]
        marks = self.log_mark(self._changed(level + lift[..., None]), self.tapped[:-1, None]).sum(axis=0)
        opened = self._open(self._open_changed(open_level - rise[1:, :, None]), self.nut_healthy)
        return log_sum(marks + self.base[-1] + self.in_order(shapes.action_mm) + opened, axis=-1)

    def _changed(self, change: Array) -> Array:
        """Chance of each fretted note with its gaps changed by [pair, shape, string]; [note, shape, ...]."""
        return self.chance(self._least(self.room[:, None] + change[..., None, None]))

    def _open_changed(self, change: Array) -> Array:
        """Chance of the open note with its gaps changed by [over, shape, string]; [shape, nut, ...]."""
        return self.open_chance((self.open_room[:, None] + change[:, :, None, :, None, None]).min(axis=0))

    # reasons that have nothing to do with the gaps

    def scattered(self, rates: Iterable[float], with_open: bool = True) -> Floats:
        """Every note of a clean string buzzes by itself at a rate, [rate, string, scenario]."""
        out = []
        for rate in rates:
            total = self.healthy + self._by_itself(rate, self.touch, self.tapped).sum(axis=0)
            out.append(log_sum(total + (self._open_at(rate) if with_open else self.open_mark), axis=-1))
        return np.stack(out)

    def _by_itself(self, rate: float, touch: Array, tapped: Marks) -> Array:
        either = np.float32(rate) + (1 - np.float32(rate)) * touch
        return self.log_mark(either, tapped)

    def _open_at(self, rate: float) -> Floats:
        marks = self._by_itself(rate, self.open_touch, self.open_tapped)
        return log_sum(marks + self.nut_healthy, axis=-4)

    @cached_property
    def open_rattle(self) -> Floats:
        """The open string may rattle by itself, at the nut or behind it."""
        return log_sum(self.fretted + self._open_at(0.5), axis=-1)

    @cached_property
    def open_answer(self) -> Floats:
        """The open string rattles where something answers its pitch, [string, scenario, step]."""
        return self._open_at(RATTLE)

    def at_pitches(self, pitches: Iterable[int]) -> Floats:
        """Something on the instrument rattles at one pitch, [pitch, string, scenario]."""
        return np.stack([
            np.stack([self._at_fret(i, pitch - low) for i, low in enumerate(self.scene.open_pitches)])
            for pitch in pitches
        ])  # fmt: skip

    def _at_fret(self, index: int, fret: int) -> Floats:
        """One string that rattles at one fret, [scenario]."""
        if not 0 <= fret <= self.scene.gaps.last:
            return self.clean[index]
        if fret == 0:
            return log_sum(self.fretted[index] + self.open_answer[index], axis=-1)
        rattle = self.sheet.trust * float(np.log(RATTLE if self.scene.tapped[index, fret] else 1 - RATTLE))
        by_itself = self.fretted[index] - self.base[fret - 1, index] + rattle
        return log_sum(by_itself + self.open_mark[index], axis=-1)
