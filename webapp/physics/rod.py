"""How far an eighth of a turn of the truss rod moves this neck, learnt from before/after readings.

Signs: eighths above 0 tighten the rod, which takes relief out; the response is the relief taken out
per eighth tightened, so it is above 0 on a rod that works.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from webapp.physics.belief import Belief

# A rod that seems weaker than this cannot steer the size of a turn; the advice falls to one eighth.
LEAST_RESPONSE_MM = 0.005


@dataclass(frozen=True)
class RodResponse:
    """Belief about one rod: normal with this mean and standard deviation, mm per eighth, after ``pairs``.

    Raises ``ValueError`` for a spread that is not above 0 or a count below 0.
    """

    mean_mm_per_eighth: float
    spread_mm: float
    pairs: int = 0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.mean_mm_per_eighth) and math.isfinite(self.spread_mm)):
            raise ValueError("the response of a rod must be a finite number")
        if not self.spread_mm > 0:
            raise ValueError("the spread of the response must be above 0 mm")
        if self.pairs < 0:
            raise ValueError("the number of pairs cannot be below 0")

    def updated(
        self,
        before_mm: float,
        after_mm: float,
        eighths: float,
        error_before_mm: float,
        error_after_mm: float,
    ) -> RodResponse:
        """The belief after one more pair of relief readings around ``eighths`` of a turn (tighten > 0).

        Both readings must be of the same three frets. Normal prior times normal likelihood: precisions
        add, the mean is their weighted mean; the pair says ``(before - after) / eighths`` with error
        ``hypot(errors) / |eighths|``. Raises ``ValueError`` for no turn or errors that are not above 0.
        """
        if eighths == 0:
            raise ValueError("a pair without a turn says nothing about the rod")
        error = math.hypot(error_before_mm, error_after_mm) / abs(eighths)
        if not (math.isfinite(error) and error > 0):
            raise ValueError("the readings need an error above 0 mm")
        belief = Belief(self.mean_mm_per_eighth, self.spread_mm, self.pairs)
        after = belief.updated((before_mm - after_mm) / eighths, error)
        return RodResponse(after.mean, after.spread, after.count)

    def relief_after(self, relief_mm: float, eighths: float) -> tuple[float, float]:
        """Forecast (relief, its standard deviation from the response alone) after a turn, mm."""
        return relief_mm - eighths * self.mean_mm_per_eighth, abs(eighths) * self.spread_mm


COMMON_PRIOR = RodResponse(0.06, 0.04)


def eighths_for(change_mm: float, response: RodResponse, max_eighths: int = 2) -> int:
    """Whole eighths to turn for a wanted change of relief, signed (tighten > 0), at most ``max_eighths``.

    ``change_mm`` below 0 asks for less relief. 0 when the change is under half an eighth's worth. When
    the response is not clearly above 0 the answer is one eighth the right way: turn, read, learn.
    Raises ``ValueError`` for a ``max_eighths`` below 1.
    """
    if max_eighths < 1:
        raise ValueError("the largest turn must be at least one eighth")
    if change_mm == 0:
        return 0
    if response.mean_mm_per_eighth < LEAST_RESPONSE_MM:
        return -1 if change_mm > 0 else 1
    wanted = abs(change_mm) / response.mean_mm_per_eighth
    size = min(math.floor(wanted + 0.5), max_eighths)
    return -size if change_mm > 0 else size
