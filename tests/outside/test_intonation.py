"""The intonation rule against exact frequency ratios, and the direction every player knows."""

from __future__ import annotations

import math

import pytest

from webapp.physics.intonation import cents_per_mm, split_fit

SEMITONE = 2 ** (1 / 12)
RATIOS = "Mersenne's law, pitch inversely as length; equal temperament, a semitone is the twelfth root of 2"


def cents_off(scale_mm: float, fret: int, back_mm: float) -> float:
    """Cents a fretted note is off its equal-tempered place, open string retuned, from lengths alone."""
    fretted = scale_mm
    for _ in range(fret):
        fretted /= SEMITONE
    ratio = (scale_mm + back_mm) / (fretted + back_mm)
    return 1200 * math.log2(ratio) - 100 * fret


@pytest.mark.memory(RATIOS)
@pytest.mark.parametrize("scale", [863.6, 762.0, 648.0])
@pytest.mark.parametrize("fret", [1, 3, 5, 7, 12, 15, 19, 24])
@pytest.mark.parametrize("back", [-1.0, -0.1, 0.1, 1.0])
def test_cents_per_mm_is_the_ratio_of_lengths(scale: float, fret: int, back: float) -> None:
    # the rule is first order in the shift over the fretted length: off by no more than that ratio
    exact = -cents_off(scale, fret, back) / back
    assert cents_per_mm(scale, fret) == pytest.approx(exact, rel=abs(back) / scale * 5)


@pytest.mark.memory(RATIOS)
def test_two_cents_at_12_and_four_at_19_on_a_long_scale() -> None:
    assert cents_off(863.6, 12, 1.0) == pytest.approx(-2.00, abs=0.01)
    assert cents_off(863.6, 19, 1.0) == pytest.approx(-4.00, abs=0.015)
    assert cents_per_mm(863.6, 12) == pytest.approx(2.00, abs=0.01)
    assert cents_per_mm(863.6, 19) == pytest.approx(4.00, abs=0.015)


@pytest.mark.memory(RATIOS)
@pytest.mark.parametrize("off", [-3.0, -0.8, 0.4, 2.5])
def test_the_advised_shift_puts_the_octave_right(off: float) -> None:
    errors = {fret: cents_off(863.6, fret, off) for fret in (12, 19)}
    back = split_fit(863.6, errors).shift_mm
    assert abs(cents_off(863.6, 12, off + back)) < 0.1


@pytest.mark.practice
def test_sharp_when_fretted_lengthens_and_flat_shortens() -> None:
    assert split_fit(863.6, {12: 5.0, 19: 10.0}).shift_mm > 0
    assert split_fit(863.6, {12: -5.0, 19: -10.0}).shift_mm < 0
