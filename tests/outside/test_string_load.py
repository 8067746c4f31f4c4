"""The pull of whole sets against a string maker's printed tensions, a units library, and the trade's laws."""

from __future__ import annotations

from pathlib import Path

import pint
import pytest

from webapp.setups.load import (
    compare,
    estimated_kg_m,
    feel,
    kgf,
    lbf,
    load_on,
    sets_for,
    shifted,
    strung_with,
)
from webapp.setups.weights import KG_M, WeightUnit, parse_weight
from webapp.trade.load import Trade, load_trade
from webapp.trade.spec import InstrumentSpec, StringSpec
from webapp.trade.words import Family

MAKER = (
    "A string maker's technical reference for fretted instrument string tensions: unit weights, and tensions "
    "in lbf on 34 in (bass) and 25.5 in (guitars), as reproduced in a public repository"
)
INCH = 25.4
BASS_34, GUITAR_25_5 = 34 * INCH, 25.5 * INCH
# kind, scale in mm, and for each string: note, gauge in inches, wound, printed tension in lbf
PRINTED: list[tuple[str, float, list[tuple[str, float, bool, float]]]] = [
    ("bass_4_34", BASS_34, [("E1", 0.105, True, 40.3), ("A1", 0.085, True, 48.4), ("D2", 0.065, True, 51.3),
                            ("G2", 0.045, True, 42.8)]),
    ("bass_4_34", BASS_34, [("E1", 0.100, True, 36.5), ("A1", 0.080, True, 42.0), ("D2", 0.060, True, 42.9),
                            ("G2", 0.040, True, 33.7)]),
    ("bass_5_34", BASS_34, [("B0", 0.130, True, 34.5), ("E1", 0.110, True, 46.2), ("A1", 0.090, True, 54.4),
                            ("D2", 0.070, True, 60.1), ("G2", 0.050, True, 53.4)]),
    ("electric_6", GUITAR_25_5, [("E2", 0.046, True, 17.5), ("A2", 0.036, True, 19.5),
                                 ("D3", 0.026, True, 18.4), ("G3", 0.017, False, 16.6),
                                 ("B3", 0.013, False, 15.4),
                                 ("E4", 0.010, False, 16.2)]),
    ("classical_6", GUITAR_25_5, [("E2", 0.043, True, 15.2), ("A2", 0.035, True, 16.8),
                                  ("D3", 0.029, True, 16.9), ("G3", 0.040, False, 11.7),
                                  ("B3", 0.032, False, 11.9),
                                  ("E4", 0.028, False, 16.2)]),
]  # fmt: skip
# family, wound, gauge in inches, printed unit weight in lb/in
UNIT_WEIGHTS = [
    (Family.BASS, True, 0.045, 0.00037240), (Family.BASS, True, 0.050, 0.00046463),
    (Family.BASS, True, 0.055, 0.00054816), (Family.BASS, True, 0.060, 0.00066540),
    (Family.BASS, True, 0.085, 0.00133702), (Family.BASS, True, 0.105, 0.00198395),
    (Family.BASS, True, 0.130, 0.00301941), (Family.BASS, True, 0.145, 0.00363204),
    (Family.ELECTRIC, False, 0.009, 0.00001794), (Family.ELECTRIC, False, 0.017, 0.00006402),
    (Family.ELECTRIC, True, 0.026, 0.00012671), (Family.ELECTRIC, True, 0.046, 0.00038216),
    (Family.ELECTRIC, True, 0.070, 0.00089304), (Family.ACOUSTIC, True, 0.024, 0.00011682),
    (Family.ACOUSTIC, True, 0.042, 0.00036722), (Family.ACOUSTIC, True, 0.056, 0.00063477),
    (Family.CLASSICAL, False, 0.028, 0.00002216), (Family.CLASSICAL, False, 0.040, 0.00004522),
    (Family.CLASSICAL, True, 0.029, 0.00011667), (Family.CLASSICAL, True, 0.035, 0.00020667),
    (Family.CLASSICAL, True, 0.043, 0.00033302),
]  # fmt: skip


@pytest.fixture(scope="module")
def trade() -> Trade:
    return load_trade(Path(__file__).parents[2] / "content")


def strung(
    trade: Trade, kind: str, scale_mm: float, strings: list[tuple[str, float, bool]]
) -> InstrumentSpec:
    """An instrument of a kind with these strings and this scale."""
    worn = tuple(StringSpec(note=n, gauge_mm=round(g * INCH, 4), wound=w) for n, g, w in strings)
    changes = {"strings": worn, "scale_bass_mm": scale_mm, "scale_treble_mm": scale_mm}
    return trade.kinds[kind].spec.model_copy(update=changes)


@pytest.mark.published(MAKER)
@pytest.mark.parametrize(("kind", "scale_mm", "printed"), PRINTED)
def test_sets_pull_as_printed(
    trade: Trade, kind: str, scale_mm: float, printed: list[tuple[str, float, bool, float]]
) -> None:
    spec = strung(trade, kind, scale_mm, [(n, g, w) for n, g, w, _ in printed])
    load = load_on(spec, trade)
    for string, (note, gauge, _, pounds) in zip(load.strings, printed, strict=True):
        # printed to a tenth of a pound
        assert lbf(string.tension_n) == pytest.approx(pounds, rel=0.01, abs=0.05), (note, gauge)
    assert lbf(load.total_n) == pytest.approx(sum(pounds for *_, pounds in printed), rel=0.01)


