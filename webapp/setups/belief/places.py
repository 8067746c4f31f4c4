"""Places that screws of one thread move: a saddle's tuning, a pickup's two sides, or a nut that nothing
moves.

Unknowns of a component: the screws' pitch q (mm), then each place's value. One bridge, one thread: what one
screw shows counts for all.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from webapp.physics.mixture import Floats, Mixture, Seen
from webapp.trade.belief import Priors

PITCH, VALUES = 0, 1
LEAST_WEIGHT, MOST_COMPONENTS = 2e-4, 16


@dataclass(frozen=True, eq=False)
class Threads:
    """What a screw's thread may be: pitches with their spreads (mm) and chances, summing to 1."""

    pitches: Floats
    spreads: Floats
    chances: Floats

    @property
    def first(self) -> tuple[float, float]:
        """Mean and standard deviation of the pitch before anything is read."""
        mean = float(self.chances @ self.pitches)
        return mean, float(np.sqrt(self.chances @ (self.spreads**2 + (self.pitches - mean) ** 2)))

    def told_apart(self, mixture: Mixture, mark: int, pitch: int) -> Mixture:
        """Each thread a class of its own, by a mark; `pitch` is the unknown that it is known by."""
        mixture = mixture.branched(mark, np.arange(len(self.chances), dtype=float), self.chances)
        which = mixture.marks[:, mark].astype(int)
        return mixture.freed(pitch, self.pitches[which], self.spreads[which])


def screws_turned(
    mixture: Mixture, eighths: float, gains: Floats, pitch: int, first: int, felt: float
) -> Mixture:
    """After a turn of screws: the unknowns from `first` on each move by `gains` of one mm of their travel.

    `pitch` is the unknown mm per turn. A hand feels its eighths to a share `felt`.
    """
    turns, means = eighths / 8, mixture.means.copy()
    change = turns * means[:, pitch, None] * gains
    means[:, first:] += change
    jacobian = np.tile(np.eye(means.shape[1]), (mixture.count, 1, 1))
    jacobian[:, first:, pitch] = turns * gains
    noise = np.zeros_like(mixture.covs)
    noise[:, first:, first:] = felt**2 * change[:, :, None] * change[:, None, :]
    return mixture.moved(means, jacobian, noise)


@dataclass(frozen=True, eq=False)
class PlacesBelief:
    """See the module; `split` tells whether one of the screws was ever turned."""

    mixture: Mixture
    priors: Priors
    threads: Threads
    split: bool = False

    @classmethod
    def before(cls, priors: Priors, threads: Threads, values: Floats, sds: Floats) -> PlacesBelief:
        """Nothing read yet: each place by itself."""
        mean, sd = threads.first
        means, spreads = np.concatenate(([mean], values)), np.concatenate(([sd], sds))
        return cls(Mixture.single(means, spreads, 1), priors, threads)

    def row(self, shares: dict[int, float]) -> Floats:
        """The row that adds up places (counted from 0), each by its share."""
        row = np.zeros(self.mixture.means.shape[1])
        for index, share in shares.items():
            row[VALUES + index] = share
        return row

    def observed(self, row: Floats, seen: Seen, slip: float, elsewhere: float) -> tuple[PlacesBelief, float]:
        """After a reading; and the chance that it was a slip."""
        mixture, slipped = self.mixture.observed(row, seen, slip, elsewhere)
        return replace(self, mixture=mixture.kept(mixture.likely(LEAST_WEIGHT, MOST_COMPONENTS))), slipped

    def turned(self, eighths: float, gains: Floats) -> PlacesBelief:
        """After a turn: `gains` (places) is what one mm of the screw's travel does to each value."""
        whole = self if self.split else self._thread_classes()
        felt = self.priors.hand.felt_share
        return replace(whole, mixture=screws_turned(whole.mixture, eighths, gains, PITCH, VALUES, felt))

    def _thread_classes(self) -> PlacesBelief:
        return replace(self, mixture=self.threads.told_apart(self.mixture, 0, PITCH), split=True)

    def shifted(self, by: Floats, noise: Floats) -> PlacesBelief:
        """Every place moved by something else: known parts `by` and variances `noise` (places)."""
        pad = np.zeros(1)
        return replace(
            self, mixture=self.mixture.shifted(np.concatenate((pad, by)), np.concatenate((pad, noise)))
        )

    def freed(self, index: int, sd: float, mean: float | None = None) -> PlacesBelief:
        """One place believed anew."""
        mixture = self.mixture
        means = mixture.means[:, VALUES + index] if mean is None else mean
        return replace(self, mixture=mixture.freed(VALUES + index, means, sd))
