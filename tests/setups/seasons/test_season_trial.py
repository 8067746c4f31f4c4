"""How honest the seasons are, over some hundred simulated instruments for each way of reading relief."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache

import numpy as np
import pytest

from tests.setups.journals import BASS, spec_of, the_trade
from tests.setups.season_trial import READERS, Life, live
from webapp.physics.drift_fit import Estimate
from webapp.setups.case import Case
from webapp.setups.seasons.drift import Drift, drift_of
from webapp.setups.slots import Slot
from webapp.trade.words import Check

SEED, COUNT = 2, 80
# Of 80 intervals of nine in ten, so many in a hundred hold their truth, but for one time in twenty.
LEAST, MOST = 82.5, 96.25


def drift(life: Life) -> Drift:
    *past, journal = life.journals
    return drift_of(
        Case(spec_of(BASS), the_trade(), journal, life.now, past=tuple(past)), Slot(Check.RELIEF), life.daily
    )


def told(life: Life, found: Drift) -> Iterator[tuple[str, Estimate, float]]:
    """What the seasons say of one instrument, beside what was truly so."""
    assert found.fit is not None and found.now is not None
    yield "now", found.now, life.relief_mm
    for ahead in found.expected:
        yield f"{ahead.humidity_percent:g} %", ahead.value, life.settled[ahead.humidity_percent]
    yield "slope", found.fit.slope, life.slope


@cache
def covered(tool: str) -> tuple[dict[str, float], dict[str, float]]:
    """How often, in percent, each 90 % interval held the truth, and its median half-width."""
    held: Counter[str] = Counter()
    halves: dict[str, list[float]] = {}
    for number in range(COUNT):
        life = live(SEED, number, tool)
        for name, estimate, truth in told(life, drift(life)):
            held[name] += estimate.low <= truth <= estimate.high
            halves.setdefault(name, []).append(estimate.half)
    shares = {name: 100 * held[name] / COUNT for name in halves}
    row = "  ".join(f"{name} {share:5.1f}" for name, share in shares.items())
    middles = {name: float(np.median(some)) for name, some in halves.items()}
    print(f"\n{tool:>7}: {row}  (give or take {middles['now']:.3f} mm now)")
    return shares, middles


@pytest.mark.parametrize("tool", READERS)
def test_nine_intervals_in_ten_hold_the_truth(tool: str) -> None:
    shares, _ = covered(tool)
    assert set(shares) == {"now", "35 %", "50 %", "65 %", "slope"}
    for name, share in shares.items():
        assert LEAST <= share <= MOST, (tool, name, share)


def test_a_finer_tool_says_more() -> None:
    """An interval that holds the truth because it is wide is no use: a card's is a third of its range."""
    now = {tool: covered(tool)[1]["now"] for tool in READERS}
    assert now["feeler"] < 0.06 < now["card"] < 0.12 and now["ear"] < 0.14
