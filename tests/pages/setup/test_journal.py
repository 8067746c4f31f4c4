"""The journal: what was recorded stays, and what was wrong is struck through, never gone."""

from __future__ import annotations

import re

import pytest

from tests.pages.conftest import Form, Player, plain
from tests.pages.walk import Walk


@pytest.fixture
def setup(player: Player) -> str:
    """A setup with one reading of relief, 0.72 mm typed for 0.27."""

    def mistyped() -> str:
        begun = player.begun("bass_4_34")
        player.fill(f"{begun}/read/relief", value="0.72")
        return begun

    return player.once("bass_4_34 mistyped", mistyped)


def struck(html: str) -> list[str]:
    return [plain(words).strip() for words in re.findall(r"<del>(.*?)</del>", html, re.DOTALL)]


def correct_path(player: Player, setup: str) -> str:
    (path,) = re.findall(r'href="([^"]+\?corrects=\d+)"', player.get(f"{setup}/journal").text)
    return str(path)


def test_a_corrected_reading_stays_struck_through(player: Player, setup: str) -> None:
    path = correct_path(player, setup)
    page = player.get(path).text
    assert "The old one stays in the journal, struck through" in plain(page)
    form = Form(page, f"{setup}/read/relief").fields
    assert form["value"] == "0.72"
    player.post(f"{setup}/read/relief", {**form, "value": "0.27"})
    journal = player.get(f"{setup}/journal").text
    (old,) = struck(journal)
    assert "0.72 mm" in old and "0.27 mm" in plain(journal) and "struck through" in plain(journal)
    words = plain(player.get(f"{setup}/check/relief").text)
    assert "0.27 mm" in words and "good" in words and "0.72 mm" not in words


def test_a_correction_keeps_how_the_reading_was_taken(player: Player, setup: str) -> None:
    player.fill(f"{setup}/read/height.4", value="94", value_unit="thou", way="0-12", tool="gauge")
    player.fill(f"{setup}/read/height.1", value="2.2", value_unit="mm", way="1-12", tool="ruler")
    paths = re.findall(r'href="([^"]+\?corrects=\d+)"', player.get(f"{setup}/journal").text)
    (path,) = [path for path in paths if "height.4" in path]
    form = Form(player.get(path).text, f"{setup}/read/height.4").fields
    assert {name: form[name] for name in ("value", "value_unit", "way", "tool")} == {
        "value": "94", "value_unit": "thou", "way": "0-12", "tool": "gauge",
    }  # fmt: skip


def test_the_report_counts_only_what_is_not_struck_through(player: Player, setup: str) -> None:
    page = player.get(correct_path(player, setup)).text
    player.post(f"{setup}/read/relief", {**Form(page, f"{setup}/read/relief").fields, "value": "0.27"})
    words = plain(player.get(f"{setup}/report").text)
    assert "0.27" in words and "0.72" not in words


def test_struck_out_leaves_the_place_unread(player: Player, setup: str) -> None:
    (wanted,) = re.findall(r'name="strike" value="(\d+)"', player.get(f"{setup}/journal").text)
    player.fill(f"{setup}/journal", strike=wanted)
    journal = player.get(f"{setup}/journal").text
    assert "0.72 mm" in struck(journal)[0]
    assert "strike" not in Form(journal, f"{setup}/journal").fields and "corrects=" not in journal
    assert "not measured" in plain(player.get(f"{setup}/check/relief").text)


def test_a_turn_that_is_struck_out_moves_nothing(player: Player, setup: str) -> None:
    path = f"{setup}/adjust/relief"
    player.post(path, {**player.form(path), "action": "turn"})
    assert "expected" in plain(player.get(f"{setup}/check/relief").text)
    newest = re.findall(r'name="strike" value="(\d+)"', player.get(f"{setup}/journal").text)[0]
    player.fill(f"{setup}/journal", strike=newest)
    words = plain(player.get(f"{setup}/check/relief").text)
    assert "expected" not in words and "too much bow" in words


