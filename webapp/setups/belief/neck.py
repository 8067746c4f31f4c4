"""The neck, its rod and the heights over it as one joint belief.

Unknowns of a component: relief x (the family's standard way, mm), the rod's response r (mm of relief taken
out by an eighth tightened), kappa (mm of height at 12 for a mm of relief), the height screws' pitch q
(mm), and each string's height at 12 held at 1 (mm), bass side first. Marks: the rod's class, its dead
play, the thread's class, the part of past turns still to come (signed eighths), the play left to take up,
the way of the last turn, and the eighths that took effect since relief was last read.

A turn of e eighths beyond the play moves x by -e r, 80 % of it at once and the rest over some hours; every
height moves with it by kappa times as much. A screw's turn of e eighths moves a height by q e / 8 times
what the bridge's geometry makes of it. Linearised where two unknowns multiply (extended Kalman filter).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import exp

import numpy as np

from webapp.physics.mixture import Floats, Mixture, Seen, shares
from webapp.setups.belief.places import Threads, screws_turned
from webapp.trade.belief import Priors, RodBelief

RELIEF, RESPONSE, KAPPA, PITCH, HEIGHTS = 0, 1, 2, 3, 4
ROD_CLASS, PLAY, THREAD_CLASS, TO_COME, PLAY_LEFT, LAST_WAY, SINCE_READ = range(7)
LEAST_WEIGHT, MOST_COMPONENTS = 2e-4, 48


@dataclass(frozen=True, eq=False)
class NeckBelief:
    """See the module. `rod_split` and `thread_split` tell whether a rod, or a screw, was ever turned."""

    mixture: Mixture
    priors: Priors
    threads: Threads
    has_rod: bool = True
    rod_split: bool = False
    thread_split: bool = False

    @classmethod
    def before(
        cls,
        priors: Priors,
        threads: Threads,
        relief_mm: float,
        heights_mm: Floats,
        across: Floats,
        kappa: tuple[float, float],
        has_rod: bool,
    ) -> NeckBelief:
        """Nothing read yet; `across` is 0 at the bass string and 1 at the treble string."""
        rod, first = priors.rod, priors.before
        response = float(shares(rod.shares) @ np.array(rod.response_mm)) if has_rod else 0.0
        mean = np.concatenate(([relief_mm, response, kappa[0], threads.first[0]], heights_mm))
        sds = np.array([first.relief_mm, 0.5 * response + 1e-3, kappa[1], threads.first[1]])
        mixture = Mixture.single(mean, np.concatenate((sds, np.zeros(len(heights_mm)))), 7)
        covs = mixture.covs.copy()
        covs[0, HEIGHTS:, HEIGHTS:] = height_cov(priors, across)
        # A bowed neck stands its strings high: that much is known before a gauge is out.
        return cls(replace(mixture, covs=covs), priors, threads, has_rod)

    def row(self, column: int) -> Floats:
        """The row that picks one unknown."""
        return self.mixture.unit(column)

    @cached_property
    def relief_row(self) -> Floats:
        return self.row(RELIEF)

    def height_row(self, index: int) -> Floats:
        """`index` counts from the bass side."""
        return self.row(HEIGHTS + index)

    def observed(self, column: int, seen: Seen, slip: float, elsewhere: float) -> tuple[NeckBelief, float]:
        """After a reading of one unknown; and the chance that it was a slip."""
        mixture, slipped = self.mixture.observed(self.row(column), seen, slip, elsewhere)
        return self._lighter(mixture, column == RELIEF), slipped

    def _lighter(self, mixture: Mixture, relief_read: bool) -> NeckBelief:
        """Without the explanations that hardly count any more."""
        kept = mixture.kept(mixture.likely(LEAST_WEIGHT, MOST_COMPONENTS))
        if relief_read:
            marks = kept.marks.copy()
            marks[:, SINCE_READ] = 0.0
            kept = replace(kept, marks=marks)
        return replace(self, mixture=kept)

    def compared(self, seen: Seen, slip: float, elsewhere: float) -> NeckBelief:
        """More room or less than before the rod was turned: a reading of the change of relief alone."""
        rows = np.zeros_like(self.mixture.means)
        rows[:, RESPONSE] = -self.mixture.marks[:, SINCE_READ]
        mixture, _ = self.mixture.observed(rows, seen, slip, elsewhere)
        return self._lighter(mixture, False)

    def freed(self, column: int, sd: float, mean: float | None = None) -> NeckBelief:
        """One place believed anew, as wide as `sd`: two readings that agree contradicted what was
        believed."""
        mixture = self.mixture
        means = mixture.means[:, column] if mean is None else mean
        return replace(self, mixture=mixture.freed(column, means, sd))

    def rod_turned(self, eighths: float) -> NeckBelief:
        """After a turn of the rod, plus tightens."""
        if not self.has_rod:
            return self
        split = self if self.rod_split else self._rod_classes()
        mixture, rod = split.mixture, self.priors.rod
        marks = mixture.marks.copy()
        way = 1.0 if eighths > 0 else -1.0
        fresh = marks[:, LAST_WAY] == 0
        turned_round = marks[:, LAST_WAY] == -way
        play = np.where(turned_round, marks[:, PLAY], marks[:, PLAY_LEFT])
        play = np.where(fresh, rod.first_play_share * marks[:, PLAY], play)
        taken = np.minimum(play, abs(eighths))
        effective = way * (abs(eighths) - taken)
        marks[:, PLAY_LEFT], marks[:, LAST_WAY] = play - taken, way
        marks[:, TO_COME] += rod.creep_share * effective
        moved = replace(split, mixture=replace(mixture, marks=marks))
        return moved._pulled((1 - rod.creep_share) * effective)

    def _rod_classes(self) -> NeckBelief:
        means, sds, chances = rod_classes(self.priors.rod)
        mixture = self.mixture.branched(ROD_CLASS, np.arange(len(means), dtype=float), chances)
        which = mixture.marks[:, ROD_CLASS].astype(int)
        mixture = mixture.freed(RESPONSE, means[which], sds[which])
        rod = self.priors.rod
        mixture = mixture.branched(PLAY, np.array(rod.play_eighths), shares(rod.play_shares))
        return replace(self, mixture=mixture, rod_split=True)

    def _pulled(self, effective: Floats) -> NeckBelief:
        """Relief after so many effective eighths (k), and the heights with it."""
        mixture, rod = self.mixture, self.priors.rod
        response, kappa = mixture.means[:, RESPONSE], mixture.means[:, KAPPA]
        change = -effective * response
        means = mixture.means.copy()
        means[:, RELIEF] += change
        means[:, HEIGHTS:] += (kappa * change)[:, None]
        marks = mixture.marks.copy()
        marks[:, SINCE_READ] += effective
        jacobian = np.tile(np.eye(means.shape[1]), (mixture.count, 1, 1))
        jacobian[:, RELIEF, RESPONSE] = -effective
        jacobian[:, HEIGHTS:, KAPPA] = change[:, None]
        jacobian[:, HEIGHTS:, RESPONSE] = -(kappa * effective)[:, None]
        spread = (rod.move_share * change) ** 2 + np.where(effective != 0, rod.move_mm**2, 0.0)
        noise = _with_heights(means, kappa, spread)
        return replace(self, mixture=replace(mixture.moved(means, jacobian, noise), marks=marks))

    def waited(self, hours: float) -> NeckBelief:
        """After some time: what is left of the rod's turns comes, and the air moves the neck a little."""
        if hours <= 0:
            return self
        mixture, rod, between = self.mixture, self.priors.rod, self.priors.between
        gone = 1 - exp(-hours / rod.creep_hours)
        coming = mixture.marks[:, TO_COME] * gone
        waited = self
        if np.any(np.abs(coming) > 1e-6):
            marks = mixture.marks.copy()
            marks[:, TO_COME] -= coming
            waited = replace(self, mixture=replace(mixture, marks=marks))._pulled(coming)
        season = between.season_mm**2 * (1 - exp(-2 * hours / 24 / between.season_days))
        return waited.loosened(season, 0.0)

    def arrived(self) -> NeckBelief:
        """When all that past turns still have to bring has come, and nothing else happened."""
        coming = self.mixture.marks[:, TO_COME]
        if not np.any(np.abs(coming) > 1e-6):
            return self
        marks = self.mixture.marks.copy()
        marks[:, TO_COME] = 0.0
        return replace(self, mixture=replace(self.mixture, marks=marks))._pulled(coming)

    def loosened(self, relief_var: float, height_var: float) -> NeckBelief:
        """The neck moved by itself by an unknown amount, heights with it; each height a little by itself
        too."""
        mixture = self.mixture
        noise = _with_heights(mixture.means, mixture.means[:, KAPPA], np.full(mixture.count, relief_var))
        own = np.arange(HEIGHTS, mixture.means.shape[1])
        noise[:, own, own] += height_var
        return replace(self, mixture=replace(mixture, covs=mixture.covs + noise))

    def saddles_turned(self, eighths: float, gains: Floats) -> NeckBelief:
        """After a turn of height screws: `gains` (strings) is mm of height for one mm of the screw's
        travel."""
        split = self if self.thread_split else self._thread_classes()
        felt = self.priors.hand.felt_share
        return replace(split, mixture=screws_turned(split.mixture, eighths, gains, PITCH, HEIGHTS, felt))

    def _thread_classes(self) -> NeckBelief:
        mixture = self.threads.told_apart(self.mixture, THREAD_CLASS, PITCH)
        mixture = mixture.kept(mixture.likely(LEAST_WEIGHT, 3 * MOST_COMPONENTS))
        return replace(self, mixture=mixture, thread_split=True)

    def will_not_turn(self) -> NeckBelief:
        """The rod would not move under the hand: a stuck one is that much likelier."""
        split = self if self.rod_split else self._rod_classes()
        stuck = split.mixture.marks[:, ROD_CLASS] == STUCK
        weights = split.mixture.weights * np.where(stuck, 1.0, 0.05)
        return replace(split, mixture=replace(split.mixture, weights=weights / weights.sum()))

    def rod_chance(self, rod_class: int) -> float:
        """How likely the rod is stuck, or reversed."""
        if not self.rod_split:
            rod = self.priors.rod
            return {STUCK: rod.stuck, REVERSED: rod.reversed}[rod_class]
        mixture = self.mixture
        return float(mixture.weights[mixture.marks[:, ROD_CLASS] == rod_class].sum())


