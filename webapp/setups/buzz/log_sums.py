"""Chances as logarithms, so that the odds of a whole board neither vanish nor overflow."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from webapp.setups.buzz.gaps import Array, Floats

LEAST_DENSITY = np.float32(1e-8)


def log_sum(values: Floats | Array, axis: int | tuple[int, ...]) -> Floats:
    """log(sum(exp(values))), safe for very small chances."""
    top = np.max(values, axis=axis, keepdims=True)
    total = np.log(np.sum(np.exp(values - top), axis=axis, keepdims=True)) + top
    return np.asarray(np.squeeze(total, axis=axis), dtype=np.float64)


def log_box(x: Array, low: ArrayLike, high: ArrayLike, edge: float) -> Array:
    """Log density of 'somewhere between low and high', with soft edges."""
    low, high = np.asarray(low, dtype=np.float32), np.asarray(high, dtype=np.float32)
    inside = expit((x - low) / np.float32(edge)) * expit((high - x) / np.float32(edge))
    return np.asarray(np.log(inside / np.maximum(high - low, np.float32(edge)) + LEAST_DENSITY))


def expit(x: Array) -> Array:
    """1 / (1 + exp(-x))"""
    return np.asarray(1 / (1 + np.exp(np.clip(-x, -60, 60))))


def normal(z: Array) -> Array:
    """The normal's distribution function to 0.0002: expit(2 sqrt(2 / pi) (z + 0.044715 z^3)).

    Source: E. Page, Applied Statistics 26, 1977, pages 75 to 76 (recalled, not looked up again).
    """
    return expit(z * (np.float32(1.5957691) + np.float32(0.0713548) * z * z))