def test_several_readings_of_one_form_are_corrected_one_by_one(player: Player, setup: str) -> None:
    player.fill(f"{setup}/read/height", height_4="2.5", height_3="2.4", height_2="2.2", height_1="2.1")
    paths = re.findall(r'href="([^"]+\?corrects=\d+)"', player.get(f"{setup}/journal").text)
    (path,) = [path for path in paths if "height.3" in path]
    form = Form(player.get(path).text, f"{setup}/read/height.3").fields
    assert form["value"] == "2.4"
    player.post(f"{setup}/read/height.3", {**form, "value": "2.3"})
    journal = player.get(f"{setup}/journal").text
    assert len(struck(journal)) == 1 and "2.40 mm" in struck(journal)[0]
    words = plain(player.get(f"{setup}/check/height").text)
    assert all(value in words for value in ("2.50 mm", "2.30 mm", "2.20 mm", "2.10 mm"))
    assert "2.40 mm" not in words


def test_a_corrected_card_reading_keeps_its_card(player: Player, setup: str) -> None:
    path = f"{setup}/read/relief"
    player.post(
        path, {**player.form(f"{path}?tool=card", path), "answer": "one", "card": "0.4", "card_unit": "mm"}
    )
    assert "0.40 to 0.80 mm" in plain(player.get(f"{setup}/journal").text)
    newest = re.findall(r'href="([^"]+\?corrects=\d+)"', player.get(f"{setup}/journal").text)[0]
    form = Form(player.get(newest).text, path).fields
    assert (form["tool"], form["answer"], form["card"]) == ("card", "one", "0.4")
    player.post(path, {**form, "answer": "none"})
    assert "less than 0.40 mm" in plain(player.get(f"{setup}/journal").text)


def test_striking_the_same_entry_twice_is_told(player: Player, setup: str) -> None:
    (wanted,) = re.findall(r'name="strike" value="(\d+)"', player.get(f"{setup}/journal").text)
    form = player.form(f"{setup}/journal")
    player.post(f"{setup}/journal", {**form, "strike": wanted})
    answer = player.post(f"{setup}/journal", {**form, "strike": wanted}, 409)
    assert "struck through already" in plain(answer.text)
    for odd in ("", "x", "99999", "9" * 50):
        player.fill(f"{setup}/journal", 409, strike=odd)


def test_correcting_what_was_struck_out_meanwhile_is_told_and_loses_nothing(
    player: Player, setup: str
) -> None:
    sent = {
        **Form(player.get(correct_path(player, setup)).text, f"{setup}/read/relief").fields,
        "value": "0.27",
    }
    (wanted,) = re.findall(r'name="strike" value="(\d+)"', player.get(f"{setup}/journal").text)
    player.fill(f"{setup}/journal", strike=wanted)
    answer = player.post(f"{setup}/read/relief", dict(sent), 422)
    assert "struck through meanwhile" in plain(answer.text)
    again = Form(answer.text, f"{setup}/read/relief").fields
    assert again["value"] == "0.27"
    player.post(f"{setup}/read/relief", dict(again))
    assert "0.27 mm" in plain(player.get(f"{setup}/check/relief").text)


def test_a_finished_setup_offers_no_striking_and_refuses_it(player: Player, setup: str) -> None:
    form = player.form(f"{setup}/journal")
    (wanted,) = re.findall(r'name="strike" value="(\d+)"', player.get(f"{setup}/journal").text)
    player.fill(f"{setup}/finish")
    journal = player.get(f"{setup}/journal").text
    assert "0.72 mm" in plain(journal) and "strike" not in Form(journal, f"{setup}/journal").fields
    answer = player.post(f"{setup}/journal", {**form, "strike": wanted}, 409)
    assert "This setup is finished" in plain(answer.text)


CHECKS = ("relief", "height", "nut", "intonation", "pickups")


@pytest.fixture
def walk(player: Player) -> Walk:
    """A setup with everything read and in order."""

    def all_read() -> str:
        return Walk(player, player.begun("bass_4_34")).until("ask/playtest").setup

    return Walk(player, player.once("bass_4_34 all read", all_read))


def moved(walk: Walk) -> list[str]:
    """The checks of which something is only expected since, in order."""
    pages = {check: walk.player.get(f"{walk.setup}/check/{check}").text for check in CHECKS}
    # The ruler of checks at the top tells of all of them.
    words = {check: plain(page.partition("</nav>")[2]) for check, page in pages.items()}
    return [check for check in CHECKS if "expected" in words[check]]