STUCK, REVERSED = 0, 1


def rod_classes(rod: RodBelief) -> tuple[Floats, Floats, Floats]:
    """Means, spreads (mm an eighth) and chances of the rod's classes: stuck, reversed, then those that
    work."""
    working = np.array(rod.response_mm)
    means = np.concatenate(([0.0, rod.reversed_mm], working))
    sds = np.concatenate(([1e-3, abs(rod.reversed_mm) / 2], rod.spread_share * working))
    working_share = (1 - rod.stuck - rod.reversed) * shares(rod.shares)
    return means, sds, np.concatenate(([rod.stuck, rod.reversed], working_share))


def height_cov(priors: Priors, across: Floats) -> Floats:
    """How heights differ from instrument to instrument: all together, tilted, and each by itself."""
    first = priors.before
    tilt = across - 0.5
    both = first.height_all_mm**2 + first.height_tilt_mm**2 * 4 * np.outer(tilt, tilt)
    return np.asarray(both + first.height_own_mm**2 * np.eye(len(across)))


def _with_heights(means: Floats, kappa: Floats, spread: Floats) -> Floats:
    """Covariance (k, d, d) of an unknown move of the relief with variance `spread` (k): heights go with
    it."""
    along = np.zeros_like(means)
    along[:, RELIEF] = 1.0
    along[:, HEIGHTS:] = kappa[:, None]
    return np.asarray(spread[:, None, None] * along[:, :, None] * along[:, None, :])
