"""The partials of a stiff string, and the pitch and stiffness that a set of measured partials speaks for.

Stiffness raises the higher partials: ``f_n = n f_1 sqrt((1 + B n**2) / (1 + B))`` with f_1 the first partial
itself. B goes as 1 / length**2 while the tension stays, so a string has one B, and at fret m it is
``B_open 2**(m / 6)``.
Source: N. H. Fletcher and T. D. Rossing, The Physics of Musical Instruments, 2nd ed. 1998, chapter 2
(stiff strings, pinned ends); H. Fletcher, Normal Vibration Frequencies of a Stiff Piano String, J. Acoust.
Soc. Am. 36, 1964. Robust weights: J. W. Tukey's biweight, as in P. J. Huber, Robust Statistics, 1981.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CENTS_PER_RATIO = 1200.0 / math.log(2.0)
# Beyond these no instrument string goes; the prior is for takes whose partials say little about it.
LARGEST_STIFFNESS = 6e-3
USUAL_STIFFNESS, STIFFNESS_SPREAD = 1.2e-4, 3e-4
# What partials stray by where the body is quiet, worth as many partials as this.
USUAL_SCATTER_CENTS, USUAL_WORTH = 0.1, 3.0
ROUNDS = 12
BIWEIGHT = 4.7


def stretch_cents(number: Floats, stiffness: float) -> Floats:
    """Cents by which partial ``number`` lies above ``number`` times the first one."""
    return np.asarray(0.5 * CENTS_PER_RATIO * (np.log1p(stiffness * number**2) - math.log1p(stiffness)))


def partial_hz(number: Floats, first_hz: float, stiffness: float) -> Floats:
    """Frequency of each partial in hertz; ``number`` counts from 1."""
    return np.asarray(number * first_hz * np.sqrt((1 + stiffness * number**2) / (1 + stiffness)))


def at_fret(open_stiffness: float, fret: int) -> float:
    """The string's B when it is stopped at ``fret``: the length shrinks by 2**(-fret / 12)."""
    return float(open_stiffness * 2.0 ** (fret / 6.0))


@dataclass(frozen=True)
class StiffFit:
    """What a set of partials says: the first partial in cents over the reference, and B, with their errors.

    ``scatter_cents`` is how far the partials stray from the law beyond their own errors; ``weights`` (0 to 1)
    how much each partial counted.
    """

    cents: float
    error_cents: float
    stiffness: float
    stiffness_error: float
    scatter_cents: float
    weights: Floats


def fit(
    number: Floats,
    cents: Floats,
    errors: Floats,
    prior: tuple[float, float] = (USUAL_STIFFNESS, STIFFNESS_SPREAD),
) -> StiffFit:
    """Fit the law to partials: ``cents[i]`` is 1200 log2(f / (number f_reference)), ``errors`` their errors.

    Weighted least squares in (cents of the first partial, B), Gauss-Newton, Tukey's biweight against partials
    that the body pulls or a hum sits on; ``prior`` is B and its standard error. Raises ``ValueError`` for no
    partials.
    """
    if not len(number):
        raise ValueError("no partials to fit")
    stiffness, scatter = float(prior[0]), USUAL_SCATTER_CENTS
    weights = np.ones(len(number))
    first = _start(cents - stretch_cents(number, stiffness), errors)
    covariance = np.eye(2)
    for _ in range(ROUNDS):
        residual = cents - first - stretch_cents(number, stiffness)
        scatter = _scatter(residual, errors)
        spread = np.hypot(errors, scatter)
        weights = np.clip(1 - (residual / (BIWEIGHT * spread)) ** 2, 0, None) ** 2
        if weights.sum() < 1.0:
            weights = np.ones(len(number))
        slope = 0.5 * CENTS_PER_RATIO * (number**2 / (1 + stiffness * number**2) - 1 / (1 + stiffness))
        design = np.stack([np.ones(len(number)), slope * 1e-4], axis=1)
        precision = weights / spread**2
        normal = design.T @ (design * precision[:, None])
        right = design.T @ (residual * precision)
        normal[1, 1] += (1e-4 / prior[1]) ** 2
        right[1] += (prior[0] - stiffness) * 1e-4 / prior[1] ** 2
        covariance = np.linalg.inv(normal + 1e-12 * np.eye(2))
        step = covariance @ right
        first += float(step[0])
        stiffness = float(np.clip(stiffness + step[1] * 1e-4, 0.0, LARGEST_STIFFNESS))
    return StiffFit(
        first,
        float(math.sqrt(covariance[0, 0])),
        stiffness,
        float(math.sqrt(covariance[1, 1]) * 1e-4),
        scatter,
        weights,
    )


def _start(cents: Floats, errors: Floats) -> float:
    """The weighted median: a start that one wrong partial cannot drag."""
    order = np.argsort(cents)
    share = np.cumsum(1 / errors[order] ** 2)
    return float(cents[order][np.searchsorted(share, 0.5 * share[-1])])


def _scatter(residual: Floats, errors: Floats) -> float:
    """Spread of the partials beyond their errors: the middle of the residuals, leaning on the usual when
    few."""
    freedom = max(len(residual) - 2.0, 0.0)
    seen = 0.0
    if freedom:
        middle = 1.4826**2 * float(np.median(residual**2)) * len(residual) / freedom
        seen = max(middle - float(np.median(errors**2)), 0.0)
    variance = (USUAL_WORTH * USUAL_SCATTER_CENTS**2 + freedom * seen) / (USUAL_WORTH + freedom)
    return math.sqrt(variance)
