"""Every cause against every other: the odds of a whole buzz board under each, by Bayes' rule.

A cause can be so in several ways (which fret, how far, under which strings); ways are as likely as each
other beforehand, and a cause's odds are the mean over its ways. Odds have the axes [..., relief, swing]
until those two, which all strings share, are summed out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from webapp.physics.intonation import cents_per_mm
from webapp.setups.buzz.gaps import Array, Floats, log_box, log_sum
from webapp.setups.buzz.odds import UNEVEN_MM, BoardOdds
from webapp.setups.buzz.scene import Scene
from webapp.setups.buzz_marks import answers_since
from webapp.setups.case import Case
from webapp.setups.checks import start
from webapp.setups.slots import tuned_slot
from webapp.trade.buzz import CauseKey

# How high a hump stands, a board rises or a crest stands out, mm, and over how many frets to either side.
RISE_MM = (0.12, 0.22, 0.38)
WIDE_FRETS = (3.0, 5.0, 8.0)
# Where a hump may be highest, in frets from the joint.
TOPS = (-1, 0, 1, 2.5, 4)


@lru_cache(maxsize=32)
def upper_shapes(joint_fret: int, last: int) -> dict[str, Array]:
    """Rise of every fret, mm [shape, size, fret 0 to the last], of each kind: hump, fall and rise.

    A board that only falls away gains room ahead of every note; it buzzes where the fall begins. Wood swells
    without kinks.
    """
    fret = np.arange(last + 1)
    past = (fret - joint_fret) / max(1, last - joint_fret)

    def swell(centre: float, half: float) -> Floats:
        return np.asarray(0.5 + 0.5 * np.cos(np.pi * np.clip((fret - centre) / half, -1, 1)))

    tops = [joint_fret + top for top in TOPS if joint_fret + top < last]
    kinds = {
        "hump": [swell(top, half) for top in tops for half in WIDE_FRETS],
        "fall": [np.where(past <= 0, swell(joint_fret, half), 1 - 2 * past) for half in WIDE_FRETS],
        "rise": [np.clip((fret - joint_fret + 1) / (last - joint_fret + 1), 0, 1)],
    }
    return {
        kind: np.stack([[by * shape for by in RISE_MM] for shape in shapes]).astype(np.float32)
        for kind, shapes in kinds.items()
    }


# How many notes of a whole board a finger presses badly: a handful wherever the board is large or small.
FEW = (2, 3, 4, 6)
# Rates at which notes buzz for a reason that has nothing to do with the gaps: a string, a saddle.
SCATTERED = (0.08, 0.15, 0.30)
OFTEN = (0.30, 0.50, 0.70, 0.90)
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
        self.numbers = scene.numbers
        self.odds = BoardOdds(scene, case.trade.buzz)

    def weigh(self) -> tuple[Weighed, ...]:
        """Every cause, in no order."""
        found = (
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
        return tuple(replace(w, log_odds=w.log_odds + self.beforehand[w.key]) for w in found)

    @cached_property
    def beforehand(self) -> dict[CauseKey, float]:
        """Log odds of every cause by how often it is one, and by what was answered since the notes were
        plucked."""
        known, told = self.case.trade.buzz, answers_since(self.scene.case, self.scene.board)
        odds = {cause.key: float(np.log(cause.weight)) for cause in known.cause}
        for question in known.question:
            odds[question.cause] += float(np.log(question.times_likelier(told.get(question.key, ""))))
        return odds

    # putting the strings together

    def joint(self, odds: Floats, relief: Array) -> Floats:
        """Sum out the scenarios of [..., scenario]; `relief` weighs what they take the relief to be."""
        return log_sum(odds + relief + self.scene.scenarios.log_weight, axis=-1)

    def good(self, odds: Floats) -> Floats:
        """The same with the relief in order."""
        return self.joint(odds, self.relief_good)

    @cached_property
    def relief_good(self) -> Array:
        return self._relief(self.scene.relief_target.low, self.scene.relief_target.high)

    def _relief(self, low: float, high: float) -> Array:
        """Log weight of the relief between these two, [scenario]."""
        return log_box(self.scene.scenarios.relief, low, high, self.case.trade.buzz.relief_spread_mm)

    def single(self, each: Floats) -> Floats:
        """Each string in turn the only one at fault: [..., string, scenario] to [..., string]."""
        clean = self.odds.clean
        return self.good(clean.sum(axis=0) - clean + each)

    # what the player can turn

    def too_low(self) -> Weighed:
        each = self.odds.too_low
        single = self.single(each)
        some = np.logaddexp(each, self.odds.clean) - np.log(2)
        ways = [mean_odds(single), float(self.good(each.sum(axis=0))), float(self.good(some.sum(axis=0)))]
        one = int(np.argmax(ways)) == 0
        strings = (self.numbers[int(np.argmax(single))],) if one else self.scene.marked
        return Weighed(CauseKey.TOO_LOW, mean_odds(ways), strings, way="one" if one else "all")

    def too_straight(self) -> Weighed:
        low = self.scene.relief_target.low
        relief = self._relief(low - STRAIGHT_MM, low)
        each = (self.odds.bent, self.odds.pulled_straight)
        ways = [float(self.joint(one.sum(axis=0), relief)) for one in each]
        return Weighed(CauseKey.TOO_STRAIGHT, mean_odds(ways), self.scene.marked)

    def too_bowed(self) -> Weighed:
        high = self.scene.relief_target.high
        odds = self.joint(self.odds.bent.sum(axis=0), self._relief(high, high + BOWED_MM))
        return Weighed(CauseKey.TOO_BOWED, float(odds), self.scene.marked)

    def nut_low(self) -> Weighed:
        each = self.odds.slot_low
        single = self.single(each)
        some = np.logaddexp(each, self.odds.clean) - np.log(2)
        ways = [mean_odds(single), float(self.good(some.sum(axis=0)))]
        buzzing = tuple(n for n, row in zip(self.numbers, self.scene.tapped, strict=True) if row[0])
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
        return Weighed(CauseKey.UNEVEN_FRET, odds_of_all, self.scene.marked, suspects)

    def _over_frets(self, high: bool) -> tuple[Floats, NDArray[np.intp]]:
        """Log odds of every fret and its likeliest size: across, under one string, or here and there."""
        each = self.odds.high_fret if high else self.odds.worn_fret
        across = self.good(each.sum(axis=-2))
        under = log_sum(self.single(each), axis=-1) - np.log(len(self.numbers))
        size = np.log(UNEVEN_MM.size)
        apart = np.logaddexp(log_sum(each, axis=1) - size, self.odds.clean) - np.log(2)
        mixed = self.good(apart.sum(axis=-2))
        sizes = np.logaddexp(across, under)
        total = np.logaddexp(log_sum(sizes, axis=1) - np.log(2) - size, mixed) - np.log(2)
        return np.asarray(total), np.argmax(sizes, axis=1)

    def upper_board(self) -> Weighed:
        # As likely to swell as to fall or to rise, however many shapes of each are tried.
        shapes = upper_shapes(self.case.spec.joint_fret, self.case.spec.fret_count)
        ways = {way: mean_odds(self._risen(rises)) for way, rises in shapes.items()}
        best = max(ways, key=lambda way: ways[way])
        return Weighed(CauseKey.UPPER_BOARD, mean_odds(ways.values()), self.scene.marked, way=best)

    def _risen(self, rises: Array) -> Floats:
        """Log odds of each shape: as high under every string, or under each by its own measure, as a twisted
        board is."""
        shapes, count = rises.shape[:2]
        each = self.odds.risen(rises.reshape(shapes * count, -1))
        each = each.reshape(shapes, count, *each.shape[1:])
        sizes = np.log(count)
        even = log_sum(self.good(each.sum(axis=-2)), axis=1) - sizes
        apart = self.good((log_sum(each, axis=1) - sizes).sum(axis=-2))
        return np.asarray(np.logaddexp(even, apart) - np.log(2))

    # what the map has no say in

    def loose(self) -> Weighed:
        single = log_sum(self.single(self.odds.scattered(OFTEN)), axis=0)
        opens = self.scene.open_pitches
        found = {
            low + fret for n, low in zip(self.numbers, opens, strict=True) for fret in self.scene.frets(n)
        }
        pitched = self.good(self.odds.at_pitches(sorted(found)).sum(axis=-2))
        # Only pitches that buzz are worth the sum, but any the instrument has might have been the one.
        span = self.case.spec.fret_count + max(opens) - min(opens) + 1
        ways = {
            "string": mean_odds(single) - float(np.log(len(OFTEN))),
            "everywhere": mean_odds(self._everywhere()),
            "pitch": float(log_sum(pitched, axis=0)) - float(np.log(span)),
            "open": float(self.good(self.odds.open_rattle.sum(axis=0))),
        }
        best = max(ways, key=lambda way: ways[way])
        strings = (self.numbers[int(np.argmax(single))],) if best == "string" else self.scene.marked
        return Weighed(CauseKey.LOOSE, mean_odds(ways.values()), strings, way=best)

    @cached_property
    def scattered(self) -> Floats:
        """[rate, string, scenario]"""
        return self.odds.scattered(SCATTERED)

    def _everywhere(self) -> Floats:
        """Notes here and there on every string, [rate]."""
        return self.good(self.scattered.sum(axis=1))

    def old_string(self) -> Weighed:
        tired = np.array([self._tired(number) for number in self.numbers])
        single = log_sum(self.single(self.scattered), axis=0) - np.log(len(SCATTERED)) + tired
        together = mean_odds(self._everywhere()) + float(tired.sum())
        answer = start.newest(self.case)
        age = str(answer.detail.get("age", "")) if answer else ""
        weight = float(np.log(self.case.trade.buzz.age_weight.get(age, 1.0)))
        one = mean_odds(single) > together
        strings = (self.numbers[int(np.argmax(single))],) if one else self.scene.marked
        return Weighed(CauseKey.OLD_STRING, mean_odds([mean_odds(single), together]) + weight, strings)

    def _tired(self, number: int) -> float:
        """How much likelier a tired string makes what the tuner read; 0 without both readings."""
        left = remainder_cents(self.case, number)
        if left is None:
            return 0.0
        sound, tired = self.case.trade.buzz.sound_cents, self.case.trade.buzz.tired_cents
        slips = self.case.trade.belief.reading
        elsewhere = slips.slip / slips.slip_cents
        fits = [
            (1 - slips.slip) * np.exp(-0.5 * (left / sd) ** 2) / (sd * np.sqrt(2 * np.pi)) + elsewhere
            for sd in (tired, sound)
        ]
        return float(np.log(fits[0] / fits[1]))

    def technique(self) -> Weighed:
        rates = [count / self.scene.tapped[:, 1:].size for count in FEW]
        rare = self.odds.scattered(rates, with_open=False).sum(axis=1)
        return Weighed(CauseKey.TECHNIQUE, mean_odds(self.good(rare)), self.scene.marked)


def mean_odds(log_odds: Iterable[float] | Floats) -> float:
    """The odds of a cause whose ways are as likely as each other beforehand."""
    values = np.asarray(list(log_odds), dtype=np.float64)
    return float(log_sum(values, axis=0) - np.log(values.size))


def remainder_cents(case: Case, number: int) -> float | None:
    """What a saddle in another place would leave of the high fret's error; None without both readings."""
    low, high = tuned_slot(number), tuned_slot(number, high=True)
    at_12, at_high = (case.journal.newest_reading(slot.key) for slot in (low, high))
    if at_12 is None or at_high is None or at_12.value is None or at_high.value is None:
        return None
    scale = case.spec.scale_of(number)
    ratio = cents_per_mm(scale, case.intonation_fret(high)) / cents_per_mm(scale, 12)
    return at_high.value - ratio * at_12.value
