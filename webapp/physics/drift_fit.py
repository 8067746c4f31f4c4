"""What a neck does by itself: readings against the moisture of its wood and slow time, steps taken out.

``reading = a + b M(t; lag) + c years + the steps made so far + scatter``. b is the neck's slope, in mm per
percent of moisture. The lag is tried over a grid: every lag's fit counts by how well it explains the readings
and by how usual such a lag is, so the intervals know that the lag is not known.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from webapp.physics.drift import COMMON_LAG_DAYS, Air
from webapp.physics.robust import RobustFit, TooLittle, huber_fit
from webapp.physics.student import Student, mixture_quantile

Floats = NDArray[np.float64]
DAYS_PER_YEAR = 365.25
LEVEL = 0.90

# How usual a lag is: log-normal about the common one, one standard deviation a factor of about two.
LAG_SPREAD = 0.7
_SHORTEST, _LONGEST = 3.0, 120.0
_COARSE, _FINE = 10, 11
# The readings tell the lag once they narrow it to this share of what is usual anyway.
TOLD_SHARE = 0.6
# Beliefs held before any reading, mm: a neck creeps little in a year; a step may be of any ordinary size.
CREEP_MM_PER_YEAR = 0.1
STEP_MM = 2.0
_SLOPE, _YEARS, _STEPS = 1, 2, 3


@dataclass(frozen=True)
class StepPair:
    """Step ``step`` (1 = the first) as the readings just before and just after it show it, mm.

    Errors are the tool's, standard deviations above 0; ``scatter_mm`` (0 or more) is what one day's reading
    differs from the next for other reasons, which both readings share.
    """

    step: int
    before_day: float
    after_day: float
    before_mm: float
    after_mm: float
    before_error_mm: float
    after_error_mm: float
    scatter_mm: float = 0.0

    @property
    def error_mm(self) -> float:
        """Of the difference of the two readings."""
        return math.hypot(self.before_error_mm, self.after_error_mm)

    @property
    def before_share(self) -> float:
        """Weight of the first reading in that mean of the two whose error their difference does not share."""
        return self.after_error_mm**2 / self.error_mm**2

    @property
    def mean_error_mm(self) -> float:
        """Of that mean."""
        tools = self.before_error_mm * self.after_error_mm / self.error_mm
        return math.hypot(tools, self.scatter_mm)


@dataclass(frozen=True, eq=False)
class DriftData:
    """Readings for a fit: ``days``, ``values`` (mm), ``errors`` (mm, above 0) and ``steps_before`` (how many
    steps had been made when it was read), all of shape (n,), and the pairs that were read around steps.

    The two readings of a pair are in that pair and not among the values, or they would count twice.
    ``errors`` are standard deviations up to one common factor. Raises ``ValueError`` for unequal lengths.
    """

    days: Floats
    values: Floats
    errors: Floats
    steps_before: NDArray[np.int64]
    step_count: int = 0
    pairs: tuple[StepPair, ...] = ()

    def __post_init__(self) -> None:
        lengths = {len(self.days), len(self.values), len(self.errors), len(self.steps_before)}
        if len(lengths) != 1 or not np.all(self.errors > 0):
            raise ValueError("each reading needs its day, its error above 0 and its count of steps")


def thinned(data: DriftData, most: int = 400) -> DriftData:
    """The same data in about ``most`` readings, and one more for each step: medians of short spells.

    Spells hold readings between the same two steps. A median of k readings is as sure as 2/pi k of them; of
    two it is their mean. Below ``most`` readings the data comes back as it is. Raises ``ValueError`` for a
    ``most`` below 1.
    """
    if most < 1:
        raise ValueError("at least one reading must be left")
    if len(data.days) <= most:
        return data
    width = float(np.ptp(data.days)) / most
    spell = np.floor((data.days - data.days.min()) / max(width, 1e-9)).astype(np.int64)
    _, place = np.unique(np.stack((data.steps_before, spell)), axis=1, return_inverse=True)
    order = np.argsort(place.ravel(), kind="stable")
    groups = np.split(order, np.flatnonzero(np.diff(place.ravel()[order])) + 1)
    sure = [math.sqrt(min(len(g), 2.0) if len(g) < 3 else 2 / math.pi * len(g)) for g in groups]
    return DriftData(
        days=np.array([data.days[g].mean() for g in groups]),
        values=np.array([np.median(data.values[g]) for g in groups]),
        errors=np.array([np.median(data.errors[g]) for g in groups]) / np.array(sure),
        steps_before=np.array([data.steps_before[g[0]] for g in groups]),
        step_count=data.step_count,
        pairs=data.pairs,
    )


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
class _Part:
    """The fit at one lag, and its weight among the lags."""

    lag_days: float
    weight: float
    fit: RobustFit


@dataclass(frozen=True, eq=False)
class DriftFit:
    """What the readings say. Slopes mm per percent of moisture, and mm per year; ``steps`` mm, oldest first.

    ``lag_told`` says whether the readings themselves told the lag; ``scatter`` is the factor that the
    readings' stated errors had to be multiplied by.
    """

    slope: Estimate
    per_year: Estimate
    lag: Estimate
    lag_told: bool
    steps: tuple[Estimate, ...]
    scatter: float
    df: float
    _parts: tuple[_Part, ...]
    _air: Air
    _middle: tuple[float, float]

    def predicted(self, moisture_percent: float, day: float, error_mm: float = 0.0) -> Estimate:
        """The reading to expect at this moisture of the wood on this day, mm, all steps made.

        The interval is for a reading with the stated ``error_mm``, scatter included: 0 for the neck alone.
        """
        row = self._row(moisture_percent, day)
        return self._estimate(lambda part: row, error_mm)

    def predicted_at(self, day: float, error_mm: float = 0.0) -> Estimate | None:
        """The same for the air as it was up to that day; None where that is not known."""
        if not self._air.known(np.array([day]))[0]:
            return None
        return self._estimate(lambda part: self._row(self._wood(part, day), day), error_mm)

    def change(self, from_day: float, to_day: float) -> Estimate:
        """How far the neck moved by itself between two days, mm. ``ValueError`` where the air is unknown."""
        if not np.all(self._air.known(np.array([from_day, to_day]))):
            raise ValueError("the air is not known on both days")

        def row(part: _Part) -> Floats:
            ends = [self._row(self._wood(part, day), day) for day in (from_day, to_day)]
            return ends[1] - ends[0]

        return self._estimate(row, 0.0)

    def wood(self, days: Floats) -> Floats:
        """Moisture of the wood on these days at the likeliest lag, percent; NaN where it is not known."""
        return self._air.wood(self.lag.value, days)

    def _wood(self, part: _Part, day: float) -> float:
        return float(self._air.wood(part.lag_days, np.array([day]))[0])

    def _row(self, moisture: float, day: float) -> Floats:
        middle_moisture, middle_day = self._middle
        start = [1.0, moisture - middle_moisture, (day - middle_day) / DAYS_PER_YEAR]
        return np.array(start + [1.0] * len(self.steps))

    def _estimate(self, row: Callable[[_Part], Floats], error_mm: float) -> Estimate:
        return _mixed(self._parts, row, error_mm)


def fit_drift(data: DriftData, air: Air, least_scale: float = 1e-3) -> DriftFit:
    """Fit the drift of one place of one instrument.

    Robust regression (``huber_fit``) at each lag of a grid; weights of the lags ``scale^-df`` (the
    likelihood of the residuals, their scale integrated out) times a log-normal belief about lags; intervals
    are quantiles of the weighted mixture of the fits' t distributions. Raises ``ValueError`` when the air is
    not known on the day of a reading, ``TooLittle`` when the readings do not settle the unknowns.
    """
    if not np.all(air.known(data.days)):
        raise ValueError("the air must be known on the day of every reading")
    days = np.concatenate((data.days, [p.before_day for p in data.pairs]))
    wood = air.wood(COMMON_LAG_DAYS, days)
    wood, days = wood[~np.isnan(wood)], days[~np.isnan(wood)]
    if len(wood) == 0 or float(np.ptp(wood)) < 1e-9:
        raise TooLittle("the moisture did not change between these readings")
    middle = (float(wood.mean()), float(days.mean()))
    coarse = _parts(data, air, middle, np.geomspace(_SHORTEST, _LONGEST, _COARSE), least_scale)
    likely = [p.lag_days for p in coarse if p.weight > 1e-3 * max(q.weight for q in coarse)]
    step = (_LONGEST / _SHORTEST) ** (1 / (_COARSE - 1))
    ends = max(likely[0] / step, _SHORTEST), min(likely[-1] * step, _LONGEST)
    parts = _parts(data, air, middle, np.geomspace(*ends, _FINE), least_scale)
    return _summed_up(data, air, middle, parts)


def _parts(
    data: DriftData, air: Air, middle: tuple[float, float], lags: Floats, least_scale: float
) -> tuple[_Part, ...]:
    """The fits at each lag, weighted; each starts from its neighbour's."""
    fits: list[RobustFit] = []
    for lag in lags.tolist():
        rows = _rows(data, air, middle, lag)
        fits.append(huber_fit(*rows, least_scale=least_scale, start=fits[-1] if fits else None))
    usual = -0.5 * (np.log(lags / COMMON_LAG_DAYS) / LAG_SPREAD) ** 2
    log_weight = usual - np.array([fit.df * math.log(fit.scale) for fit in fits])
    weights = np.exp(log_weight - log_weight.max())
    weights /= weights.sum()
    found = zip(lags.tolist(), weights.tolist(), fits, strict=True)
    return tuple(_Part(lag, weight, fit) for lag, weight, fit in found)


