"""Weights, tensions and stretch against published unit weights, a physics text and a numeric solution."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from webapp.physics.frets import fret_position
from webapp.physics.strings import (
    STEEL_DENSITY_KG_M3,
    STEEL_MODULUS_PA,
    density_from_unit_weight,
    detour_mm,
    load_change,
    pitch_hz,
    stretch_cents,
    tension_n,
    wound_density_kg_m,
)

MAKER = (
    "A string maker's technical reference for fretted instrument string tensions: T = UW (2 L F)^2 / 386.4"
)
TEXT = "OpenStax, University Physics Volume 1, section 16.3, worked example on a guitar's strings (recalled)"
WIRE = "ASTM A228 music wire data sheets (recalled)"
NEWTON_PER_POUND = 4.4482216152605
# nickel-wound bass strings: diameter in inches, unit weight in lb/in
UNIT_WEIGHTS = [(0.045, 0.00037240), (0.050, 0.00046463), (0.055, 0.00054816), (0.060, 0.00066540)]


@pytest.mark.published(MAKER)
@pytest.mark.parametrize(("gauge", "unit_weight"), UNIT_WEIGHTS)
@pytest.mark.parametrize(("note", "hertz"), [("G2", 98.0), ("D2", 73.4), ("C3", 130.8)])
def test_tension_is_the_makers_to_one_percent(
    gauge: float, unit_weight: float, note: str, hertz: float
) -> None:
    pounds = unit_weight * (2 * 34.0 * hertz) ** 2 / 386.4
    ours = tension_n(density_from_unit_weight(unit_weight), 34.0 * 25.4, pitch_hz(note))
    assert ours / NEWTON_PER_POUND == pytest.approx(pounds, rel=0.01), gauge


@pytest.mark.published(MAKER)
def test_the_printed_tension_of_the_g_string() -> None:
    ours = tension_n(density_from_unit_weight(0.00037240), 863.6, pitch_hz("G2"))
    assert ours / NEWTON_PER_POUND == pytest.approx(42.8, rel=0.01)


@pytest.mark.published(MAKER)
@pytest.mark.parametrize(("gauge", "unit_weight"), UNIT_WEIGHTS)
def test_core_and_wrap_weigh_about_what_is_printed(gauge: float, unit_weight: float) -> None:
    # a core of four tenths of the diameter, which nobody prints: good to a twentieth, and named an estimate
    estimate = wound_density_kg_m(gauge * 25.4, 0.4 * gauge * 25.4)
    assert estimate == pytest.approx(unit_weight * 0.45359237 / 0.0254, rel=0.05)


@pytest.mark.memory(TEXT)
@pytest.mark.parametrize(("kg_m", "newton"), [(3.09e-4, 56.40), (5.78e-3, 1055)])
@pytest.mark.parametrize("length_mm", [400, 650])
def test_the_worked_wave_speed_asks_for_the_worked_tension(
    kg_m: float, newton: float, length_mm: float
) -> None:
    # Half the speed over the length is the pitch, so any length will do.
    pitch = 427.2 / (2 * length_mm / 1000)
    assert tension_n(kg_m, length_mm, pitch) == pytest.approx(newton, rel=5e-4)


@pytest.mark.memory(WIRE)
def test_music_wire() -> None:
    assert STEEL_DENSITY_KG_M3 == 7850
    assert 200e9 <= STEEL_MODULUS_PA <= 207e9


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
    light = [tension_n(density_from_unit_weight(weight), 863.6, 98.0) for _, weight in UNIT_WEIGHTS[:2]]
    heavy = [tension_n(density_from_unit_weight(weight), 863.6, 98.0) for _, weight in UNIT_WEIGHTS[2:]]
    assert load_change(light, heavy).relief_goes == 1
    assert load_change(heavy, light).relief_goes == -1
