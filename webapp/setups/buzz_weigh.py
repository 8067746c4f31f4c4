"""Every cause against every other: the odds of a whole buzz board under each, by Bayes' rule.

A cause can be so in several ways (which fret, how far, under which strings); ways are as likely as each other
beforehand, and a cause's odds are the mean over its ways. Odds have the axes [..., relief, swing] until
those two, which all strings share, are summed out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from webapp.physics.intonation import cents_per_mm
from webapp.setups.buzz_odds import UNEVEN_MM, Odds, StringOdds, log_box, log_sum
from webapp.setups.buzz_scene import SWING_STEPS, Array, Scene
from webapp.setups.buzz_shapes import Shapes, single_frets, upper_shapes
from webapp.setups.case import Case
from webapp.setups.checks import start
from webapp.setups.slots import Slot
from webapp.trade.buzz import CauseKey
from webapp.trade.words import Check

# Rates at which notes buzz for a reason that has nothing to do with the gaps: a finger, a string, a saddle.
RARE = (0.01, 0.02, 0.04)
SCATTERED = (0.08, 0.15, 0.30)
OFTEN = (0.30, 0.50, 0.70, 0.90)
RELIEF_EDGE_MM = 0.02
# How far outside its target a relief that is the cause may lie, mm.
STRAIGHT_MM, BOWED_MM = 0.5, 0.9


@dataclass(frozen=True)
class Suspect:
    """A fret that may be to blame: proud, or worn where it is pressed."""

    fret: int
    high: bool
    by_mm: float


@dataclass(frozen=True)
class Weighed:
    """One cause's log odds, the strings it concerns, bass side first, and the likeliest way it is so."""

    key: CauseKey
    log_odds: float
    strings: tuple[int, ...] = ()
    suspects: tuple[Suspect, ...] = ()
    way: str = ""