def _rows(
    data: DriftData, air: Air, middle: tuple[float, float], lag: float
) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    """Design, values, errors and which rows are beliefs: readings, then pairs, then beliefs."""
    count, pairs, seen = data.step_count, data.pairs, len(data.days)
    before, after = np.array([p.before_day for p in pairs]), np.array([p.after_day for p in pairs])
    made = np.array([p.step for p in pairs], dtype=np.int64)
    days = np.concatenate((data.days, before, after))
    wood = air.wood(lag, days)
    told = ~np.isnan(wood[seen : seen + len(pairs)])
    every = _design(days, wood, np.concatenate((data.steps_before, made - 1, made)), count, middle)
    readings, first, last = every[:seen], every[seen : seen + len(pairs)], every[seen + len(pairs) :]
    share = np.array([p.before_share for p in pairs])
    before_mm, after_mm = np.array([p.before_mm for p in pairs]), np.array([p.after_mm for p in pairs])
    # Within the few days of a pair the wood moves little: where the air is not known, not at all.
    means, changes = share[:, None] * first + (1 - share)[:, None] * last, np.nan_to_num(last - first)
    beliefs = np.eye(_STEPS + count)[_YEARS:]
    values = (data.values, (share * before_mm + (1 - share) * after_mm)[told], after_mm - before_mm)
    of_means = np.array([p.mean_error_mm for p in pairs])[told]
    of_changes = [p.error_mm for p in pairs]
    errors = (data.errors, of_means, of_changes, [CREEP_MM_PER_YEAR], [STEP_MM] * count)
    design = np.vstack((readings, means[told], changes, beliefs))
    known = np.arange(len(design)) >= len(design) - len(beliefs)
    return design, np.concatenate((*values, np.zeros(len(beliefs)))), np.concatenate(errors), known


