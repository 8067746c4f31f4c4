"""The bands against common practice: what repairers call good without looking it up."""

from __future__ import annotations

from pathlib import Path

import pytest

from webapp.trade.content import load_trade
from webapp.trade.words import Check, Family, PickupType, Side, Touch

TRADE = load_trade(Path(__file__).parents[2] / "content")
RANGES = TRADE.ranges
MEDIUM = Touch.MEDIUM
INCH = 25.4


@pytest.mark.practice
def test_two_single_coil_bass_at_six_and_five_sixty_fourths_is_on_target() -> None:
    for side, sixty_fourths in ((Side.BASS, 6), (Side.TREBLE, 5)):
        bands = RANGES.pickup_bands(Family.BASS, PickupType.SINGLE, side, MEDIUM)
        assert bands is not None and bands.target.contains(sixty_fourths / 64 * INCH)


@pytest.mark.practice
def test_three_thirty_seconds_is_a_medium_bass_action() -> None:
    assert RANGES.height_bands(Family.BASS, MEDIUM, 0).target.contains(3 / 32 * INCH)


@pytest.mark.practice
@pytest.mark.parametrize(
    ("answer", "in_target", "in_usual"),
    [("none", True, True), ("one", True, True), ("two", False, True), ("more", False, False)],
)
def test_a_card_under_a_bass_string(answer: str, in_target: bool, in_usual: bool) -> None:
    # One card fits: good. Two: acceptable at the most. Three: too much bow. None says only that it is less.
    low, high = TRADE.method(Check.RELIEF, "card").choice(answer).range(TRADE.card_thickness_mm)
    bands = RANGES.relief_bands(Family.BASS, MEDIUM)
    met = [band.low < high and low < band.high for band in (bands.target, bands.usual)]
    assert met == [in_target, in_usual]
    if answer == "one":
        assert bands.usual.low < low and high < bands.usual.high


@pytest.mark.practice
@pytest.mark.parametrize("family", [Family.BASS, Family.BASS_SHORT])
def test_a_card_that_just_fits_under_an_open_bass_string_is_good(family: Family) -> None:
    low, high = TRADE.method(Check.NUT, "card").choice("one").range(TRADE.card_thickness_mm)
    assert RANGES.nut_bands(family, True).target.contains(low)
    assert RANGES.nut_bands(family, True).usual.contains(high)
