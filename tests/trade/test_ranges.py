"""Bands: nested for every family and touch, moved by touch without leaving what is usual."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from webapp.trade.content import load_trade
from webapp.trade.ranges import Band, Bands
from webapp.trade.words import Family, PickupType, Side, Touch

RANGES = load_trade(Path(__file__).parents[2] / "content").ranges


def nested(bands: Bands) -> bool:
    return bands.usual.holds(bands.target) and bands.plausible.holds(bands.usual) and bands.target.width > 0


@pytest.mark.parametrize("family", Family)
@pytest.mark.parametrize("touch", Touch)
def test_bands_are_nested(family: Family, touch: Touch) -> None:
    assert nested(RANGES.relief_bands(family, touch))
    for step in range(11):
        assert nested(RANGES.height_bands(family, touch, step / 10))
    for wound in (True, False):
        assert nested(RANGES.nut_bands(family, wound))
    for type_ in PickupType:
        for side in Side:
            bands = RANGES.pickup_bands(family, type_, side, touch)
            has_pickups = family not in (Family.ACOUSTIC, Family.CLASSICAL)
            assert (bands is not None) == has_pickups
            assert bands is None or nested(bands)


@pytest.mark.parametrize("family", Family)
def test_a_firmer_touch_asks_for_more_room(family: Family) -> None:
    relief = [RANGES.relief_bands(family, touch).target.middle for touch in Touch]
    height = [RANGES.height_bands(family, touch, 0.5).target.middle for touch in Touch]
    assert relief[0] < relief[1] < relief[2]
    assert height[0] < height[1] < height[2]


@pytest.mark.parametrize("family", Family)
def test_heights_fall_evenly_from_bass_to_treble(family: Family) -> None:
    bass, middle, treble = (RANGES.height_bands(family, Touch.MEDIUM, at).target for at in (0, 0.5, 1))
    assert bass.low > middle.low > treble.low
    assert middle.low == pytest.approx((bass.low + treble.low) / 2)
    assert middle.high == pytest.approx((bass.high + treble.high) / 2)


def test_intonation_bands_widen_from_12_to_17_and_no_further() -> None:
    widths = [RANGES.intonation_bands(fret).target.width for fret in range(1, 25)]
    assert widths == sorted(widths)
    assert RANGES.intonation_bands(1) == RANGES.intonation_bands(12)
    assert RANGES.intonation_bands(17) == RANGES.intonation_bands(24)
    assert RANGES.intonation_bands(14).target.high == pytest.approx(3 + 2 * 2 / 5)


def test_relief_is_pressed_at_the_joint_on_guitars() -> None:
    assert RANGES.families[Family.ACOUSTIC].relief.press_fret(14) == 14
    assert RANGES.families[Family.BASS].relief.press_fret(16) == 13


ends = st.tuples(st.floats(-100, 100), st.floats(-100, 100)).map(sorted)


@given(ends, ends, st.floats(-50, 50))
def test_a_clamped_band_never_leaves_its_limits(one: list[float], other: list[float], by: float) -> None:
    limits = Band(low=one[0], high=one[1])
    assert limits.holds(Band(low=other[0], high=other[1]).shifted(by).clamped(limits))


def test_a_band_upside_down_is_refused() -> None:
    with pytest.raises(ValidationError):
        Band(low=2, high=1)
