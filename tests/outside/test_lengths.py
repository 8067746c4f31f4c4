"""Inches, 64ths and thou, pounds and kilograms-force against their definitions and a units library."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics.numbers import Unit, from_unit, parse_length, to_unit
from webapp.physics.strings import density_from_unit_weight
from webapp.setups.strings.tension import kgf, lbf
from webapp.setups.strings.weights import KG_M, WeightUnit

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()
calm = settings(deadline=None)
IN_LIBRARY = {
    Unit.mm: (1, "millimeter"),
    Unit.inch: (1, "inch"),
    Unit.thou: (1, "thou"),
    Unit.sixty_fourths: (1 / 64, "inch"),
}
YARD = "International yard and pound agreement, 1959: 1 yd = 0.9144 m and 1 lb = 0.453 592 37 kg exactly"
FACTORS = "NIST SP 811, Guide for the Use of the SI, 2008 edition, appendix B.8 (recalled)"


@pytest.mark.published(YARD)
@pytest.mark.parametrize(("typed", "mm"), [("36 in", 914.4), ("3/32", 2.38125), ('5/64"', 1.984375)])
def test_inches_are_parts_of_the_yard(typed: str, mm: float) -> None:
    assert parse_length(typed, Unit.mm, 0.0, 1000.0).mm == pytest.approx(mm, abs=1e-12)


@pytest.mark.memory(FACTORS)
def test_a_thou_is_25_4_micrometres() -> None:
    assert from_unit(1, Unit.thou) == pytest.approx(0.0254, rel=1e-12)


@pytest.mark.memory(FACTORS)
def test_a_pound_force_is_4_448_222_newton() -> None:
    assert lbf(4.448222) == pytest.approx(1, rel=2e-7)


@pytest.mark.memory(FACTORS)
def test_a_kilogram_force_is_9_806_65_newton() -> None:
    assert kgf(9.80665) == pytest.approx(1, rel=1e-12)


@pytest.mark.memory(FACTORS)
def test_a_pound_per_inch_is_17_857_97_kilograms_per_metre() -> None:
    assert density_from_unit_weight(1.0) == pytest.approx(17.85797, rel=3e-7)
    assert KG_M[WeightUnit.POUND_PER_INCH] == pytest.approx(17.85797, rel=3e-7)


@pytest.mark.library("pint")
@calm
@given(value=st.floats(-1000, 1000), unit=st.sampled_from(Unit))
def test_units_are_worth_what_the_library_says(value: float, unit: Unit) -> None:
    share, name = IN_LIBRARY[unit]
    mm = UNITS.Quantity(value * share, name).to("millimeter").magnitude
    assert from_unit(value, unit) == pytest.approx(mm, rel=1e-12, abs=1e-12)
    assert to_unit(mm, unit) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.library("pint")
@calm
@given(top=st.integers(1, 200), power=st.integers(1, 6), whole=st.integers(0, 40))
def test_typed_fractions_are_the_librarys_inches(top: int, power: int, whole: int) -> None:
    bottom = 2**power
    mm = UNITS.Quantity(whole + top / bottom, "inch").to("millimeter").magnitude
    text = f"{whole} {top}/{bottom}" if whole else f"{top}/{bottom}"
    assert parse_length(text, Unit.mm, 0.0, 10_000.0).mm == pytest.approx(mm, rel=1e-12)


@pytest.mark.library("pint")
@pytest.mark.parametrize("newton", [1.0, 190.4, 813.6])
def test_units_of_force(newton: float) -> None:
    force = newton * UNITS.newton
    assert lbf(newton) == pytest.approx(force.to("force_pound").magnitude, rel=1e-12)
    assert kgf(newton) == pytest.approx(force.to("force_kilogram").magnitude, rel=1e-12)


@pytest.mark.library("pint")
@pytest.mark.parametrize("unit", WeightUnit)
def test_units_of_weight(unit: WeightUnit) -> None:
    one = UNITS.Quantity(1.0, unit.value.replace("lb", "pound").replace("/in", "/inch"))
    assert KG_M[unit] == pytest.approx(one.to("kilogram/meter").magnitude, rel=1e-12)
