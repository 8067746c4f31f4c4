"""What a neck does by itself: readings, each a range, against the moisture of its wood and slow time.

``value = a + b M(t; lag) + c years + what was moved by hand + the day's own scatter``. b is the neck's slope,
in mm per percent of moisture; what was moved by hand adds up known amounts of unknown sizes (a screw's
travel, a rod's answer). A reading says that the value, blurred by its tool's error, lies in a range; now and
then it is a slip and says nothing. Every unknown has a normal belief before the readings; the wood's lag, and
how much worse than thought the scatter and the tool are, are tried over a grid.

Expectation propagation (`propagation`) finds where the unknowns lie; draws from about there, each weighted by
how likely it truly is, say how sure that is: importance sampling, with draws that are always the same ones.
Source: T. Hesterberg, Weighted average importance sampling and defensive mixture distributions, Technometrics
37 (1995), 185-194, from memory: some draws go everywhere, so that no weight runs away.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from webapp.physics.drift import COMMON_LAG_DAYS, Air
from webapp.physics.mixture import Floats, Seen
from webapp.physics.propagation import Readings, propagated

DAYS_PER_YEAR = 365.25
LEVEL = 0.90

# How usual a lag is: log-normal about the common one, one standard deviation a factor of about two.
LAG_SPREAD = 0.7
_LAGS = np.geomspace(5.0, 90.0, 9)
# The readings tell the lag once they narrow it to this share of what is usual anyway.
TOLD_SHARE = 0.6
# Scatter and tool are tried so many times as large as thought. Most hands are a little worse than the book.
_TIMES = np.array([0.5, 0.75, 1.1, 1.6, 2.4])
_USUAL_TIMES, TIMES_SPREAD = 1.0, 0.35
_SLOPE, _YEARS, _MOVED = 1, 2, 3
# Draws, and how much wider than where the unknowns seem to lie; with a share of them over the whole grid.
_DRAWS, _SEED = 2000, 7
_WIDER, _SHARES = np.array([1.0, 1.4, 2.0]), np.array([0.5, 0.35, 0.15])
_OVER_ALL = 0.25


@dataclass(frozen=True)
class Before:
    """What is believed before any reading: mean and standard deviation of the level at middling moisture
    (mm), standard deviations of the slope (mm per percent) and of the creep (mm per year), the usual scatter
    of a day (mm), and the chance that a reading is a slip.
    """

    level_mm: tuple[float, float]
    slope_sd: float
    creep_sd: float
    scatter_mm: float
    slip: float


@dataclass(frozen=True, eq=False)
class DriftData:
    """``days`` (n,), ``seen`` (n): ranges in mm, ``elsewhere`` (n,): how likely a slip shows each of them.

    ``moved`` (n, q): by how much each of q unknown sizes had been applied when it was read, ``moved_now``
    (q,) by now; ``sizes`` (q, 2): what is believed of each before, mean and standard deviation. Raises
    ``ValueError`` where the shapes do not fit.
    """

    days: Floats
    seen: tuple[Seen, ...]
    elsewhere: Floats
    moved: Floats
    moved_now: Floats
    sizes: Floats
    before: Before

    def __post_init__(self) -> None:
        n, q = len(self.days), len(self.moved_now)
        if len(self.seen) != n or len(self.elsewhere) != n or self.moved.shape != (n, q):
            raise ValueError("each reading needs its day, its range and what had been moved")
        if self.sizes.shape != (q, 2) or not np.all(self.sizes[:, 1:] > 0):
            raise ValueError("each unknown size needs a mean and a standard deviation above 0")

    def where(self, chosen: NDArray[np.bool_] | NDArray[np.int64]) -> DriftData:
        """Some of the readings: a mask (n,), or their places."""
        places = np.arange(len(self.days))[chosen]
        return replace(
            self,
            days=self.days[places],
            seen=tuple(self.seen[i] for i in places.tolist()),
            elsewhere=self.elsewhere[places],
            moved=self.moved[places],
        )


def thinned(data: DriftData, most: int = 300) -> DriftData:
    """The same data in at most ``most`` readings, evenly spread. Raises ``ValueError`` for less than one."""
    if most < 1:
        raise ValueError("at least one reading must be left")
    if len(data.days) <= most:
        return data
    return data.where(np.unique(np.linspace(0, len(data.days) - 1, most).round().astype(np.int64)))


@dataclass(frozen=True)
class Estimate:
    """A number with the interval that holds it in 90 of 100 such cases."""

    value: float
    low: float
    high: float

    @property
    def half(self) -> float:
        """Half the interval: 'give or take'."""
        return (self.high - self.low) / 2

    @property
    def clear(self) -> bool:
        """Whether the interval leaves 0 out."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, eq=False)
