"""How well each fault explains every string's marks: the clearance map as a forward model, run both ways.

Every hypothesis is an instrument with one thing wrong and all else in order. Its odds are the chance that
it stands so, given what was read, and of the marks as they are, marked and unmarked notes alike, in each
scenario of the scene. A sound setup plays clean, so that what touches now touches because of the fault:
where the map gave a note the chance a before the fault and gives it b with it, that is (b - a) / (1 - a),
for what the map leaves out (frets not quite level, this player's pluck) is the same before and after.

Arrays end with the axes [string, scenario], some also with [step of the string's own height]; the answers
are [string, scenario]. What is asked about (pair, note, fret, size, shape) comes first.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from webapp.setups.buzz.gaps import Array, Floats, log_box, log_sum
from webapp.setups.buzz.rooms import BoardRooms

Marks = NDArray[np.bool_]

# How far a fret may stand proud or be worn, in the hypotheses, mm.
UNEVEN_MM: Array = np.array([0.06, 0.11, 0.17, 0.24, 0.32], dtype=np.float32)
# How surely a part that rattles at one pitch answers it, and how often an open string rattles behind the nut.
RATTLE, OPEN_RATTLE = 0.85, 0.5
# A slot in order stands at most this far below its target, and one that is too low may lie on the fret, mm.
SLOT_BELOW_MM = 0.05


class BoardOdds(BoardRooms):
    """The chances of every string's marks under every hypothesis."""

    # the marks

    def log_mark(self, chance: Array | np.float32, tapped: Marks) -> Array:
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

    # by the map alone: heights and relief that make the notes buzz

    @cached_property
    def by_step(self) -> Floats:
        """Log chance of all marks by the map, the slot in order, [string, scenario, step]."""
        fretted = self.log_mark(self.touch_by_step, self.tapped[..., None]).sum(axis=0)
        opened = self.log_mark(self.open_touch_by_step, self.open_tapped[..., None])
        return np.asarray(fretted + log_sum(opened + self.slot_good[..., None], axis=0))

    @cached_property
    def too_low(self) -> Floats:
        """The string stands too low."""
        return log_sum(self.short + self.by_step, axis=-1)

    @cached_property
    def bent(self) -> Floats:
        """The string stands in order, and its buzz is the relief's."""
        return log_sum(self.healthy + self.by_step, axis=-1)

    @cached_property
    def pulled_straight(self) -> Floats:
        """The neck pulled straight under a saddle left alone."""
        return log_sum(self.left_alone + self.by_step, axis=-1)

    # a string in order

    @cached_property
    def base(self) -> Array:
        """Log chance of each fretted mark where nothing touches, [note, string, 1]."""
        return self.log_mark(np.float32(0), self.tapped)

    @cached_property
    def fretted(self) -> Floats:
        """Log chance of a string in order and of its fretted marks, [string, scenario]."""
        return np.asarray(self.stands + self.base.sum(axis=0))

    @cached_property
    def clean(self) -> Floats:
        """Nothing wrong with this string: its marks were made by mistake."""
        return np.asarray(self.fretted + self.open_mark)

    # the open string

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

    @cached_property
    def slot_clean(self) -> Array:
        """Log weight of each nut gap in order where the open string plays clean."""
        return np.asarray(self.slot_good + np.log1p(-self.open_touch))

    def _open(self, chance: Array | np.float32) -> Floats:
        """Log chance of the open mark over a slot in order; [..., nut, string, scenario] touch by a fault."""
        return log_sum(self.log_mark(chance, self.open_tapped) + self.slot_clean, axis=-3)

    @cached_property
    def open_mark(self) -> Floats:
        """The same with no fault, [string, scenario]."""
        return self._open(np.float32(0))

    def open_at(self, rate: float) -> Floats:
        """The same if the open string rattles by itself at this rate."""
        return self._open(np.float32(rate))

    @cached_property
    def slot_low(self) -> Floats:
        """Its slot too low."""
        mark = self.log_mark(self.open_touch, self.open_tapped)
        return np.asarray(self.fretted + log_sum(mark + self.slot_bad, axis=-3))

    # one fret too high or worn

    @cached_property
    def high_fret(self) -> Floats:
        """Each fret proud by each size, [fret - 1, size, string, scenario]."""
        gaps, lift = self.scene.gaps, UNEVEN_MM[:, None, None]
        note = gaps.fretted - 1
        raised = np.minimum(self.least_room[note, None], self.room[:, None] - lift)
        added = _added(self.chance(raised), self.touch[note, None])
        gain = self.log_mark(added, self.tapped[note, None]) - self.base[note, None]
        below = np.stack([gain[gaps.over == fret].sum(axis=0) for fret in range(1, gaps.last + 1)])
        opened = self.chance(np.minimum(self.open_least, self.open_room[:, None] - lift[:, None]))
        return np.asarray(
            self.fretted + below + self._pressed_at(UNEVEN_MM) + self._open(_added(opened, self.open_touch))
        )

    @cached_property
    def worn_fret(self) -> Floats:
        """Each fret worn by each size, as above: the note pressed there comes closer to every fret ahead."""
        return np.asarray(self.fretted + self.open_mark + self._pressed_at(-UNEVEN_MM))

    def _pressed_at(self, lift: Array) -> Array:
        """What changes for the note pressed at a fret that stands `lift` higher, [note, lift, string,
        scenario]."""
        moved = self.room[:, None] + ((1 - self.scene.gaps.share)[:, None] * lift)[..., None, None]
        added = _added(self.chance(self.least(moved)), self.touch[:, None])
        return self.log_mark(added, self.tapped[:, None]) - self.base[:, None]

    def risen(self, rise: Array) -> Floats:
        """Many frets off at once: rise [shape, fret 0 to the last], mm; [shape, string, scenario]."""
        gaps, by_fret = self.scene.gaps, rise.T
        lift = by_fret[gaps.fretted] * (1 - gaps.share)[:, None] - by_fret[gaps.over]
        risen = self.chance(self.least(self.room[:, None] + lift[..., None, None]))
        marks = self.log_mark(_added(risen, self.touch[:, None]), self.tapped[:, None])
        opened = self.chance((self.open_room[:, None] - by_fret[1:, :, None, None, None]).min(axis=0))
        return np.asarray(self.stands + marks.sum(axis=0) + self._open(_added(opened, self.open_touch)))

    # reasons that have nothing to do with the gaps

    def scattered(self, rates: Iterable[float], with_open: bool = True) -> Floats:
        """Every note of a string in order buzzes by itself at a rate, [rate, string, scenario]."""
        found = [
            self.log_mark(np.float32(rate), self.tapped).sum(axis=0)
            + (self.open_at(rate) if with_open else self.open_mark)
            for rate in rates
        ]
        return np.asarray(self.stands + np.stack(found))

    @cached_property
    def open_rattle(self) -> Floats:
        """The open string may rattle by itself, at the nut or behind it."""
        return np.asarray(self.fretted + self.open_at(OPEN_RATTLE))

    def at_pitches(self, pitches: Iterable[int]) -> Floats:
        """Something on the instrument rattles at one pitch, [pitch, string, scenario]."""
        answers = self.log_mark(np.float32(RATTLE), self.tapped) - self.base
        opened = self.open_at(RATTLE) - self.open_mark
        found = []
        for pitch in pitches:
            each = self.clean.copy()
            for index, low in enumerate(self.scene.open_pitches):
                fret = pitch - low
                if fret == 0:
                    each[index] += opened[index]
                elif 0 < fret <= self.scene.gaps.last:
                    each[index] += answers[fret - 1, index]
            found.append(each)
        return np.stack(found)


def _added(touch: Array, before: Array) -> Array:
    """The chance that a note touches which played clean before the fault."""
    return np.asarray(np.maximum((touch - before) / (1 - before), 0))
