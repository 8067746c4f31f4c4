"""One instrument's true sizes, in plain loops: where its strings run, and which notes buzz.

Its geometry is written here anew, so that the buzz finder is tried against something else than its own sums.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

from tests.setups.journals import the_trade
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Touch


@dataclass(frozen=True)
class Truth:
    """One instrument's true sizes, mm. `frets` maps (string, fret) to how far that fret is off."""

    spec: InstrumentSpec
    relief_frets: tuple[int, int, int]
    bow_per_mm: float
    saddle_mm: Mapping[int, float]
    nut_mm: Mapping[int, float]
    swing_mm: Mapping[int, Sequence[float]]
    frets: Mapping[tuple[int, int], float]

    def x(self, number: int, fret: int) -> float:
        return self.spec.scale_of(number) * (1 - 2 ** (-fret / 12))

    @cached_property
    def tops(self) -> dict[int, list[float]]:
        """Height of every fret's top under every string."""
        return {number: self._tops(number) for number in self.saddle_mm}

    def _tops(self, number: int) -> list[float]:
        off = self.frets
        return [
            self.bow_per_mm * square + off.get((number, fret), 0.0)
            for fret, square in enumerate(bend(self.spec.kind, number))
        ]

    def string_over(self, number: int, held: int, fret: int) -> float:
        """Gap over a fret with the string pressed at `held` (0 = open)."""
        top = self.tops[number]
        start = top[held] + (self.nut_mm[number] if held == 0 else 0.0)
        ahead = pairs(self.spec.kind, number)[held][fret - held - 1][0]
        return start + (self.saddle_mm[number] - start) * ahead - top[fret]

    def relief(self) -> float:
        """What a gauge finds under the bass string, on the frets as they are."""
        number = len(self.spec.strings)
        hold, press, gap = self.relief_frets
        x0, x1, x = (self.x(number, fret) for fret in (hold, press, gap))
        top = self._tops(number)
        y0, y1, y = (top[fret] for fret in (hold, press, gap))
        return y0 + (y1 - y0) * (x - x0) / (x1 - x0) - y

    def room(self, number: int, held: int) -> float:
        """The least of gap less swing over all frets ahead."""
        swing_mm = self.swing_mm[number][held]
        top, saddle = self.tops[number], self.saddle_mm[number]
        start = top[held] + (self.nut_mm[number] if held == 0 else 0.0)
        least = 9.0
        for fret, (ahead, shape) in enumerate(pairs(self.spec.kind, number)[held], start=held + 1):
            least = min(least, start + (saddle - start) * ahead - top[fret] - swing_mm * shape)
        return least


@cache
def bend(kind: str, number: int) -> list[float]:
    """How a bow of 1 per mm lifts every fret: the square of its distance before the joint."""
    spec = the_trade().kinds[kind].spec
    scale = spec.scale_of(number)
    places = [scale * (1 - 2 ** (-fret / 12)) for fret in range(spec.fret_count + 1)]
    return [max(0.0, places[spec.joint_fret] - x) ** 2 for x in places]


@cache
def pairs(kind: str, number: int) -> list[list[tuple[float, float]]]:
    """For every held fret and every fret ahead: its share of the way to the saddle, and the swing's shape."""
    trade = the_trade()
    spec, pluck_mm = trade.kinds[kind].spec, trade.swing.pluck_mm[trade.kinds[kind].family]
    scale = spec.scale_of(number)
    places = [scale * (1 - 2 ** (-fret / 12)) for fret in range(spec.fret_count + 1)]
    table = []
    for held, place in enumerate(places):
        length = scale - place
        ahead = [x - place for x in places[held + 1 :]]
        table.append([(s / length, plucked_shape(s, length, scale, pluck_mm)) for s in ahead])
    return table


def plucked_shape(s: float, length: float, scale: float, pluck_mm: float) -> float:
    """How low a string of this length comes at s from its fretted end, per mm of open-string pluck."""
    near = min(pluck_mm, length / 2)
    far = length - near
    open_near = min(pluck_mm, scale / 2)
    give = (near * far / length) / (open_near * (scale - open_near) / scale)
    below = min(s / far, (length - s) / near)
    above = min(s / near, (length - s) / far)
    return give * max(above, below)


def plays(truth: Truth) -> list[tuple[int, int]]:
    """Pluck every note once; which ones buzz."""
    return [
        (number, fret)
        for number in truth.saddle_mm
        for fret in range(truth.spec.fret_count + 1)
        if truth.room(number, fret) < 0
    ]


@cache
def usual_swing(kind: str, touch: Touch, number: int) -> float:
    """What a touch means on one string: the swing that the middle of its targets just clears, mm."""
    trade = the_trade()
    spec, family = trade.kinds[kind].spec, trade.kinds[kind].family
    truth = Truth(spec, relief_frets(kind), 0.0, {number: 0.0}, {number: 0.0}, {}, {})
    truth = with_relief(truth, trade.ranges.relief_bands(family, touch).target.middle)
    action = trade.ranges.height_bands(family, touch, spec.across(number)).target.middle
    at_zero = truth.string_over(number, 1, 12)
    per_mm = replace(truth, saddle_mm={number: 1.0}).string_over(number, 1, 12) - at_zero
    truth = replace(truth, saddle_mm={number: (action - at_zero) / per_mm})
    return min(
        truth.string_over(number, held, fret) / shape
        for held in range(1, spec.fret_count)
        for fret, (_, shape) in enumerate(pairs(kind, number)[held], start=held + 1)
    )


@cache
def relief_frets(kind: str) -> tuple[int, int, int]:
    """Where this family's relief is read: held, pressed, gap."""
    trade = the_trade()
    relief = trade.ranges.families[trade.kinds[kind].family].relief
    press = trade.kinds[kind].spec.joint_fret if relief.press == "joint" else int(relief.press)
    return relief.hold, press, relief.gap


def with_relief(truth: Truth, relief_mm: float) -> Truth:
    """The same instrument bowed to show this relief (on level frets)."""
    level = replace(truth, bow_per_mm=1.0, frets={})
    return replace(truth, bow_per_mm=relief_mm / level.relief())


def lowest_saddle(truth: Truth, number: int) -> float:
    """The lowest saddle at which the string's swing just clears every fret ahead of every fretted note."""
    swing, top = truth.swing_mm[number][0], replace(truth, saddle_mm={number: 0.0}).tops[number]
    return max(
        (swing * shape - top[held] * (1 - ahead) + top[fret]) / ahead
        for held in range(1, truth.spec.fret_count)
        for fret, (ahead, shape) in enumerate(pairs(truth.spec.kind, number)[held], start=held + 1)
    )


def nut_for(truth: Truth, number: int, gap_mm: float) -> float:
    """The string's height at the nut that leaves this gap over the first fret."""
    bare = replace(truth, nut_mm={number: 0.0})
    at_zero = bare.string_over(number, 0, 1)
    per_mm = replace(truth, nut_mm={number: 1.0}).string_over(number, 0, 1) - at_zero
    return (gap_mm - at_zero) / per_mm