def _design(
    days: Floats, wood: Floats, steps_before: NDArray[np.int64], count: int, middle: tuple[float, float]
) -> Floats:
    made = steps_before[:, None] > np.arange(count)[None, :]
    years = (days - middle[1]) / DAYS_PER_YEAR
    return np.column_stack((np.ones(len(days)), wood - middle[0], years, made.astype(np.float64)))


def _summed_up(data: DriftData, air: Air, middle: tuple[float, float], parts: tuple[_Part, ...]) -> DriftFit:
    def unit(index: int) -> Callable[[_Part], Floats]:
        row = np.zeros(_STEPS + data.step_count)
        row[index] = 1.0
        return lambda part: row

    lag, spread = _lag(parts)
    return DriftFit(
        slope=_mixed(parts, unit(_SLOPE)),
        per_year=_mixed(parts, unit(_YEARS)),
        lag=lag,
        lag_told=spread < TOLD_SHARE * LAG_SPREAD,
        steps=tuple(_mixed(parts, unit(_STEPS + i)) for i in range(data.step_count)),
        scatter=sum(p.weight * p.fit.scale for p in parts),
        df=sum(p.weight * p.fit.df for p in parts),
        _parts=parts,
        _air=air,
        _middle=middle,
    )


def _lag(parts: tuple[_Part, ...]) -> tuple[Estimate, float]:
    """The lag, days, with its interval, and how far its logarithm spreads."""
    logs, weights = np.log([p.lag_days for p in parts]), np.array([p.weight for p in parts])
    mean = float(weights @ logs)
    spread = math.sqrt(max(float(weights @ (logs - mean) ** 2), 0.0))
    below = np.cumsum(weights) - weights / 2
    low, high = np.exp(np.interp([(1 - LEVEL) / 2, (1 + LEVEL) / 2], below, logs))
    return Estimate(math.exp(mean), float(low), float(high)), spread


def _mixed(parts: tuple[_Part, ...], row: Callable[[_Part], Floats], error_mm: float = 0.0) -> Estimate:
    """A linear combination of the coefficients over all lags; with ``error_mm``, of a reading like that."""
    rows = [row(part) for part in parts]
    means = np.array([r @ p.fit.coef for r, p in zip(rows, parts, strict=True)])
    variances = [
        float(r @ p.fit.covariance @ r) + (p.fit.scale * error_mm) ** 2
        for r, p in zip(rows, parts, strict=True)
    ]
    scales = np.sqrt(np.maximum(variances, 1e-24))
    weights = np.array([p.weight for p in parts])
    student = Student.of(float(weights @ [p.fit.df for p in parts]))
    low, high = (
        mixture_quantile(student, means, scales, weights, share)
        for share in ((1 - LEVEL) / 2, (1 + LEVEL) / 2)
    )
    return Estimate(float(weights @ means), low, high)