class DriftFit:
    """What the readings say, as draws: ``unknowns`` (m, d): level, slope, creep, then the sizes of what was
    moved; the place of each draw's lag in ``_LAGS`` (m,), its day's scatter ``scattered`` (m,), mm, its
    weight (m,).
    """

    unknowns: Floats
    lag_places: NDArray[np.int64]
    scattered: Floats
    weights: Floats
    _air: Air
    _middle: tuple[float, float]
    _moved_now: Floats

    @cached_property
    def slope(self) -> Estimate:
        """mm for one percent of moisture gained."""
        return self._estimate(self.unknowns[:, _SLOPE])

    @cached_property
    def per_year(self) -> Estimate:
        """mm a year, in any air."""
        return self._estimate(self.unknowns[:, _YEARS])

    @cached_property
    def scatter_mm(self) -> float:
        """How far one day differs from the next for no reason known, one standard deviation."""
        return math.sqrt(float(self.weights @ self.scattered**2))

    @cached_property
    def _log_lag(self) -> tuple[float, float]:
        logs = np.log(_LAGS)[self.lag_places]
        mean = float(self.weights @ logs)
        return mean, math.sqrt(max(float(self.weights @ (logs - mean) ** 2), 0.0))

    @cached_property
    def lag(self) -> Estimate:
        """Days that the wood lags behind the air, with its interval."""
        mean, spread = self._log_lag
        # A grid tells no lag more finely than half a step of it.
        reach = 1.645 * math.hypot(spread, math.log(_LAGS[1] / _LAGS[0]) / 2)
        return Estimate(math.exp(mean), math.exp(mean - reach), math.exp(mean + reach))

    @property
    def lag_told(self) -> bool:
        """Whether the readings themselves told the lag."""
        return self._log_lag[1] < TOLD_SHARE * LAG_SPREAD

    @cached_property
    def sizes(self) -> Floats:
        """The likeliest sizes (q,) of what was moved by hand."""
        return np.asarray(self.weights @ self.unknowns[:, _MOVED:])

    def moved(self, amounts: Floats) -> Estimate:
        """What moving by hand made of the place, mm, for ``amounts`` (q,) of each size."""
        return self._estimate(self.unknowns[:, _MOVED:] @ amounts)

    def predicted(self, moisture_percent: float, day: float) -> Estimate:
        """The value to expect at this moisture of the wood on this day, mm, the day's scatter included."""
        return self._estimate(self._values(np.full(len(_LAGS), moisture_percent), day), self.scattered)

    def predicted_at(self, day: float) -> Estimate | None:
        """The same for the air as it was up to that day; None where that is not known."""
        if not self._air.known(np.array([day]))[0]:
            return None
        return self._estimate(self._values(self._woods(day), day), self.scattered)

    def change(self, from_day: float, to_day: float) -> Estimate:
        """How far the neck moved by itself between two days, mm. ``ValueError`` where the air is unknown."""
        if not np.all(self._air.known(np.array([from_day, to_day]))):
            raise ValueError("the air is not known on both days")
        first, last = (self._values(self._woods(day), day) for day in (from_day, to_day))
        return self._estimate(last - first)

    def wood(self, days: Floats) -> Floats:
        """Moisture of the wood on these days at the likeliest lag, percent; NaN where it is not known."""
        return self._air.wood(self.lag.value, days)

    def _woods(self, day: float) -> Floats:
        """Moisture of the wood on a day, by lag."""
        at = np.array([day])
        return np.array([self._air.wood(lag, at)[0] for lag in _LAGS.tolist()])

    def _values(self, moistures: Floats, day: float) -> Floats:
        """The value of every draw (m,) on a day, with the wood's moisture by lag, and all that was moved."""
        years = (day - self._middle[1]) / DAYS_PER_YEAR
        moisture = moistures[self.lag_places] - self._middle[0]
        own = self.unknowns[:, 0] + self.unknowns[:, _SLOPE] * moisture + self.unknowns[:, _YEARS] * years
        return np.asarray(own + self.unknowns[:, _MOVED:] @ self._moved_now)

    def _estimate(self, values: Floats, scattered: Floats | float = 0.0) -> Estimate:
        """Of the draws' ``values`` (m,), its interval with what else each may be off by."""
        around = values + scattered
        order = np.argsort(around, kind="stable")
        weights = self.weights[order]
        below = np.cumsum(weights) - weights / 2
        low, high = np.interp([(1 - LEVEL) / 2, (1 + LEVEL) / 2], below, around[order])
        return Estimate(float(self.weights @ values), float(low), float(high))


