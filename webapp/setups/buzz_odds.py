"""How well each fault explains every string's marks: the clearance map as a forward model, run both ways.

Every hypothesis is an instrument with one thing wrong and all else in order. Its odds are the chance that
it stands so, given what was read, and of the marks as they are, marked and unmarked notes alike, in each
scenario of the scene. A note is heard when the least room under it, gap less swing, is below 0, blurred by
all that the map leaves out: P = stray + (1 - stray - missed) / (1 + exp(1.702 room / blur)), the logistic
curve that is nearest to a normal's.

Arrays end with the axes [string, scenario], some also with [step of the string's own height]; the answers
are [string, scenario]. What is asked about (pair, note, fret, size, shape) comes first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from webapp.setups.buzz_gaps import Array, Floats
from webapp.setups.buzz_scene import FROM_ABOVE, Scene
from webapp.trade.buzz import BuzzSheet

Marks = NDArray[np.bool_]

# How far a fret may stand proud or be worn, in the hypotheses, mm.
UNEVEN_MM: Array = np.array([0.06, 0.11, 0.17, 0.24, 0.32], dtype=np.float32)
# How surely a part that rattles at one pitch answers it, and how often an open string rattles behind the nut.
RATTLE, OPEN_RATTLE = 0.85, 0.5
# A setting in order stands up to this far above the lowest clean action, at 12, mm; some stand higher
# still, which
# makes nothing buzz.
ROOM_ABOVE_MM, HIGH_MM, HIGH_SHARE = 0.9, 4.0, 0.15
# Where the neck pulled straight under it, a saddle left alone may stand this far below.
ROOM_BELOW_MM = 1.2
# A string that is too low has hardly this much to spare, and falls short by about so much.
HARDLY_MM, SHORT_MM = 0.08, 0.5
# A slot in order stands at most this far below its target, and one that is too low may lie on the fret, mm.
SLOT_BELOW_MM = 0.05
PROBIT = 1.702
CLEAR_MM = 9.0
LEAST_DENSITY = np.float32(1e-8)


def log_sum(values: Floats | Array, axis: int | tuple[int, ...]) -> Floats:
    """log(sum(exp(values))), safe for very small chances."""
    top = np.max(values, axis=axis, keepdims=True)
    total = np.log(np.sum(np.exp(values - top), axis=axis, keepdims=True)) + top
    return np.asarray(np.squeeze(total, axis=axis), dtype=np.float64)


def log_box(x: Array, low: ArrayLike, high: ArrayLike, edge: float) -> Array:
    """Log density of 'somewhere between low and high', with soft edges."""
    low, high = np.asarray(low, dtype=np.float32), np.asarray(high, dtype=np.float32)
    inside = _expit((x - low) / np.float32(edge)) * _expit((high - x) / np.float32(edge))
    return np.asarray(np.log(inside / np.maximum(high - low, np.float32(edge)) + LEAST_DENSITY))


def _expit(x: Array) -> Array:
    return np.asarray(1 / (1 + np.exp(np.clip(-x, -60, 60))))


@dataclass(frozen=True)
class BoardOdds:
    """The chances of every string's marks under every hypothesis."""

    scene: Scene
    sheet: BuzzSheet

    # the room under every note

    @cached_property
    def reach(self) -> tuple[Array, Array]:
        """[pair, string, way] and [over, string, way]: how deep a string swings that is let go in each
        way."""
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
        return np.asarray(clean[:, scenarios.above] * scenarios.harder)

    @cached_property
    def dips(self) -> tuple[Array, Array]:
        """How deep the plucked string comes, mm: [pair, string, scenario] and [over, string, scenario]."""
        above = self.scene.scenarios.above
        return self.reach[0][..., above] * self.swing, self.reach[1][..., above] * self.swing

    @cached_property
    def scale(self) -> Array:
        """From room in mm to the logit of a touch, [string, scenario].

        A touch is blurred by uneven frets, by plucks that differ, and by a bow that is not even.
        """
        sheet = self.sheet
        plucks = sheet.pluck_spread * np.mean(self.scene.gaps.reach, axis=0)[:, None] * self.swing
        bow = sheet.bow_spread * self.scene.scenarios.relief
        return np.asarray(
            -PROBIT / np.sqrt(2 * sheet.fret_spread_mm**2 + plucks**2 + bow**2), dtype=np.float32
        )

    def chance(self, room: Array) -> Array:
        """Chance that a note with this least room is heard to buzz, slips aside; [..., string, scenario]."""
        return _expit(room * self.scale)

    @cached_property
    def level(self) -> Array:
        """What the bow leaves of the gaps, less the swing, [pair, string, scenario]."""
        return np.asarray(self.scene.gaps.per_relief[..., None] * self.scene.scenarios.relief - self.dips[0])

    @cached_property
    def notes(self) -> list[slice]:
        """The pairs of each fretted note with frets ahead."""
        ends = [0, *(int(i) + 1 for i in np.flatnonzero(np.diff(self.scene.gaps.fretted))), len(self.level)]
        return [slice(*edge) for edge in zip(ends, ends[1:], strict=False)]

    def least(self, room: Array) -> Array:
        """Of rooms [pair, ...] the least of each fretted note, [note, ...]; nothing is ahead of the last."""
        # Note by note: several times quicker than reduceat, which takes the pairs one number at a time.
        rows = [room[pairs].min(axis=0) for pairs in self.notes]
        return np.stack([*rows, np.full_like(rows[0], CLEAR_MM)])

    # the marks

    def log_mark(self, chance: Array, tapped: Marks) -> Array:
        """Log chance of the marks as they are; `tapped` broadcasts as it stands."""
        stray, missed = np.float32(self.sheet.stray), np.float32(self.sheet.missed)
        heard = stray + (1 - stray - missed) * chance
        return np.asarray(np.log(np.where(tapped, heard, 1 - heard)))

    @cached_property
    def tapped(self) -> Marks:
        """Marks of notes 1 to the last, [note, string, 1]."""
        return self.scene.tapped.T[1:, :, None]

    @cached_property
    def open_tapped(self) -> Marks:
        """[string, 1]"""
        return self.scene.tapped[:, 0, None]

    # heights: in order or not

    @cached_property
    def spare(self) -> Array:
        """How far each height stands above the lowest clean one with the relief in its target, [...,
        step]."""
        target, gaps, scenarios = self.scene.relief_target, self.scene.gaps, self.scene.scenarios
        relief = np.clip(scenarios.relief, target.low, target.high)
        need = np.max(
            (self.dips[0] - gaps.per_relief[..., None] * relief) / gaps.per_action[..., None], axis=0
        )
        return np.asarray(scenarios.action - need[..., None] - np.float32(self.sheet.need_margin_mm))

    def _between(self, low_mm: float, high_mm: float) -> Array:
        """Log weight of each height that has between so much and so much to spare."""
        within = log_box(self.spare, low_mm, high_mm, self.sheet.need_spread_mm)
        return np.asarray(self.scene.scenarios.action_log_weight + within)

    @cached_property
    def healthy(self) -> Array:
        """Log weight of each height if the string stands as it should, or higher, [..., step]."""
        high = self._between(ROOM_ABOVE_MM, HIGH_MM) + np.float32(np.log(HIGH_SHARE))
        return np.asarray(np.logaddexp(self._between(0.0, ROOM_ABOVE_MM), high))

    @cached_property
    def short(self) -> Array:
        """The same if it stands too low: a little more often than by much."""
        spare = self.spare - np.float32(HARDLY_MM)
        edge = _expit(-spare / np.float32(self.sheet.need_spread_mm))
        density = edge * np.exp(np.minimum(spare, 0) / np.float32(SHORT_MM)) / np.float32(SHORT_MM)
        return np.asarray(self.scene.scenarios.action_log_weight + np.log(density + LEAST_DENSITY))

    @cached_property
    def by_step(self) -> Array:
        """Log chance of each fretted mark by the map, [note, string, scenario, step]."""
        gaps, action = self.scene.gaps, self.scene.scenarios.action
        least = self.least(gaps.per_action[..., None, None] * action + self.level[..., None])
        return self.log_mark(_expit(least * self.scale[..., None]), self.tapped[..., None])

    def _by_map(self, weight: Array) -> Floats:
        """Log chance of all marks if heights that weigh so and the map make the notes buzz, [string,
        scenario]."""
        return log_sum(weight + self.by_step.sum(axis=0) + self.open_by_step, axis=-1)

    @cached_property
    def open_by_step(self) -> Floats:
        """Log chance of the open mark by the map, the slot in order, [string, scenario, step]."""
        gaps, scenarios = self.scene.gaps, self.scene.scenarios
        level = gaps.open_per_relief[..., None] * scenarios.relief - self.dips[1]
        held = gaps.open_per_action[..., None, None] * scenarios.action + level[..., None]
        room = held[:, None] + (gaps.open_per_nut[:, None] * scenarios.nut)[..., None, None]
        touch = _expit(room.min(axis=0) * self.scale[..., None])
        return log_sum(self.log_mark(touch, self.open_tapped[..., None]) + self.slot_good[..., None], axis=0)

    @cached_property
    def too_low(self) -> Floats:
        """The string stands too low."""
        return self._by_map(self.short)

    @cached_property
    def bent(self) -> Floats:
        """The string stands in order, and its buzz is the relief's."""
        return self._by_map(self.healthy)

    @cached_property
    def pulled_straight(self) -> Floats:
        """The neck pulled straight under a saddle left alone: too low, or still in order."""
        return self._by_map(self._between(-ROOM_BELOW_MM, ROOM_ABOVE_MM))

    # the height that a string in order has, by the notes that do not buzz

    @cached_property
    def quiet(self) -> Array:
        """Log chance of each height in order and of the fretted notes that are not marked, [..., step]."""
        unmarked = np.where(self.tapped[..., None], np.float32(0), self.by_step).sum(axis=0)
        return np.asarray(self.healthy + unmarked, dtype=np.float32)

    @cached_property
    def action(self) -> Array:
        """The height that this makes likeliest, mm [string, scenario]."""
        best = np.argmax(self.quiet, axis=-1)[..., None]
        return np.asarray(np.take_along_axis(self.scene.scenarios.action, best, axis=-1)[..., 0])

    @cached_property
    def room(self) -> Array:
        """Gap less swing at that height, [pair, string, scenario]."""
        return np.asarray(self.scene.gaps.per_action[..., None] * self.action + self.level)

    @cached_property
    def least_room(self) -> Array:
        """[note, string, scenario]"""
        return self.least(self.room)

    @cached_property
    def touch(self) -> Array:
        """Chance that each fretted note touches by the map, [note, string, scenario]."""
        return self.chance(self.least_room)

    @cached_property
    def base(self) -> Array:
        """Log chance of each fretted mark by the map, [note, string, scenario]."""
        return self.log_mark(self.touch, self.tapped)

    @cached_property
    def stands(self) -> Floats:
        """Log chance that the string stands in order, and of its unmarked notes: what those add is taken
        off again."""
        unmarked = np.where(self.tapped, np.float32(0), self.base).sum(axis=0)
        return np.asarray(log_sum(self.quiet, axis=-1) - unmarked)

    @cached_property
    def fretted(self) -> Floats:
        """Log chance of a string in order and of its fretted marks by the map, [string, scenario]."""
        return np.asarray(self.stands + self.base.sum(axis=0))

    # the open string

    @cached_property
    def open_room(self) -> Array:
        """Gap less swing of the open string over frets 1 and up, [over, nut, string, scenario]."""
        gaps, scenarios = self.scene.gaps, self.scene.scenarios
        level = gaps.open_per_relief[..., None] * scenarios.relief - self.dips[1]
        held = gaps.open_per_action[..., None] * self.action + level
        return np.asarray(held[:, None] + (gaps.open_per_nut[:, None] * scenarios.nut)[..., None])

    @cached_property
    def open_least(self) -> Array:
        """[nut, string, scenario]"""
        return np.asarray(self.open_room.min(axis=0))

    def _slot(self, low_mm: Array, high_mm: Array) -> Array:
        """Log weight of each nut gap if it lies between these, [nut, string, scenario].

        A slot is judged as it would stand over a neck with the right relief: the nut rides on the neck.
        """
        scenarios, target = self.scene.scenarios, self.scene.relief_target
        lift = np.clip(scenarios.relief, target.low, target.high) - scenarios.relief
        righted = scenarios.nut[..., None] + self.scene.gaps.nut_per_relief[:, None] * lift
        within = log_box(righted, low_mm[:, None], high_mm[:, None], self.sheet.nut_spread_mm)
        return np.asarray(scenarios.nut_log_weight[:, None, None] + within)

    @cached_property
    def slot_good(self) -> Array:
        bands = self.scene.nut_bands
        return self._slot(
            np.array([b.target.low - SLOT_BELOW_MM for b in bands]), np.array([b.usual.high for b in bands])
        )

    @cached_property
    def slot_bad(self) -> Array:
        low = np.array([bands.target.low for bands in self.scene.nut_bands])
        return self._slot(np.full_like(low, -SLOT_BELOW_MM), low)

    def _open(self, chance: Array, slot: Array) -> Floats:
        """Log chance of the open mark with the nut gap summed out; `chance` is [..., nut, string,
        scenario]."""
        return log_sum(self.log_mark(chance, self.open_tapped) + slot, axis=-3)

    @cached_property
    def open_touch(self) -> Array:
        """Chance that the open note touches by the map, [nut, string, scenario]."""
        return self.chance(self.open_least)

    @cached_property
    def open_mark(self) -> Floats:
        """Log chance of the open mark by the map, the slot in order, [string, scenario]."""
        return self._open(self.open_touch, self.slot_good)

    def open_at(self, rate: float) -> Floats:
        """The same if the open string also rattles by itself at this rate."""
        return self._open(_either(rate, self.open_touch), self.slot_good)

    @cached_property
    def slot_low(self) -> Floats:
        """Its slot too low."""
        return self.fretted + self._open(self.open_touch, self.slot_bad)

    @cached_property
    def clean(self) -> Floats:
        """Nothing wrong with this string: what buzzes is the relief's, or the hand's."""
        return np.asarray(self.fretted + self.open_mark)

    # one fret too high or worn

    @cached_property
    def high_fret(self) -> Floats:
        """Each fret proud by each size, [fret - 1, size, string, scenario]."""
        gaps, lift = self.scene.gaps, UNEVEN_MM[:, None, None]
        note = gaps.fretted - 1
        raised = np.minimum(self.least_room[note, None], self.room[:, None] - lift)
        gain = self.log_mark(self.chance(raised), self.tapped[note, None]) - self.base[note, None]
        below = np.zeros((len(self.base), *gain.shape[1:]), dtype=np.float32)
        np.add.at(below, gaps.over - 1, gain)
        opened = self._open(
            self.chance(np.minimum(self.open_least, self.open_room[:, None] - lift[:, None])), self.slot_good
        )
        return self.fretted + below + self._pressed_at(UNEVEN_MM) + opened

    @cached_property
    def worn_fret(self) -> Floats:
        """Each fret worn by each size, as above: the note pressed there comes closer to every fret ahead."""
        return self.fretted + self.open_mark + self._pressed_at(-UNEVEN_MM)

    def _pressed_at(self, lift: Array) -> Array:
        """What changes for the note pressed at a fret that stands `lift` higher, [note, lift, string,
        scenario]."""
        moved = self.room[:, None] + ((1 - self.scene.gaps.share)[:, None] * lift)[..., None, None]
        return self.log_mark(self.chance(self.least(moved)), self.tapped[:, None]) - self.base[:, None]

    def risen(self, rise: Array) -> Floats:
        """Many frets off at once: rise [shape, fret 0 to the last], mm; [shape, string, scenario]."""
        gaps, by_fret = self.scene.gaps, rise.T
        lift = by_fret[gaps.fretted] * (1 - gaps.share)[:, None] - by_fret[gaps.over]
        marks = self.log_mark(
            self.chance(self.least(self.room[:, None] + lift[..., None, None])), self.tapped[:, None]
        )
        opened = self.chance((self.open_room[:, None] - by_fret[1:, :, None, None, None]).min(axis=0))
        return np.asarray(self.stands + marks.sum(axis=0) + self._open(opened, self.slot_good))

    # reasons that have nothing to do with the gaps

    def scattered(self, rates: Iterable[float], with_open: bool = True) -> Floats:
        """Every note of a string in order buzzes by itself at a rate, [rate, string, scenario]."""
        fretted = [self.log_mark(_either(rate, self.touch), self.tapped).sum(axis=0) for rate in rates]
        opened = [self.open_at(rate) if with_open else self.open_mark for rate in rates]
        return np.asarray(self.stands + np.stack(fretted) + np.stack(opened))

    @cached_property
    def open_rattle(self) -> Floats:
        """The open string may rattle by itself, at the nut or behind it."""
        return self.fretted + self.open_at(OPEN_RATTLE)

    def at_pitches(self, pitches: Iterable[int]) -> Floats:
        """Something on the instrument rattles at one pitch, [pitch, string, scenario]."""
        sure = np.array(True)
        rates = (np.array(rate, np.float32) for rate in (RATTLE, 1 - RATTLE))
        answered, missed = (self.log_mark(rate, sure) for rate in rates)
        opened = self.open_at(RATTLE)
        found = []
        for pitch in pitches:
            each = self.clean.copy()
            for index, low in enumerate(self.scene.open_pitches):
                fret = pitch - low
                if fret == 0:
                    each[index] += opened[index] - self.open_mark[index]
                elif 0 < fret <= self.scene.gaps.last:
                    heard = answered if self.scene.tapped[index, fret] else missed
                    each[index] += heard - self.base[fret - 1, index]
            found.append(each)
        return np.stack(found)


def _either(rate: float, touch: Array) -> Array:
    """The chance of a note that buzzes by itself at a rate, or because it touches."""
    return np.asarray(np.float32(rate) + (1 - np.float32(rate)) * touch)