class Weighing:
    """The hypotheses about one board. `case` is the setup as it is now, the scene as it was plucked."""

    def __init__(self, case: Case, scene: Scene) -> None:
        self.case = case
        self.scene = scene
        self.strings = tuple(StringOdds(scene, string, case.trade.buzz) for string in scene.strings)
        self.numbers = tuple(string.number for string in scene.strings)
        self.marked = tuple(s.number for s in scene.strings if s.tapped.any())

    def weigh(self) -> tuple[Weighed, ...]:
        """Every cause, in no order."""
        return (
            self.too_low(),
            self.too_straight(),
            self.too_bowed(),
            self.nut_low(),
            self.uneven_fret(),
            self.upper_board(),
            self.loose(),
            self.old_string(),
            self.technique(),
        )

    # putting the strings together

    def joint(self, odds: Odds, relief: Array) -> Odds:
        """Sum out the relief, weighted [..., relief], and the player's swing."""
        swing = -0.5 * SWING_STEPS**2
        return log_sum(odds + relief[..., :, None] + swing, axis=(-2, -1)) - float(log_sum(swing, axis=0))

    def good(self, odds: Odds) -> Odds:
        """The same with the relief in order."""
        return self.joint(odds, self.relief_good)

    @cached_property
    def relief_good(self) -> Array:
        return self._relief(self.scene.relief_target.low, self.scene.relief_target.high)

    def _relief(self, low: float, high: float, shift_mm: Array | None = None) -> Array:
        """Log weight of each relief between these two; a fault may itself shift the reading."""
        nodes = self.scene.relief
        values = nodes.values if shift_mm is None else nodes.values - shift_mm[:, None]
        return np.asarray(nodes.log_weight + log_box(values, low, high, RELIEF_EDGE_MM))

    @cached_property
    def each_clean(self) -> Odds:
        """[string, relief, swing]"""
        return np.stack([odds.clean for odds in self.strings])

    @cached_property
    def each_bent(self) -> Odds:
        """[string, relief, swing]"""
        return np.stack([odds.bent for odds in self.strings])

    def only(self, index: int, odds: Odds) -> Odds:
        """One string at fault, the others clean."""
        return np.asarray(self.each_clean.sum(axis=0) - self.each_clean[index] + odds)

    def single(self, each: Sequence[Odds] | Odds) -> Odds:
        """Each string in turn the only one at fault, [string, ...]."""
        return np.stack([self.good(self.only(i, odds)) for i, odds in enumerate(each)])

    # what the player can turn

    def too_low(self) -> Weighed:
        each = np.stack([odds.too_low for odds in self.strings])
        single = self.single(each)
        hardly = np.stack([odds.touching for odds in self.strings])
        some = np.logaddexp(each, hardly) - np.log(2)
        ways = [mean_odds(single), float(self.good(each.sum(axis=0))), float(self.good(some.sum(axis=0)))]
        one = int(np.argmax(ways)) == 0
        strings = (self.numbers[int(np.argmax(single))],) if one else self.marked
        return Weighed(CauseKey.TOO_LOW, mean_odds(ways), strings, way="one" if one else "all")

    def too_straight(self) -> Weighed:
        low = self.scene.relief_target.low
        relief = self._relief(low - STRAIGHT_MM, low)
        pulled = np.stack([odds.pulled_straight for odds in self.strings])
        ways = [float(self.joint(each.sum(axis=0), relief)) for each in (self.each_bent, pulled)]
        return Weighed(CauseKey.TOO_STRAIGHT, mean_odds(ways), self.marked)

    def too_bowed(self) -> Weighed:
        high = self.scene.relief_target.high
        odds = self.joint(self.each_bent.sum(axis=0), self._relief(high, high + BOWED_MM))
        return Weighed(CauseKey.TOO_BOWED, float(odds), self.marked)

    def nut_low(self) -> Weighed:
        each = np.stack([odds.slot_low for odds in self.strings])
        single = self.single(each)
        some = np.logaddexp(each, self.each_clean) - np.log(2)
        ways = [mean_odds(single), float(self.good(some.sum(axis=0)))]
        buzzing = tuple(s.number for s in self.scene.strings if s.tapped[0])
        likeliest = (self.numbers[int(np.argmax(single))],)
        return Weighed(CauseKey.NUT_LOW, mean_odds(ways), buzzing or likeliest)

    # the frets

    def uneven_fret(self) -> Weighed:
        found: dict[tuple[int, bool], tuple[float, float]] = {}
        last = self.case.spec.fret_count
        for high in (True, False):
            odds, sizes = self._over_frets(high)
            # Worn, the last fret touches nothing; every other fret may be either.
            for fret in range(1, last + 1 if high else last):
                found[fret, high] = float(odds[fret - 1]), float(UNEVEN_MM[sizes[fret - 1]])
        ranked = sorted(found, key=lambda place: -found[place][0])
        suspects = tuple(Suspect(fret, high, found[fret, high][1]) for fret, high in ranked[:2])
        odds_of_all = mean_odds([odds for odds, _ in found.values()])
        return Weighed(CauseKey.UNEVEN_FRET, odds_of_all, self.marked, suspects)

    def _over_frets(self, high: bool) -> tuple[Odds, Odds]:
        """Log odds of every fret and its likeliest size: across, under one string, or here and there."""
        each = [odds.high_fret if high else odds.worn_fret for odds in self.strings]
        across = self._read_off_level(self.good(np.sum(each, axis=0)), high)
        size = np.log(UNEVEN_MM.size)
        under = log_sum(self.single(each), axis=0) - np.log(len(each))
        apart = [
            np.logaddexp(log_sum(odds, axis=1) - size, self.each_clean[i]) - np.log(2)
            for i, odds in enumerate(each)
        ]
        mixed = self.good(np.sum(apart, axis=0))
        sizes = np.logaddexp(across, under)
        total = np.logaddexp(log_sum(sizes, axis=1) - np.log(2) - size, mixed) - np.log(2)
        return np.asarray(total), np.argmax(sizes, axis=1)

    def _read_off_level(self, across: Odds, high: bool) -> Odds:
        """Where a gauge stands on the very fret that is off, the reading is off too: weigh those anew."""
        taken = self.case.relief_standard.frets
        frets = tuple(sorted({taken[1], taken[2], 12}))
        sizes = UNEVEN_MM if high else -UNEVEN_MM
        shapes = single_frets(frets, sizes, taken, self.case.spec.fret_count)
        anew = across.copy()
        anew[np.array(frets) - 1] = self._shaped(shapes).reshape(len(frets), -1)
        return anew

    def _shaped(self, shapes: Shapes) -> Odds:
        target = self.scene.relief_target
        relief = self._relief(target.low, target.high, shapes.relief_mm)
        return self.joint(np.sum([odds.shaped(shapes) for odds in self.strings], axis=0), relief)

    def upper_board(self) -> Weighed:
        spec = self.case.spec
        shapes = upper_shapes(spec.joint_fret, spec.fret_count, self.case.relief_standard.frets)
        odds = self._shaped(shapes)
        return Weighed(
            CauseKey.UPPER_BOARD, mean_odds(odds), self.marked, way=shapes.names[int(np.argmax(odds))]
        )

    # what the map has no say in

    def loose(self) -> Weighed:
        single = log_sum(self.single([odds.scattered(OFTEN) for odds in self.strings]), axis=1)
        opens = [s.open_pitch for s in self.scene.strings]
        found = {s.open_pitch + int(f) for s in self.scene.strings for f in np.flatnonzero(s.tapped)}
        pitched = self.good(np.sum([odds.at_pitches(sorted(found)) for odds in self.strings], axis=0))
        # Only pitches that buzz are worth the sum, but any the instrument has might have been the one.
        span = self.case.spec.fret_count + max(opens) - min(opens) + 1
        ways = {
            "string": mean_odds(single) - float(np.log(len(OFTEN))),
            "everywhere": mean_odds(self._everywhere()),
            "pitch": float(log_sum(pitched, axis=0)) - float(np.log(span)),
            "open": float(self.good(np.sum([odds.open_rattle for odds in self.strings], axis=0))),
        }
        best = max(ways, key=lambda way: ways[way])
        strings = (self.numbers[int(np.argmax(single))],) if best == "string" else self.marked
        return Weighed(CauseKey.LOOSE, mean_odds(ways.values()), strings, way=best)

    @cached_property
    def each_scattered(self) -> Odds:
        """[string, rate, relief, swing]"""
        return np.stack([odds.scattered(SCATTERED) for odds in self.strings])

    def _everywhere(self) -> Odds:
        """Notes here and there on every string, [rate]."""
        return self.good(self.each_scattered.sum(axis=0))

    def old_string(self) -> Weighed:
        tired = np.array([self._tired(number) for number in self.numbers])
        single = log_sum(self.single(self.each_scattered), axis=1) - np.log(len(SCATTERED)) + tired
        together = mean_odds(self._everywhere()) + float(tired.sum())
        answer = start.newest(self.case)
        age = str(answer.detail.get("age", "")) if answer else ""
        weight = float(np.log(self.case.trade.buzz.age_weight.get(age, 1.0)))
        one = mean_odds(single) > together
        strings = (self.numbers[int(np.argmax(single))],) if one else self.marked
        return Weighed(CauseKey.OLD_STRING, mean_odds([mean_odds(single), together]) + weight, strings)

    def _tired(self, number: int) -> float:
        """How much likelier a tired string makes what the tuner read; 0 without both readings."""
        left = remainder_cents(self.case, number)
        if left is None:
            return 0.0
        sound, tired = self.case.trade.buzz.sound_cents, self.case.trade.buzz.tired_cents
        wide, narrow = (left / tired) ** 2, (left / sound) ** 2
        return float(0.5 * (narrow - wide) + np.log(sound / tired))

    def technique(self) -> Weighed:
        rare = np.sum([odds.scattered(RARE, with_open=False) for odds in self.strings], axis=0)
        return Weighed(CauseKey.TECHNIQUE, mean_odds(self.good(rare)), self.marked)


def mean_odds(log_odds: Iterable[float] | Odds) -> float:
    """The odds of a cause whose ways are as likely as each other beforehand."""
    values = np.asarray(list(log_odds), dtype=np.float64)
    return float(log_sum(values, axis=0) - np.log(values.size))


def remainder_cents(case: Case, number: int) -> float | None:
    """What a saddle in another place would leave of the high fret's error; None without both readings."""
    low, high = Slot(Check.INTONATION, string=number), Slot(Check.INTONATION, string=number, high=True)
    at_12, at_high = (case.journal.newest_reading(slot.key) for slot in (low, high))
    if at_12 is None or at_high is None or at_12.value is None or at_high.value is None:
        return None
    scale = case.spec.scale_of(number)
    ratio = cents_per_mm(scale, case.intonation_fret(high)) / cents_per_mm(scale, 12)
    return at_high.value - ratio * at_12.value
