"""A straight-line fit that a few bad readings cannot pull away, and how sure it is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Further off than this a residual pulls no harder. On good data the fit stays 95 % as sharp as least squares.
HUBER_K = 1.345
_PHI = math.exp(-(HUBER_K**2) / 2) / math.sqrt(2 * math.pi)
_BELOW = (1 + math.erf(HUBER_K / math.sqrt(2))) / 2
# Mean square of a clipped standard normal residual.
CLIPPED_SQUARE = (2 * _BELOW - 1) - 2 * HUBER_K * _PHI + 2 * HUBER_K**2 * (1 - _BELOW)
_MOST_ROUNDS = 60
_CLOSE = 1e-8


class TooLittle(ValueError):
    """The rows cannot tell all the coefficients."""


@dataclass(frozen=True, eq=False)
class RobustFit:
    """``coef`` (p,), its ``covariance`` (p, p), the ``scale`` that the stated errors had to be multiplied
    by, and the degrees of freedom ``df`` left."""

    coef: Floats
    covariance: Floats
    scale: float
    df: float


def huber_fit(
    design: Floats,
    values: Floats,
    errors: Floats,
    known: Flags,
    least_scale: float = 1e-3,
    start: RobustFit | None = None,
) -> RobustFit:
    """Fit ``values = design @ coef`` with Huber's weights.

    ``design`` (n, p); ``values`` and ``errors`` (n,) in one unit, errors above 0 and right up to one common
    factor, the scale, which is found too and never falls below ``least_scale``. Rows that are ``known``
    (n,) are beliefs held before any reading: their errors are taken as they stand and never clipped.
    Iterated weights ``min(1, k/|z|)`` with Huber's proposal 2 for the scale, ``sum psi(z)^2 = df * E psi^2``;
    covariance ``K^2 (sum psi^2 / df) / m^2 (X' S^-2 X)^-1`` with m the share of unclipped rows and
    ``K = 1 + p/n (1 - m)/m``. For the scale ``df`` is the number of rows that are not known less the trace
    of their hat matrix; for the covariance, and as told, a clipped row counts only as its weight.
    Source: P. J. Huber, Robust Statistics (1981), sections 7.6 and 7.8. Raises ``TooLittle``
    when less than half a degree of freedom is left or the rows do not settle the coefficients.
    """
    seen = ~known
    scale = start.scale if start else 1.0
    coef = start.coef if start else _weighted(design, values, errors, np.ones(len(values)))[0]
    if not start:
        scale = max(float(np.median(np.abs((values - design @ coef) / errors)[seen])) / 0.6745, least_scale)
    for _ in range(_MOST_ROUNDS):
        spread = np.where(known, errors, errors * scale)
        z = (values - design @ coef) / spread
        weights = np.where(known, 1.0, np.minimum(1.0, HUBER_K / np.maximum(np.abs(z), 1e-12)))
        new, inverse = _weighted(design, values, spread, weights)
        df = _freedom(design, spread, weights, inverse, seen)
        psi = np.clip((values - design @ new) / spread, -HUBER_K, HUBER_K)[seen]
        new_scale = max(scale * math.sqrt(float(psi @ psi) / (df * CLIPPED_SQUARE)), least_scale)
        moved = float(np.max(np.abs(new - coef)) / (np.max(np.abs(new)) + 1e-12))
        done = moved < _CLOSE and abs(new_scale / scale - 1) < 1e-6
        coef, scale = new, new_scale
        if done:
            break
    return _summed_up(design, values, errors, known, coef, scale, df)


def _weighted(design: Floats, values: Floats, spread: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Weighted least squares: coefficients and the inverse of the normal matrix."""
    pull = weights / spread**2
    normal = (design * pull[:, None]).T @ design
    # To a unit diagonal first: years, percents and steps are of very different size.
    size = np.sqrt(np.maximum(np.diag(normal), 1e-300))
    try:
        inverse = np.linalg.inv(normal / np.outer(size, size)) / np.outer(size, size)
    except np.linalg.LinAlgError as singular:
        raise TooLittle("the readings cannot tell these apart") from singular
    if not np.all(np.isfinite(inverse)) or np.any(np.diag(inverse) <= 0):
        raise TooLittle("the readings cannot tell these apart")
    return inverse @ (design.T @ (pull * values)), inverse


def _freedom(design: Floats, spread: Floats, weights: Floats, inverse: Floats, seen: Flags) -> float:
    hat = np.einsum("ij,ij->i", design @ inverse, design) * weights / spread**2
    df = float(np.count_nonzero(seen) - hat[seen].sum())
    if df < 0.5:
        raise TooLittle("there are too few readings for so many unknowns")
    return df


def _summed_up(
    design: Floats, values: Floats, errors: Floats, known: Flags, coef: Floats, scale: float, df: float
) -> RobustFit:
    spread = np.where(known, errors, errors * scale)
    z = ((values - design @ coef) / spread)[~known]
    psi = np.clip(z, -HUBER_K, HUBER_K)
    unclipped = max(float(np.mean(np.abs(z) < HUBER_K)), 0.1)
    # A clipped reading counts as much as it pulls, not as a whole one.
    clipped_away = float(np.sum(1 - HUBER_K / np.maximum(np.abs(z), HUBER_K)))
    df = max(df - clipped_away, 0.5)
    correction = 1 + design.shape[1] / len(z) * (1 - unclipped) / unclipped
    factor = correction**2 * max(float(psi @ psi) / df, CLIPPED_SQUARE) / unclipped**2
    _, inverse = _weighted(design, values, spread, np.ones(len(values)))
    return RobustFit(coef, factor * inverse, scale, df)
