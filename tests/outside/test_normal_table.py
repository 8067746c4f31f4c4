"""The normal distribution function against a printed table."""

from __future__ import annotations

import numpy as np
import pytest

from webapp.physics.mixture import normal_cdf

TABLE = "M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, table 26.1 (recalled)"


@pytest.mark.memory(TABLE)
@pytest.mark.parametrize(
    ("z", "below"),
    [(0.0, 0.5), (0.5, 0.6914624613), (1.0, 0.8413447461), (2.0, 0.9772498681), (3.0, 0.9986501020)],
)
def test_how_much_lies_below(z: float, below: float) -> None:
    assert normal_cdf(np.array([z]))[0] == pytest.approx(below, rel=1.3e-7)
    assert normal_cdf(np.array([-z]))[0] == pytest.approx(1 - below, rel=1e-6)
