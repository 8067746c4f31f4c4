"""Chances as logarithms, against the standard library's and against plain sums."""

from __future__ import annotations

from math import log
from statistics import NormalDist

import numpy as np
import pytest

from webapp.setups.buzz.gaps import log_box, log_sum, normal


def test_the_normal_is_the_librarys() -> None:
    z = np.linspace(-5, 5, 201, dtype=np.float32)
    exact = [NormalDist().cdf(float(one)) for one in z]
    assert np.max(np.abs(normal(z) - exact)) < 2e-4
    # Far out, where a touch is nearly out of the question, it stays within a factor of two.
    assert normal(np.float32(-3.5)) == pytest.approx(NormalDist().cdf(-3.5), rel=1.0)


def test_chances_too_small_to_hold_are_added_all_the_same() -> None:
    assert log_sum(np.array([-2000.0, -2000.0, -9000.0]), axis=0) == pytest.approx(-2000 + log(2))
    rows = np.log(np.array([[0.1, 0.3], [0.2, 0.5]]))
    assert log_sum(rows, axis=0) == pytest.approx(np.log([0.3, 0.8]))


def test_a_box_adds_up_to_one_and_its_edges_are_halves() -> None:
    x = np.arange(-2, 4, 0.001, dtype=np.float32)
    density = np.exp(log_box(x, 0.5, 1.5, 0.02))
    assert density.sum() * 0.001 == pytest.approx(1, abs=0.01)
    assert np.interp([0.5, 1.5], x, density) == pytest.approx([0.5, 0.5], abs=0.02)
