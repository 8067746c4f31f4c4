"""Where one slot stands by a belief: about so much, give or take, and how surely inside a band."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from webapp.physics.mixture import Floats, Mixture, normal_cdf
from webapp.setups.belief.fold import Belief
from webapp.setups.slots import Slot
from webapp.trade.belief import Enough
from webapp.trade.ranges import Band, Bands


@dataclass(frozen=True, eq=False)
class Standing:
    """What is believed of one slot's value: mm the standard way, or cents.

    `unread` is how far the last turn was meant to move it, where it was not read since: had that turn gone
    the wrong way round, with the chance `wrong_way`, the value would be twice as far back.
    """

    mixture: Mixture
    row: Floats
    unread: float = 0.0
    wrong_way: float = 0.0

    @cached_property
    def _along(self) -> tuple[Floats, Floats]:
        return self.mixture.along(self.row)

    @cached_property
    def moments(self) -> tuple[float, float]:
        """Mean and standard deviation."""
        return self.mixture.moments_along(*self._along)

    @property
    def mean(self) -> float:
        return self.moments[0]

    @cached_property
    def give(self) -> float:
        """Half the width of the 90 % interval around the mean."""
        return self.mixture.half_width(self.row)

    def chance(self, band: Band) -> float:
        """The chance that the value lies in a band."""
        return self.chances(band)[0]

    def chances(self, *bands: Band) -> tuple[float, ...]:
        """The chances of several bands at once."""
        edges = np.array([(band.low, band.high) for band in bands]).ravel()
        if self.unread:
            # As if the edges, not the value, stood twice as far off.
            both = np.concatenate((edges, edges + 2 * self.unread))
            below = self.mixture.chances_along(*self._along, both)
            right, wrong = below[: len(edges)], below[len(edges) :]
            below = (1 - self.wrong_way) * right + self.wrong_way * wrong
        else:
            below = self.mixture.chances_along(*self._along, edges)
        return tuple((below[1::2] - below[0::2]).tolist())


def uses_of(mixture: Mixture, rows: Floats, bands: Bands, enough: Enough) -> Floats:
    """The use of several states, each the value of a row (c, d): `weight_target` of the chance to lie in
    target, the rest of that to lie in usual, less `distance` for every half-width of the usual band that the
    mean lies off the target's middle. About 0 to 1, less far off."""
    target, usual = bands.target, bands.usual
    means, sds = mixture.along_each(rows)
    edges = np.array([target.low, target.high, usual.low, usual.high])
    below = normal_cdf((edges[:, None, None] - means) / sds)
    chances = np.einsum("ekc,k->ec", below, mixture.weights)
    off = mixture.weights @ abs(means - target.middle) / max(usual.width / 2, 1e-9)
    in_target, in_usual = chances[1] - chances[0], chances[3] - chances[2]
    weight = enough.weight_target
    return np.asarray(weight * in_target + (1 - weight) * in_usual - enough.distance * off)


def standing(belief: Belief, slot: Slot, fret: int = 12) -> Standing:
    """Where a slot stands; `fret` is an intonation slot's."""
    wrong = belief.frame.priors.hand.wrong_way
    unread = belief.unread.get(slot.key, 0.0)
    if slot.over_neck:
        row = belief.neck.row(belief.neck_column(slot))
        return Standing(belief.neck.mixture, row, unread, wrong)
    return Standing(belief.places(slot).mixture, belief.place_row(slot, fret), unread, wrong)
