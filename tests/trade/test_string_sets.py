"""strings.toml reads whole; what it names is there; a mistake in it is shown by its line."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from webapp.trade.content import Trade, load_trade
from webapp.trade.errors import ContentError
from webapp.trade.words import Family

CONTENT = Path(__file__).parents[2] / "content"


@pytest.fixture(scope="module")
def trade() -> Trade:
    return load_trade(CONTENT)


def test_every_kind_has_sets_and_the_usual_tuning(trade: Trade) -> None:
    for kind in trade.kinds.values():
        count = kind.spec.string_count
        sets = trade.string_sets.values()
        assert sum(one.suits(kind.family, kind.spec.strings) for one in sets) >= 2, kind.key
        suiting = [t for t in trade.string_stock.tunings.values() if t.suits(kind.family, count)]
        assert any(not any(tuning.semitones(count)) for tuning in suiting), kind.key


def test_every_set_has_thicker_strings_on_the_bass_side(trade: Trade) -> None:
    for one in trade.string_sets.values():
        wound = [s.gauge_mm for s in one.strings if s.wound]
        plain = [s.gauge_mm for s in one.strings if not s.wound]
        assert wound == sorted(wound, reverse=True) and plain == sorted(plain, reverse=True), one.key
        assert [s.wound for s in one.strings] == [True] * len(wound) + [False] * len(plain), one.key


def test_pairs_are_strung_with_sets_of_pairs_and_nothing_else_is(trade: Trade) -> None:
    pairs, single = trade.kinds["acoustic_12"].spec.strings, trade.kinds["acoustic_6"].spec.strings
    suiting = {key for key, one in trade.string_sets.items() if one.suits(Family.ACOUSTIC, pairs)}
    assert len(suiting) >= 2
    assert not any(trade.string_sets[key].suits(Family.ACOUSTIC, single) for key in suiting)
    assert all(string.partner for key in suiting for string in trade.string_sets[key].strings)
    assert not any(one.suits(Family.ELECTRIC, pairs) for one in trade.string_sets.values())


def test_a_core_is_said_once_and_is_what_a_plain_string_is_all_of(trade: Trade) -> None:
    stock = trade.string_stock
    for family in trade.stretch.families:
        assert stock.material(family, False).core_of(0.43) == 0.43
        assert 0.1 < stock.material(family, True).core_of(1.0) < 0.5
    # The floss of a thin nylon string cannot be thicker than the string.
    assert stock.material(Family.CLASSICAL, True).core_of(0.3) < 0.3
    assert Family.CLASSICAL not in trade.stretch.families


def test_a_heavier_gauge_of_a_material_weighs_more(trade: Trade) -> None:
    for weights in trade.string_stock.published:
        printed = weights.inches_and_pounds_per_inch
        assert list(printed) == sorted(printed)
        pounds = [weight for _, weight in printed]
        assert pounds == sorted(pounds), weights.material


def test_a_gauge_said_in_hundredths_of_a_mm_is_found(trade: Trade) -> None:
    found = trade.string_stock.published_weight("bass_nickel", 1.14)
    assert found is not None and found[0] == pytest.approx(0.00037240)
    assert "Technical Reference" in found[1]
    assert trade.string_stock.published_weight("bass_nickel", 1.16) is None
    assert trade.string_stock.published_weight("nickel", 1.14) is None


def test_tunings_say_every_string(trade: Trade) -> None:
    tunings = trade.string_stock.tunings
    assert tunings["tone_down"].semitones(4) == (-2, -2, -2, -2)
    assert tunings["lowest_down"].semitones(5) == (-2, 0, 0, 0, 0)
    assert tunings["both_down"].semitones(4) == (-4, -2, -2, -2)
    assert tunings["open_d"].semitones(6) == (-2, 0, 0, -1, -2, -2)
    assert not tunings["open_d"].suits(Family.ELECTRIC, 7)
    assert not tunings["dadgad"].suits(Family.BASS, 6)


# what is replaced, by what, the text on the line that must be named (None: any line), words of the sentence
BROKEN = [
    ('key = "bass_4_medium"', 'key = "bass_4_light"', 'key = "bass_4_light"', "used twice"),
    ('wound = "bass_nickel" }', 'wound = "brass" }', "brass", "no wound material"),
    ('bass = { plain = "steel_plain"', 'bass = { plain = "nylon_wound"', "bass = {", "no plain material"),
    ('material = "bass_nickel"', 'material = "tin"', 'material = "tin"', 'no material "tin"'),
    ('source = "maker_reference"', 'source = "hearsay"', 'source = "hearsay"', 'no source "hearsay"'),
    ('classical = { plain = "nylon_plain", wound = "nylon_wound" }', "", None, '"classical" is missing'),
    ("core_share = 0.22", "core_share = 1.22", "core_share = 1.22", "less than 1"),
    ("gauge_in = 0.027", "gauge_in = 2.7", "gauge_in = 2.7", "less than or equal to 5"),
    ("core_mm = 0.43 ", "core_share = 0.5\ncore_mm = 0.43 ", None, "one of core_share and core_mm"),
    ("spread_percent = 2", "spread_percent = 2\npacking = 0.8", None, "a plain string has core_kg_m3 only"),
    ("gauge_in = 0.100", "gauge_in = 10.0", "gauge_in = 10.0", "less than or equal to 5"),
    ("[0.045, 0.00037240]", "[0.045, -1]", None, "greater than 0"),
    ("all = -1\n", "all = -1\nsteps = [1, 1, 1, 1]\n", None, "not both"),
    ("all = -1\n", "all = -40\n", "all = -40", "greater than or equal to -12"),
]


@pytest.mark.parametrize(("old", "new", "line_text", "words"), BROKEN)
def test_a_mistake_is_shown_by_its_line(
    tmp_path: Path, old: str, new: str, line_text: str | None, words: str
) -> None:
    shutil.copytree(CONTENT, tmp_path / "content")
    path = tmp_path / "content" / "strings.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ContentError) as caught:
        load_trade(tmp_path / "content")
    assert caught.value.path == path
    assert words in caught.value.sentence
    if line_text is not None:
        lines = path.read_text(encoding="utf-8").splitlines()
        assert line_text in lines[caught.value.line - 1]
