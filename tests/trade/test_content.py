"""The content that ships reads whole, and a broken file stops the start with its line."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from webapp.trade.content import Trade, load_trade
from webapp.trade.errors import ContentError
from webapp.trade.pages import Place
from webapp.trade.words import BridgeType, Check, Family

CONTENT = Path(__file__).parents[2] / "content"


@pytest.fixture(scope="module")
def trade() -> Trade:
    return load_trade(CONTENT)


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    shutil.copytree(CONTENT, tmp_path / "content")
    return tmp_path / "content"


def test_kinds_cover_the_instruments_promised(trade: Trade) -> None:
    counts = {
        (kind.family, kind.spec.string_count, round(kind.spec.scale_bass_mm)) for kind in trade.kinds.values()
    }
    for strings in (4, 5, 6):
        assert (Family.BASS, strings, 864) in counts
    assert {(Family.BASS, 4, 889), (Family.BASS, 5, 889), (Family.BASS_SHORT, 4, 762)} <= counts
    assert {(Family.ELECTRIC, 6, 648), (Family.ELECTRIC, 7, 648), (Family.ACOUSTIC, 6, 645)} <= counts
    assert (Family.CLASSICAL, 6, 650) in counts
    bridges = {(kind.spec.bridge.type, kind.spec.string_count) for kind in trade.kinds.values()}
    assert {(BridgeType.FLOATING, 6), (BridgeType.TWO_POST, 6), (BridgeType.TWO_POST, 7)} <= bridges
    paired = [kind for kind in trade.kinds.values() if all(string.partner for string in kind.spec.strings)]
    assert [(kind.family, kind.spec.string_count) for kind in paired] == [(Family.ACOUSTIC, 6)]


def test_kinds_are_in_the_order_of_their_places(trade: Trade) -> None:
    places = [kind.place for kind in trade.kinds.values()]
    assert places == sorted(places)
    assert len(set(places)) == len(places)


def test_every_kind_has_thicker_strings_on_the_bass_side(trade: Trade) -> None:
    for kind in trade.kinds.values():
        if kind.family is Family.CLASSICAL:
            continue  # a plain nylon G is thicker than the wound D beside it
        gauges = [string.gauge_mm for string in kind.spec.strings]
        assert gauges == sorted(gauges, reverse=True), kind.key


def test_every_kind_has_its_family_pickups_judged(trade: Trade) -> None:
    for kind in trade.kinds.values():
        ranges = trade.ranges.families[kind.family]
        assert all(pickup.type in ranges.pickups for pickup in kind.spec.pickups), kind.key


def test_lengths_written_in_inches_arrive_in_millimetres(trade: Trade) -> None:
    spec = trade.kinds["bass_4_34"].spec
    assert spec.string(1).gauge_mm == pytest.approx(1.143)
    assert spec.radius_nut_mm == pytest.approx(241.3)
    assert trade.kinds["classical_6"].spec.radius_nut_mm is None


def test_every_check_has_a_page_and_its_cautions(trade: Trade) -> None:
    for check in Check:
        page = trade.pages[check]
        assert all(section.startswith("<p>") for section in (page.why, page.measure, page.adjust, page.stop))
        assert trade.cautions_for(trade.kinds["bass_4_34"].spec, check.value), check


def test_report_repeats_every_caution(trade: Trade) -> None:
    assert all("report" in caution.beside for caution in trade.cautions)
    used = {place for caution in trade.cautions for place in caution.beside}
    assert used == set(Place.__args__)  # type: ignore[attr-defined]


def test_page_texts_stay_short(trade: Trade) -> None:
    for page in trade.pages.values():
        for section in (page.why, page.measure, page.adjust, page.stop):
            assert len(section.split()) <= 90, page.check


def test_no_fret_is_named_that_some_neck_does_not_let_a_hand_reach(trade: Trade) -> None:
    for page in trade.pages.values():
        for section in (page.why, page.measure, page.adjust, page.stop):
            named = [int(fret) for fret in re.findall(r"\d+", section)]
            assert all(fret <= 12 for fret in named), (page.check, named)


def test_who_has_no_capo_is_told_what_does_instead() -> None:
    texts = {path: path.read_text(encoding="utf-8") for path in CONTENT.rglob("*.md")}
    asked = [(path.name, text[m.end() :][:22]) for path, text in texts.items()
             for m in re.finditer(r"\bcapo\b", text)]  # fmt: skip
    assert {name for name, _ in asked} >= {"relief.md", "height.md"}
    assert [(name, after) for name, after in asked if after != ", or a helper’s finger"] == []


def test_the_first_card_is_the_common_one(trade: Trade) -> None:
    assert [card.key for card in trade.cards] == ["business", "bank"]
    assert trade.card_thickness_mm == trade.cards[0].thickness_mm < trade.cards[1].thickness_mm


def test_html_in_a_page_is_shown_as_text(copy: Path) -> None:
    page = copy / "checks" / "nut.md"
    page.write_text(page.read_text().replace("Strings open", "<script>x</script> Strings open"))
    assert "<script>" not in load_trade(copy).pages[Check.NUT].measure


def test_every_check_with_readings_has_methods(trade: Trade) -> None:
    for check in (Check.RELIEF, Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS):
        assert trade.methods_for(check), check
    with pytest.raises(KeyError):
        trade.method(Check.RELIEF, "tuner")


def test_demo_is_invented_and_says_so(trade: Trade) -> None:
    assert "invented" in trade.demo.notice
    for instrument in trade.demo.instrument:
        assert "(invented)" in instrument.name
        assert instrument.spec_from(trade.kinds[instrument.kind].spec).name == instrument.name


def test_every_age_but_the_unknown_has_its_days(trade: Trade) -> None:
    assert set(trade.due.age_days) == {age.key for age in trade.start.ages} - {"unknown"}
    assert set(trade.due.string_days) == set(Family)


# file, what is replaced, by what, the text on the line that must be named, words of the sentence
BROKEN = [
    (
        "ranges.toml",
        "height_bass = { target = [2.0, 3.0]",
        "height_bass = { target = [2.0, 3.0",
        "height_bass",
        "TOML",
    ),
    ("ranges.toml", "target = [0.12, 0.40]", "target = [0.40, 0.12]", "[0.40, 0.12]", "above the high end"),
    ("ranges.toml", "target = [1.9, 2.8]", "target = [1.2, 2.8]", "[1.2, 2.8]", "inside the usual band"),
    ("ranges.toml", "target = [3.3, 4.2]", "target = [3.3]", "[3.3]", "two numbers"),
    ("ranges.toml", "[families.classical]", "[families.banjo]", "[families.banjo]", "banjo"),
    ("ranges.toml", "height = [0.3, 8.0]", "height = [0.3, 2.0]", None, "family bass, the usual band"),
    ("threads.toml", "pitch_mm = 0.7", "pitch_mm = -0.7", "pitch_mm = -0.7", "greater than 0"),
    ("threads.toml", "pitch_in = 0.025", 'pitch_in = "fine"', "fine", "valid number"),
    ("threads.toml", 'key = "M4"', 'key = "M3"', None, "used twice"),
    ("belief.toml", "rod_at_once = 2 ", "rod_at_once = 3 ", "rod_at_once = 3", "less than or equal to 2"),
    ("belief.toml", "rod_in_all = 8", "rod_in_all = 9", "rod_in_all = 9", "less than or equal to 8"),
    ("belief.toml", "settle_hours = 12", "settle = 12", None, "missing"),
    ("belief.toml", "play_shares = [0.5, 0.3, 0.2]", "play_shares = [0.5, 0.5]", None, "one share for each"),
    ("belief.toml", "[kappa.classical]", "[kappa.banjo]", "banjo", "banjo"),
    ("tools.toml", "sigma_mm = 0.10", "sigmer_mm = 0.10", "sigmer_mm", "misspelt"),
    ("tools.toml", 'label = "A slight click", low = 0.10, high = 0.45', 'label = "A slight click"',
     "A slight click", "low and high"),
    ("tools.toml", "thickness_mm = 0.76", "thickness_mm = 7.6", "= 7.6", "less than 2"),
    ("tools.toml", 'key = "bank"', 'key = "business"', None, "used twice"),
    ("tools.toml", 'tool = "tuner"', 'tool = "tunr"', '"tunr"', "no tool"),
    ("cautions.toml", 'beside = ["nut", "report"]', 'beside = ["nuts", "report"]', '"nuts"', "should be"),
    ("cautions.toml", 'needs = ["posts"]', 'needs = ["pegs"]', '"pegs"', "should be"),
    ("start.toml", 'says = "Stop here. Leave', 'sais = "Stop here. Leave', None, "missing"),
    ("playtest.toml", 'check = "intonation"', 'check = "tuning"', '"tuning"', "should be"),
    ("ear.toml", 'way = "raise"', 'way = "up"', '"up"', "should be"),
    ("kinds/bass_4_34.toml", 'note = "A1"', 'note = "H1"', '"H1"', "letter A to G"),
    (
        "kinds/bass_4_34.toml",
        "gauge_in = 0.065",
        "gauge_in = 0.65",
        "gauge_in = 0.65",
        "less than or equal to 5",
    ),
    ("kinds/bass_4_34.toml", "joint_fret = 16", "joint_fret = 21", None, "there are 20 frets"),
    ("kinds/bass_4_34.toml", 'height_thread = "M3"', 'height_thread = "M7"', None, "no thread"),
    ("kinds/bass_4_34.toml", "fret_count = 20\n", "", None, '"fret_count" is missing'),
    ("kinds/bass_4_34.toml", 'adjust = "body"', 'adjust = "glue"', '"glue"', "should be"),
    ("kinds/acoustic_12.toml", '{ note = "E3", gauge_in = 0.027', '{ note = "E3", gauge_in = 0.057', '"E2"',
     "no thicker than the first"),
    ("kinds/electric_6_floating.toml", 'intonation_heads = "behind"', 'intonation_heads = "under"', '"under"',
     "should be"),
    ("stretch.toml", '"acoustic"]', '"banjo"]', "banjo", "should be"),
    ("demo.toml", 'kind = "electric_6"', 'kind = "electric_9"', "electric_9", "no kind"),
    ("demo.toml", "lag_days = 18", "lag_days = -18", "lag_days = -18", "greater than 0"),
    ("demo.toml", 'height_method = "gauge"', 'height_method = "fork"', '"fork"', "No method"),
    ("demo.toml", "[725, 560,", "[725, 760,", None, "oldest to the newest"),
    ("demo.toml", "driest_percent = 34", "driest_percent = 64", None, "drier than the wettest"),
    ("due.toml", "review_days = 90", "review_days = 0", "review_days = 0", "greater than 0"),
    ("due.toml", "bass_short = 365", "banjo = 365", "banjo", "banjo"),
    ("due.toml", "acoustic = 100\n", "", None, "family acoustic"),
    ("due.toml", "months = 90", "moons = 90", "moons", "no age"),
    ("practice.toml", "raise_for_buzz_mm = 0.2", "raise_for_buzz_mm = 20", "= 20", "less than or equal to 3"),
    ("practice.toml", "left_over_cents = 3.0", "left_over_cents = -3.0", "= -3.0", "greater than 0"),
    ("practice.toml", "strings_days = 45 ", "strings_days = -45 ", "= -45", "greater than 0"),
    ("practice.toml", "step_days = 3", "steps_days = 3", "[time]", "missing"),
    ("practice.toml", "height = 0.04 }", "hight = 0.04 }", "day_scatter_mm", "missing"),
    ("practice.toml", "humidity_percent = 65.0", "humidity_percent = 165.0", "= 165.0", "less than 100"),
    ("swing.toml", "close_times = 1.25", "close_times = 0.8", "= 0.8", "greater than 1"),
    ("buzz.toml", "sound_cents = 4.0", "sound_cents = 9.0", None, "tired_cents must be above"),
    ("demo.toml", '{ touch = "light" }', '{ touch = "rough" }', '"rough"', "should be"),
    ("checks/relief.md", "## Adjust", "## Turn", "## Turn", "not one of"),
    ("checks/relief.md", "## Why", "## Why\n\n## Why", None, "twice"),
    ("checks/relief.md", "# Relief", "Relief", "Relief", "before the first section"),
]  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new", "on_line", "says"), BROKEN)
def test_a_broken_file_is_named_with_its_line(
    copy: Path, file: str, old: str, new: str, on_line: str | None, says: str
) -> None:
    path = copy / file
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    with pytest.raises(ContentError) as caught:
        load_trade(copy)
    error = caught.value
    assert error.path == path
    assert says in error.sentence
    assert f"{file}, line {error.line}: " in str(error).replace("\\", "/")
    lines = path.read_text().splitlines()
    assert 1 <= error.line <= len(lines)
    if on_line is not None:
        assert on_line in lines[error.line - 1]


@pytest.mark.parametrize(
    ("file", "says"),
    [("belief.toml", "no such file"), ("checks/nut.md", "no such file"), ("kinds", "no kind")],
)
def test_a_missing_file_is_said_plainly(copy: Path, file: str, says: str) -> None:
    target = copy / file
    if target.is_dir():
        shutil.rmtree(target)
    else:
        target.unlink()
    with pytest.raises(ContentError) as caught:
        load_trade(copy)
    assert caught.value.path == target
    assert says in caught.value.sentence


def test_a_file_that_is_not_utf8_names_the_line(copy: Path) -> None:
    path = copy / "belief.toml"
    path.write_bytes(path.read_bytes().replace(b"settle_hours = 12", b"settle_hours = 12 # \xb1"))
    with pytest.raises(ContentError) as caught:
        load_trade(copy)
    assert "settle_hours" in path.read_bytes().decode("latin-1").splitlines()[caught.value.line - 1]
