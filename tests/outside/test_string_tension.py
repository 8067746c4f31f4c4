"""Tension and stretch against printed figures, a physics text and a numeric solution."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from webapp.physics.frets import fret_position
from webapp.physics.strings import (
    density_from_unit_weight,
    detour_mm,
    load_change,
    pitch_hz,
    stretch_cents,
    tension_n,
)

BROCHURE = (
    "D'Addario, A Complete Technical Reference for Fretted Instrument String Tensions "
    "(brochure, undated, read 2026): nickel-wound bass strings"
)
TEXT = "OpenStax, University Physics Volume 1, 2016, section 16.3, worked example on a guitar (recalled)"
NEWTON_PER_POUND = 4.448222


@pytest.mark.published(BROCHURE)
def test_the_printed_tension_of_the_g_string() -> None:
    ours = tension_n(density_from_unit_weight(0.00037240), 863.6, pitch_hz("G2"))
    assert ours / NEWTON_PER_POUND == pytest.approx(42.8, abs=0.06)  # printed to a tenth of a pound


@pytest.mark.memory(TEXT)
@pytest.mark.parametrize(("kg_m", "newton"), [(3.09e-4, 56.40), (5.78e-3, 1055)])
def test_the_worked_wave_speed_asks_for_the_worked_tension(kg_m: float, newton: float) -> None:
    # Half the speed, 427.2 m/s, over the length is the pitch, so any length will do.
    for length_mm in (400, 650):
        pitch = 427.2 / (2 * length_mm / 1000)
        assert tension_n(kg_m, length_mm, pitch) == pytest.approx(newton, rel=5e-4)


@pytest.mark.library("scipy.optimize.brentq")
@pytest.mark.parametrize(
    ("scale", "tension", "core_mm"), [(863.6, 190.0, 0.46), (648.0, 75.0, 0.33), (648.0, 71.0, 0.43)]
)
@pytest.mark.parametrize("fret", [1, 5, 12])
@pytest.mark.parametrize("down", [0.4, 1.5, 3.0])
def test_stretch_is_what_an_elastic_string_does(
    scale: float, tension: float, core_mm: float, fret: int, down: float
) -> None:
    """Find the string's length without tension, then the tension that carries it along the longer path."""
    stiffness = 203e9 * math.pi * (core_mm / 2000) ** 2
    slack = brentq(lambda free: stiffness * (scale / free - 1) - tension, 0.9 * scale, scale, xtol=1e-12)
    place = fret_position(scale, fret)
    path = math.hypot(place, down) + math.hypot(scale - place, down)
    pressed = brentq(
        lambda pull: slack * (1 + pull / stiffness) - path, tension / 2, 10 * tension, xtol=1e-10
    )
    # the same weight spread over a longer path: pitch goes as sqrt(tension / weight per metre)
    cents = 600 * math.log2(pressed / tension * path / scale)
    ours = stretch_cents(tension, scale, detour_mm(scale, place, down), core_mm)
    assert ours == pytest.approx(cents, rel=0.02, abs=1e-3)


@pytest.mark.practice
def test_heavier_strings_or_a_higher_tuning_pull_more_relief_in() -> None:
    light, heavy = (
        [tension_n(kg_m, 863.6, 98.0) for kg_m in set_] for set_ in ([0.0067, 0.012], [0.0083, 0.0145])
    )
    assert load_change(light, heavy).relief_goes == 1
    assert load_change(heavy, light).relief_goes == -1
    higher = [tension_n(kg_m, 863.6, 103.8) for kg_m in (0.0067, 0.012)]
    assert load_change(light, higher).relief_goes == 1
