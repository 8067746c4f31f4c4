"""Notes, weights, tensions and stretch."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.physics import strings

calm = settings(deadline=None)
densities, scales, pitches = st.floats(1e-4, 0.03), st.floats(300, 1200), st.floats(20, 500)


@calm
@given(letter=st.sampled_from("CDEFGAB"), octave=st.integers(0, 7), a4=st.floats(390, 470))
def test_an_octave_doubles_the_pitch(letter: str, octave: int, a4: float) -> None:
    low, high = (strings.pitch_hz(f"{letter}{number}", a4) for number in (octave, octave + 1))
    assert high == pytest.approx(2 * low, rel=1e-12)


@pytest.mark.parametrize(
    ("one", "other"), [("C#3", "Db3"), ("A#0", "Bb0"), ("E4", "Fb4"), ("B#3", "C4"), ("F♯2", "G♭2")]
)
def test_two_names_of_one_note(one: str, other: str) -> None:
    assert strings.pitch_hz(one) == strings.pitch_hz(other)


@pytest.mark.parametrize("note", ["", "H2", "E", "e1", "E9", "E-1", "E##1", "1E", "E 1", "E1x"])
def test_what_is_no_note_is_refused(note: str) -> None:
    with pytest.raises(ValueError, match="is not a note"):
        strings.pitch_hz(note)


@calm
@given(density=densities, scale=scales, pitch=pitches)
def test_four_times_the_tension_is_an_octave(density: float, scale: float, pitch: float) -> None:
    tension = strings.tension_n(density, scale, pitch)
    assert strings.tension_n(density, scale, 2 * pitch) == pytest.approx(4 * tension, rel=1e-12)
    assert strings.tension_n(density, 2 * scale, pitch / 2) == pytest.approx(tension, rel=1e-12)


@calm
@given(gauge=st.floats(0.1, 5), factor=st.floats(1, 3))
def test_weight_goes_with_the_square_of_the_gauge(gauge: float, factor: float) -> None:
    heavier = strings.plain_density_kg_m(gauge * factor) / strings.plain_density_kg_m(gauge)
    assert heavier == pytest.approx(factor**2, rel=1e-9)


@calm
@given(gauge=st.floats(0.5, 4), share=st.floats(0.2, 0.9), packing=st.floats(0.3, 1))
def test_a_wound_string_is_heavier_than_its_core_and_lighter_than_solid(
    gauge: float, share: float, packing: float
) -> None:
    wound = strings.wound_density_kg_m(gauge, share * gauge, packing=packing)
    solid = strings.plain_density_kg_m(gauge)
    assert strings.plain_density_kg_m(share * gauge) < wound <= solid * (1 + 1e-12)
    full = strings.wound_density_kg_m(gauge, share * gauge, packing=1.0)
    assert full == pytest.approx(solid, rel=1e-9)


def test_load_says_which_way_the_relief_goes() -> None:
    lighter = strings.load_change([180, 190, 200, 190], [160, 170, 180, 170])
    assert lighter.change_n == pytest.approx(-80)
    assert lighter.relief_goes == -1
    assert strings.load_change([160, 170], [180, 190]).relief_goes == 1
    assert strings.load_change([160, 170], [161, 170]).relief_goes == 0


@calm
@given(scale=scales, share=st.floats(0.03, 0.97), down=st.floats(0.05, 10))
def test_the_detour_is_the_two_legs_less_the_straight_line(scale: float, share: float, down: float) -> None:
    legs = math.hypot(share * scale, down) + math.hypot((1 - share) * scale, down)
    assert strings.detour_mm(scale, share * scale, down) == pytest.approx(legs - scale, abs=1e-9)
    mirrored = strings.detour_mm(scale, (1 - share) * scale, down)
    assert strings.detour_mm(scale, share * scale, down) == pytest.approx(mirrored, rel=1e-9)


def test_stretch_is_half_the_rise_in_tension_for_small_ones() -> None:
    # E A / L * dl = 203e9 * pi/4 * (0.5e-3)^2 * 0.01 / 650 N on 80 N
    rise = 203e9 * math.pi / 4 * 0.0005**2 * 0.01 / 650 / 80
    assert strings.stretch_cents(80, 650, 0.01, 0.5) == pytest.approx(600 / math.log(2) * rise, rel=rise)
    assert strings.stretch_cents(80, 650, 0.0, 0.5) == 0.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: strings.pitch_hz("E1", 0),
        lambda: strings.plain_density_kg_m(0),
        lambda: strings.wound_density_kg_m(1.0, 1.0),
        lambda: strings.wound_density_kg_m(1.0, 0.4, packing=1.2),
        lambda: strings.tension_n(0.005, 0, 41.2),
        lambda: strings.tension_n(-0.005, 863.6, 41.2),
        lambda: strings.tension_n(0.005, 863.6, 0),
        lambda: strings.density_from_unit_weight(0),
        lambda: strings.detour_mm(650, 650, 1),
        lambda: strings.stretch_cents(80, 650, -10, 0.5),
        lambda: strings.stretch_cents(80, 650, 0.1, 0),
    ],
)
def test_impossible_strings_are_refused(call: object) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match="must"):
        call()
