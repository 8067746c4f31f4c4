"""What strings are made of against data sheets: how heavy, how stiff."""

from __future__ import annotations

from pathlib import Path

import pytest

from webapp.physics.strings import STEEL_DENSITY_KG_M3, STEEL_MODULUS_PA, plain_density_kg_m
from webapp.trade.content import load_trade

MATERIALS = load_trade(Path(__file__).parents[2] / "content").string_stock.materials
PSI_PA = 6894.757
POUND_PER_CUBIC_INCH_KG_M3 = 27679.9


@pytest.mark.memory("ASTM A228, music wire, as spring makers tabulate it: 0.284 lb/in3 (recalled)")
def test_music_wire_weighs() -> None:
    pounds = STEEL_DENSITY_KG_M3 / POUND_PER_CUBIC_INCH_KG_M3
    assert pounds == pytest.approx(0.284, abs=6e-4)
    assert MATERIALS["steel_plain"].core_kg_m3 / POUND_PER_CUBIC_INCH_KG_M3 == pounds


@pytest.mark.published(
    "Diamond Wire Spring Company, Spring Material Properties: music wire ASTM A228, E 30 million psi "
    "(web page, undated, read 2026)"
)
def test_music_wire_is_as_stiff_as_a_spring_maker_prints() -> None:
    # Other data sheets say as little as 27 million: nobody prints it closer than this.
    psi = STEEL_MODULUS_PA / PSI_PA
    assert psi == pytest.approx(30e6, rel=0.02)


@pytest.mark.published(
    "Spring-Fix USA, Conversion Table Factors: steel round bar, kg per metre (web page, undated, read 2026)"
)
def test_a_round_steel_bar_weighs_its_diameter_squared_times_the_printed_factor() -> None:
    for diameter_mm in (0.254, 1.0, 2.667):
        assert plain_density_kg_m(diameter_mm) == pytest.approx(0.00616 * diameter_mm**2, rel=1e-3)


@pytest.mark.published("Olin Brass, Alloy Data: C51000 phosphor bronze (ASTM B103), 8.86 g/cm3")
def test_phosphor_bronze() -> None:
    assert MATERIALS["bronze"].wrap_kg_m3 == pytest.approx(8860, rel=0.002)


@pytest.mark.memory("CRC Handbook of Chemistry and Physics, physical constants: copper 8.96 g/cm3 (recalled)")
def test_copper() -> None:
    assert MATERIALS["nylon_wound"].wrap_kg_m3 == pytest.approx(8960, rel=0.002)
