"""Thread pitches against the standards that define them."""

from __future__ import annotations

from pathlib import Path

import pytest

from webapp.trade.content import load_trade

THREADS = load_trade(Path(__file__).parents[2] / "content").threads


@pytest.mark.published("ISO 262:1998, General purpose metric screw threads, selected sizes: coarse pitches")
@pytest.mark.parametrize(
    ("key", "pitch_mm"), [("M2.5", 0.45), ("M3", 0.5), ("M4", 0.7), ("M5", 0.8), ("M6", 1.0), ("M8", 1.25)]
)
def test_metric_coarse_pitches(key: str, pitch_mm: float) -> None:
    assert THREADS[key].pitch_mm == pytest.approx(pitch_mm, abs=1e-9)


@pytest.mark.published("ASME B1.1, Unified inch screw threads: 40 and 32 threads to the inch")
@pytest.mark.parametrize(("key", "per_inch"), [("4-40", 40), ("6-32", 32), ("8-32", 32), ("10-32", 32)])
def test_unified_inch_pitches(key: str, per_inch: int) -> None:
    # Content is kept to a tenth of a micron.
    assert THREADS[key].pitch_mm == pytest.approx(25.4 / per_inch, abs=5.1e-5)