@pytest.mark.parametrize(
    ("part", "checks"),
    [
        ("rod", ["relief", "height", "intonation", "pickups"]),
        ("saddle_height:2", ["height", "intonation", "pickups"]),
        ("saddle_position:1", ["intonation"]),
        ("pickup_height:2:treble", ["pickups"]),
        ("nut:3", ["height", "nut", "intonation"]),
        ("strings", list(CHECKS)),
    ],
)
def test_what_a_turn_moves_is_only_expected_until_it_is_read(
    walk: Walk, part: str, checks: list[str]
) -> None:
    assert moved(walk) == []
    walk.player.fill(f"{walk.setup}/log", part=part, way="plus", amount="2")
    assert moved(walk) == checks


@pytest.mark.parametrize("part", ["saddle_height:1", "rod"])
def test_what_is_no_longer_sure_is_asked_for_again(walk: Walk, part: str) -> None:
    walk.player.fill(f"{walk.setup}/log", part=part, way="minus", amount="24")
    assert walk.here().startswith("read/")


def test_only_the_string_that_was_moved_is_asked_again(walk: Walk) -> None:
    walk.player.fill(f"{walk.setup}/log", part="saddle_height:2", way="minus", amount="8")
    page = walk.player.get(f"{walk.setup}/check/height").text
    rows = [plain(row) for row in re.findall(r"<li>(.*?)</li>", page, re.DOTALL)]
    marked = [row for row in rows if "expected" in row]
    assert len(marked) == 1 and "D string" in marked[0]


def test_a_turn_is_told_in_the_journal_in_words(walk: Walk) -> None:
    walk.player.fill(f"{walk.setup}/log", part="rod", way="minus", amount="1")
    words = plain(walk.player.get(f"{walk.setup}/journal").text)
    assert "Truss rod" in words and "an eighth of a turn" in words


def test_a_note_stands_in_the_journal_and_the_report_as_it_was_written(walk: Walk) -> None:
    note = "Zwölf <b>Saiten</b> & a cracked nut"
    walk.player.fill(f"{walk.setup}/log", note=note)
    assert moved(walk) == []
    for page in ("journal", "report"):
        assert (
            "Zwölf &lt;b&gt;Saiten&lt;/b&gt; &amp; a cracked nut"
            in walk.player.get(f"{walk.setup}/{page}").text
        )


def test_a_turn_and_a_note_are_recorded_together_or_not_at_all(walk: Walk) -> None:
    sent = {**walk.player.form(f"{walk.setup}/log"), "part": "rod", "note": "it creaked"}
    walk.player.post(f"{walk.setup}/log", dict(sent), 422)
    assert "it creaked" not in walk.player.get(f"{walk.setup}/journal").text
    walk.player.post(f"{walk.setup}/log", {**sent, "way": "plus"})
    words = plain(walk.player.get(f"{walk.setup}/journal").text)
    assert "it creaked" in words and "Truss rod" in words


def test_only_what_is_on_the_instrument_can_be_logged(player: Player) -> None:
    setup = player.begin(player.make("classical_6"))
    page = player.get(f"{setup}/log").text
    assert 'value="rod"' not in page and 'value="saddle_height:' not in page and 'value="pickup' not in page
    player.fill(f"{setup}/log", 422, part="rod", way="plus")


def test_what_a_repairer_did_to_a_saddle_without_screws_can_be_logged(player: Player) -> None:
    walk = Walk(player, player.begin(player.make("classical_6"))).until("ask/playtest")
    walk.player.fill(f"{walk.setup}/log", part="saddle_height")
    assert "Saddle height" in plain(walk.player.get(f"{walk.setup}/journal").text)
    assert walk.here().startswith("read/height")


def test_the_springs_of_a_floating_bridge_can_be_logged(player: Player) -> None:
    setup = player.begin(player.make("electric_6_floating"))
    player.fill(f"{setup}/log", part="springs", way="plus", amount="2")
    words = plain(player.get(f"{setup}/journal").text)
    assert "Springs" in words and "Tightened a quarter turn" in words