@pytest.mark.published(MAKER)
def test_a_packets_weight_gives_the_printed_tension(trade: Trade) -> None:
    """The .045 at G2 on 34 in, 42.8 lbf, with its unit weight typed from the packet."""
    kg_m = parse_weight("0.00037240", WeightUnit.POUND_PER_INCH, 1.143, 0.0066)
    spec = trade.kinds["bass_4_34"].spec
    strings = (*spec.strings[:3], StringSpec(note="G2", gauge_mm=1.2, wound=True, unit_weight_kg_m=kg_m))
    load = load_on(spec, trade, strings)
    assert lbf(load.strings[-1].tension_n) == pytest.approx(42.8, rel=0.01)


@pytest.mark.published(MAKER)
@pytest.mark.parametrize(("family", "wound", "gauge", "pounds_per_inch"), UNIT_WEIGHTS)
def test_an_estimate_is_as_good_as_it_says(
    trade: Trade, family: Family, wound: bool, gauge: float, pounds_per_inch: float
) -> None:
    material = trade.string_stock.material(family, wound)
    printed = pounds_per_inch * 0.45359237 / 0.0254
    assert estimated_kg_m(material, gauge * INCH) == pytest.approx(
        printed, rel=material.spread_percent / 100
    )


@pytest.mark.library("pint")
@pytest.mark.parametrize("newton", [1.0, 190.4, 813.6])
def test_units_of_force(newton: float) -> None:
    force = newton * pint.UnitRegistry().newton
    assert lbf(newton) == pytest.approx(force.to("force_pound").magnitude, rel=1e-12)
    assert kgf(newton) == pytest.approx(force.to("force_kilogram").magnitude, rel=1e-12)


@pytest.mark.library("pint")
@pytest.mark.parametrize("unit", WeightUnit)
def test_units_of_weight(unit: WeightUnit) -> None:
    one = pint.UnitRegistry().Quantity(1.0, unit.value.replace("lb", "pound").replace("/in", "/inch"))
    assert KG_M[unit] == pytest.approx(one.to("kilogram/meter").magnitude, rel=1e-12)


@pytest.mark.memory("Mersenne's laws: the pull goes as the square of the pitch, and of the length")
def test_an_octave_up_pulls_four_times(trade: Trade) -> None:
    spec = trade.kinds["electric_6"].spec
    octave = tuple(s.model_copy(update={"note": shifted(s.note, 12)}) for s in spec.strings)
    compared = compare(spec, trade, octave)
    assert all(
        s.after.tension_n == pytest.approx(4 * s.before.tension_n, rel=1e-12) for s in compared.strings
    )
    double = spec.model_copy(
        update={"scale_bass_mm": 2 * spec.scale_bass_mm, "scale_treble_mm": 2 * spec.scale_treble_mm}
    )
    assert load_on(double, trade).total_n == pytest.approx(4 * compared.before.total_n, rel=1e-12)


@pytest.mark.practice
def test_twelve_strings_are_six_pairs_four_in_octaves_and_two_alike(trade: Trade) -> None:
    """E, A, D and G with their octaves; B and the high E doubled."""
    spec = trade.kinds["acoustic_12"].spec
    assert [[one.note for one in string.course] for string in spec.strings] == [
        ["E2", "E3"], ["A2", "A3"], ["D3", "D4"], ["G3", "G4"], ["B3", "B3"], ["E4", "E4"],
    ]  # fmt: skip


@pytest.mark.practice
def test_a_set_against_itself_changes_nothing(trade: Trade) -> None:
    for kind in trade.kinds.values():
        compared = compare(kind.spec, trade, kind.spec.strings)
        assert compared.change.change_n == 0
        assert compared.change.relief_goes == 0
        assert {s.feel.words for s in compared.strings} == {"about the same"}


@pytest.mark.practice
def test_sets_of_a_family_go_from_slack_to_stiff(trade: Trade) -> None:
    """The sets stand in the file from light to heavy; every step is felt, and pulls more relief in."""
    for kind in trade.kinds.values():
        pulls = []
        for one in sets_for(kind.spec, trade):
            strings = tuple(map(strung_with, kind.spec.strings, one.strings))
            pulls.append(load_on(kind.spec, trade, strings).total_n)
        assert len(pulls) >= 2, kind.key
        for lighter, heavier in zip(pulls, pulls[1:], strict=False):
            assert "stiffer" in feel(lighter, heavier).words, (kind.key, pulls)


@pytest.mark.practice
def test_whole_sets_pull_what_necks_are_built_for(trade: Trade) -> None:
    """About 17 to 20 kgf a string on a long-scale bass; 40 to 55 kgf, 60 to 90 and 35 to 45 on guitars.

    Twelve thin strings pull half as much again as six: 95 to 125.
    """
    guitars = {
        "electric_6": (40, 55), "acoustic_6": (60, 90), "classical_6": (35, 45), "acoustic_12": (95, 125),
    }  # fmt: skip
    for kind, (low, high) in {"bass_4_34": (65, 90), **guitars}.items():
        assert low < kgf(load_on(trade.kinds[kind].spec, trade).total_n) < high, kind
