"""From errors in cents to a saddle move."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics.intonation import cents_per_mm, expected_error, split_fit

calm = settings(deadline=None)
scales = st.floats(500, 920)
shifts = st.floats(-5, 5)
fret_sets = st.sets(st.integers(1, 24), min_size=2, max_size=8)


def test_the_worked_slopes() -> None:
    assert cents_per_mm(863.6, 12) == pytest.approx(2.00, abs=5e-3)
    assert cents_per_mm(863.6, 19) == pytest.approx(4.00, abs=5e-3)
    assert cents_per_mm(863.6, 0) == 0.0


def cents_off(scale_mm: float, fret: int, back_mm: float) -> float:
    """Cents a fretted note is off its equal-tempered place, open string retuned, from lengths alone."""
    fretted = scale_mm
    for _ in range(fret):
        fretted /= 2 ** (1 / 12)
    return 1200 * math.log2((scale_mm + back_mm) / (fretted + back_mm)) - 100 * fret


@pytest.mark.parametrize("fret", [1, 3, 5, 7, 12, 15, 19, 24])
def test_the_rule_is_first_order_in_the_ratio_of_lengths(fret: int) -> None:
    for scale in (863.6, 762.0, 648.0):
        for back in (-1.0, -0.1, 0.1, 1.0):
            exact = -cents_off(scale, fret, back) / back
            assert cents_per_mm(scale, fret) == pytest.approx(exact, rel=abs(back) / scale * 5)


@pytest.mark.parametrize("off", [-3.0, -0.8, 0.4, 2.5])
def test_the_advised_shift_puts_the_octave_right(off: float) -> None:
    errors = {fret: cents_off(863.6, fret, off) for fret in (12, 19)}
    assert abs(cents_off(863.6, 12, off + split_fit(863.6, errors).shift_mm)) < 0.1


@calm
@given(scale=scales, shift=shifts, nut=st.floats(-10, 10), frets=fret_sets)
def test_saddle_and_nut_end_are_told_apart(scale: float, shift: float, nut: float, frets: set[int]) -> None:
    errors = {fret: expected_error(scale, fret, shift) + nut for fret in frets}
    fit = split_fit(scale, errors)
    assert fit.shift_mm == pytest.approx(shift, abs=1e-6)
    assert fit.nut_cents == pytest.approx(nut, abs=1e-6)
    assert max(abs(left) for left in fit.remainder_cents.values()) < 1e-6


@calm
@given(readings=st.dictionaries(st.integers(1, 24), st.floats(-40, 40), min_size=3, max_size=8))
def test_the_parts_add_up_and_the_remainder_leans_neither_way(readings: dict[int, float]) -> None:
    fit = split_fit(650.0, readings)
    assert fit.remainder_cents.keys() == readings.keys()
    for fret, cents in readings.items():
        parts = expected_error(650.0, fret, fit.shift_mm) + fit.nut_cents + fit.remainder_cents[fret]
        assert parts == pytest.approx(cents, abs=1e-8)
    assert sum(fit.remainder_cents.values()) == pytest.approx(0, abs=1e-7)
    slanted = sum(left * cents_per_mm(650.0, fret) for fret, left in fit.remainder_cents.items())
    assert slanted == pytest.approx(0, abs=1e-6)


def test_one_bad_reading_stands_out() -> None:
    errors = {fret: expected_error(863.6, fret, 1.5) for fret in (1, 3, 5, 12, 19)}
    errors[5] += 9.0
    fret, left = split_fit(863.6, errors).largest_remainder
    assert fret == 5
    assert left > 3.0


def test_standard_errors_come_from_the_reading_error_or_the_scatter() -> None:
    two = split_fit(863.6, {12: 4.0, 19: 8.0}, reading_error_cents=1.0)
    # shift = (e19 - e12) / (c19 - c12), each reading with an error of one cent
    apart = cents_per_mm(863.6, 19) - cents_per_mm(863.6, 12)
    assert two.shift_error_mm == pytest.approx(2**0.5 / apart, rel=1e-9)
    doubled = split_fit(863.6, {12: 4.0, 19: 8.0}, reading_error_cents=2.0)
    assert doubled.nut_error_cents == pytest.approx(2 * two.nut_error_cents)
    scattered = split_fit(863.6, {5: 12.0, 12: -12.0, 19: 12.0}, reading_error_cents=1.0)
    assert scattered.shift_error_mm > 5 * split_fit(863.6, {5: 0.0, 12: 0.0, 19: 0.0}).shift_error_mm


def test_what_cannot_be_fitted_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        split_fit(863.6, {})
    with pytest.raises(ValueError, match="start at fret 1"):
        split_fit(863.6, {0: 0.0, 12: 3.0})
    with pytest.raises(ValueError, match="two frets"):
        split_fit(863.6, {12: 3.0})
    with pytest.raises(ValueError, match="reading error"):
        split_fit(863.6, {12: 3.0, 19: 6.0}, reading_error_cents=0)
    with pytest.raises(ValueError, match="scale"):
        cents_per_mm(0, 12)
    with pytest.raises(ValueError, match="fret"):
        cents_per_mm(863.6, -1)
