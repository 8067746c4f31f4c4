"""The pull of strings and whole sets against a string maker's brochure, a music shop's list and the trade."""

from __future__ import annotations

from pathlib import Path

import pytest

from webapp.setups.strings.tension import (
    Basis,
    compare,
    estimated_kg_m,
    feel,
    kgf,
    lbf,
    load_on,
    sets_for,
    strung_with,
    weight_by_gauge,
)
from webapp.setups.strings.weights import WeightUnit, parse_weight
from webapp.trade.content import load_trade
from webapp.trade.spec import StringSpec
from webapp.trade.words import Family

TRADE = load_trade(Path(__file__).parents[2] / "content")
BROCHURE = (
    "D'Addario, A Complete Technical Reference for Fretted Instrument String Tensions "
    "(brochure, undated, read 2026): nickel-wound bass strings"
)
SHOP = "Thomann, online adviser on guitar strings, page 6, Bass Strings (web page, undated, read 2026)"
INCH = 25.4


@pytest.mark.published(BROCHURE)
@pytest.mark.parametrize(
    ("gauge_in", "pounds_per_inch"),
    [(0.045, 0.00037240), (0.050, 0.00046463), (0.055, 0.00054816), (0.060, 0.00066540)],
)
def test_a_printed_weight_is_used_and_an_estimate_is_as_good_as_it_says(
    gauge_in: float, pounds_per_inch: float
) -> None:
    printed = pounds_per_inch * 17.85797
    string = StringSpec(note="G2", gauge_mm=round(gauge_in * INCH, 2), wound=True)
    found = weight_by_gauge(TRADE, Family.BASS, string)
    assert found.basis is Basis.PUBLISHED and "Technical Reference" in found.source
    assert found.kg_m == pytest.approx(printed, rel=1e-6)
    material = TRADE.string_stock.material(Family.BASS, True)
    estimate = estimated_kg_m(material, gauge_in * INCH)
    assert estimate == pytest.approx(printed, rel=material.spread_percent / 100)


@pytest.mark.published(BROCHURE)
def test_the_thinnest_string_of_a_common_set_pulls_as_printed() -> None:
    """The .045 at G2 on 34 in, 42.8 lbf: by its gauge, and with its unit weight typed from the packet."""
    spec = TRADE.kinds["bass_4_34"].spec
    kg_m = parse_weight("0.00037240", WeightUnit.POUND_PER_INCH, 1.143, 0.0066)
    typed = StringSpec(note="G2", gauge_mm=1.2, wound=True, unit_weight_kg_m=kg_m)
    for worn in (spec.strings, (*spec.strings[:3], typed)):
        assert lbf(load_on(spec, TRADE, worn).strings[-1].tension_n) == pytest.approx(42.8, abs=0.06)


@pytest.mark.published(SHOP)
@pytest.mark.parametrize(
    ("key", "gauges_in"),
    [
        ("bass_4_light", (0.100, 0.080, 0.060, 0.040)),
        ("bass_4_medium", (0.105, 0.085, 0.065, 0.045)),
        ("bass_4_heavy", (0.110, 0.090, 0.070, 0.050)),
        ("bass_5_medium", (0.130, 0.105, 0.085, 0.065, 0.045)),
        ("bass_5_heavy", (0.135, 0.110, 0.090, 0.070, 0.050)),
    ],
)
def test_bass_sets_are_those_that_shops_sell(key: str, gauges_in: tuple[float, ...]) -> None:
    gauges = [string.gauge_mm for string in TRADE.string_sets[key].strings]
    assert gauges == pytest.approx([inch * INCH for inch in gauges_in])


@pytest.mark.published(SHOP)
@pytest.mark.parametrize("gauges_in", [(0.105, 0.085, 0.065, 0.045), (0.130, 0.105, 0.085, 0.065, 0.045)])
def test_basses_start_with_the_shops_medium_light_set(gauges_in: tuple[float, ...]) -> None:
    usual = [k.spec for k in TRADE.kinds.values() if k.family is Family.BASS]
    alike = [spec for spec in usual if spec.string_count == len(gauges_in)]
    assert len(alike) >= 2
    for spec in alike:
        gauges = [string.gauge_mm for string in spec.strings]
        assert gauges == pytest.approx([inch * INCH for inch in gauges_in])


@pytest.mark.practice
def test_twelve_strings_are_six_pairs_four_in_octaves_and_two_alike() -> None:
    """E, A, D and G with their octaves; B and the high E doubled."""
    spec = TRADE.kinds["acoustic_12"].spec
    assert [[one.note for one in string.course] for string in spec.strings] == [
        ["E2", "E3"], ["A2", "A3"], ["D3", "D4"], ["G3", "G4"], ["B3", "B3"], ["E4", "E4"],
    ]  # fmt: skip


@pytest.mark.practice
def test_a_set_against_itself_changes_nothing() -> None:
    for kind in TRADE.kinds.values():
        compared = compare(kind.spec, TRADE, kind.spec.strings)
        assert compared.change.change_n == 0
        assert compared.change.relief_goes == 0
        assert {s.feel.words for s in compared.strings} == {"about the same"}


@pytest.mark.practice
def test_sets_of_a_family_go_from_slack_to_stiff() -> None:
    """The sets stand in the file from light to heavy; every step is felt, and pulls more relief in."""
    for kind in TRADE.kinds.values():
        pulls = []
        for one in sets_for(kind.spec, TRADE):
            strings = tuple(map(strung_with, kind.spec.strings, one.strings))
            pulls.append(load_on(kind.spec, TRADE, strings).total_n)
        assert len(pulls) >= 2, kind.key
        for lighter, heavier in zip(pulls, pulls[1:], strict=False):
            assert "stiffer" in feel(lighter, heavier).words, (kind.key, pulls)


@pytest.mark.practice
def test_whole_sets_pull_what_necks_are_built_for() -> None:
    """About 17 to 20 kgf a string on a long-scale bass; 40 to 55 kgf, 60 to 90 and 35 to 45 on guitars.

    Twelve thin strings pull half as much again as six: 95 to 125.
    """
    guitars = {
        "electric_6": (40, 55), "acoustic_6": (60, 90), "classical_6": (35, 45), "acoustic_12": (95, 125),
    }  # fmt: skip
    for kind, (low, high) in {"bass_4_34": (65, 90), **guitars}.items():
        assert low < kgf(load_on(TRADE.kinds[kind].spec, TRADE).total_n) < high, kind