def fit_drift(data: DriftData, air: Air) -> DriftFit:
    """Fit the drift of one place of one instrument. Raises ``ValueError`` when the air is not known on the
    day of a reading, or there is none.
    """
    if len(data.days) == 0 or not np.all(air.known(data.days)):
        raise ValueError("the air must be known on the day of every reading")
    middle = float(air.wood(COMMON_LAG_DAYS, data.days).mean()), float(data.days.mean())
    tried = _Tried.of(data, air, middle)
    places, unknowns, weights = tried.draws()
    lag_places, times = np.divmod(places, len(_TIMES))
    scattered = tried.rng.standard_normal(len(places)) * _TIMES[times] * data.before.scatter_mm
    return DriftFit(unknowns, lag_places, scattered, weights, air, middle, data.moved_now)


@dataclass(frozen=True, eq=False)
class _Tried:
    """Every lag with every size of scatter: k explanations of the readings, lag by lag."""

    readings: Readings
    design: Floats
    blur: Floats
    usual: Floats
    mean: Floats
    sds: Floats
    rng: np.random.Generator

    @classmethod
    def of(cls, data: DriftData, air: Air, middle: tuple[float, float]) -> _Tried:
        before, many = data.before, len(_TIMES)
        wood = np.array([air.wood(lag, data.days) for lag in _LAGS.tolist()])
        years = np.broadcast_to((data.days - middle[1]) / DAYS_PER_YEAR, wood.shape)
        plain = np.stack((np.ones_like(wood), wood - middle[0], years), axis=2)
        moved = np.broadcast_to(data.moved, (len(_LAGS), *data.moved.shape))
        readings = Readings.of(data.seen, data.elsewhere, before.slip)
        blur = np.outer(_TIMES**2, readings.variance + before.scatter_mm**2) + readings.fine
        usual = -0.5 * (np.log(_LAGS / COMMON_LAG_DAYS) / LAG_SPREAD) ** 2
        worse = -0.5 * (np.log(_TIMES / _USUAL_TIMES) / TIMES_SPREAD) ** 2
        return cls(
            readings=readings,
            design=np.repeat(np.concatenate((plain, moved), axis=2), many, axis=0),
            blur=np.tile(blur, (len(_LAGS), 1)),
            usual=_normed(np.add.outer(usual, worse).ravel()),
            mean=np.concatenate(([before.level_mm[0], 0.0, 0.0], data.sizes[:, 0])),
            sds=np.concatenate(([before.level_mm[1], before.slope_sd, before.creep_sd], data.sizes[:, 1])),
            rng=np.random.default_rng(_SEED),
        )

    def draws(self) -> tuple[NDArray[np.int64], Floats, Floats]:
        """The explanation of each draw (m,), its unknowns (m, d) and its weight (m,)."""
        means, covs, evidence = propagated(self.readings, self.design, self.blur, self.mean, self.sds)
        likely = _normed(np.log(self.usual) + evidence)
        tried = (1 - _OVER_ALL) * likely + _OVER_ALL * self.usual
        places = np.searchsorted(np.cumsum(tried), (np.arange(_DRAWS) + 0.5) / _DRAWS).clip(0, len(tried) - 1)
        roots = np.linalg.cholesky(covs)
        wider = self.rng.choice(_WIDER, _DRAWS, p=_SHARES)
        steps = self.rng.standard_normal((_DRAWS, len(self.mean))) * wider[:, None]
        unknowns = means[places] + np.einsum("mij,mj->mi", roots[places], steps)
        size = np.log(np.einsum("kdd->kd", roots)).sum(axis=1)[places]
        far = -0.5 * (steps**2).sum(axis=1)[:, None] / _WIDER**2 - len(self.mean) * np.log(_WIDER)
        drawn = np.log(tried[places]) - size + np.log(np.exp(far) @ _SHARES)
        at = np.einsum("mnd,md->mn", self.design[places], unknowns)
        true = np.log(self.readings.likely(at, self.blur[places])).sum(axis=1)
        true += np.log(self.usual[places]) - 0.5 * (((unknowns - self.mean) / self.sds) ** 2).sum(axis=1)
        return places, unknowns, _normed(true - drawn)


def _normed(logarithms: Floats) -> Floats:
    """Weights that sum to one."""
    weights = np.exp(logarithms - logarithms.max())
    return np.asarray(weights / weights.sum())
