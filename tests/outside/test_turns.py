"""Turns of a screw against published thread pitches."""

from __future__ import annotations

import pytest

from webapp.physics.screws import turns

METRIC = [("M2.5", 0.45), ("M3", 0.5), ("M4", 0.7), ("M5", 0.8), ("M6", 1.0)]
INCH = [("#4-40", 40), ("#6-32", 32), ("#8-32", 32), ("#10-32", 32)]


@pytest.mark.published("ISO 262, ISO general purpose metric screw threads, coarse pitches")
@pytest.mark.parametrize(("thread", "pitch"), METRIC)
def test_one_turn_of_a_metric_screw_is_its_pitch(thread: str, pitch: float) -> None:
    assert turns(pitch, pitch) == 1.0, thread
    assert turns(-10 * pitch, pitch) == pytest.approx(-10.0), thread


@pytest.mark.published("ASME B1.1, Unified inch screw threads, threads per inch")
@pytest.mark.parametrize(("thread", "per_inch"), INCH)
def test_an_inch_of_an_inch_screw_takes_its_threads_per_inch(thread: str, per_inch: int) -> None:
    assert turns(25.4, 25.4 / per_inch) == pytest.approx(per_inch), thread
