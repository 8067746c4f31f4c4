"""Inches, 64ths and thou against a general units library and the yard's definition."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics.lengths import Unit, from_unit, parse_length, to_unit

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()
calm = settings(deadline=None)
IN_LIBRARY = {
    Unit.mm: (1, "millimeter"),
    Unit.inch: (1, "inch"),
    Unit.thou: (1, "thou"),
    Unit.sixty_fourths: (1 / 64, "inch"),
}
YARD = "International yard and pound agreement, 1959 (1 in = 25.4 mm exactly); NIST SP 811"


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


@pytest.mark.published(YARD)
@pytest.mark.parametrize(
    ("typed", "mm"), [("1 in", 25.4), ("3/32", 2.38125), ('6/64"', 2.38125), ('5/64"', 1.984375)]
)
def test_the_inch_is_25_4_mm(typed: str, mm: float) -> None:
    assert parse_length(typed, Unit.mm, 0.0, 100.0).mm == pytest.approx(mm, abs=1e-12)
