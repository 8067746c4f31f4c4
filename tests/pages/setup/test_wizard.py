"""The way through a setup, page by page: the order of the bench, advice, measuring again, the end."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from tests.keyed import keyed
from tests.pages.conftest import Form, Player, plain
from tests.pages.walk import Walk, heading, on_target
from webapp.app import create_app
from webapp.trade.content import Trade
from webapp.web.settings import Settings

TOUCHED_TWICE = {
    "relief": ("0.7", "0.4"),
    "height.4": ("3.8", "2.6"),
    "intonation.3.12": ("9", "1"),
    "intonation.3.high": ("18", "2"),
}


@pytest.fixture
def bass(player: Player) -> Walk:
    """A new setup of a four-string bass."""
    return Walk(player, player.begun("bass_4_34"))


@pytest.fixture
def another_device(engine: Engine, trade: Trade, tmp_path: Path) -> Iterator[Player]:
    """The same bench, seen from a browser that has never been here."""
    app = create_app(Settings(data_dir=tmp_path), trade, engine)
    with keyed(app) as client:
        yield Player(client)


def words_of(walk: Walk, place: str) -> str:
    return plain(walk.player.get(f"{walk.setup}/{place}").text)


def recorded(walk: Walk, title: str) -> int:
    """How many entries of the journal begin so."""
    return walk.player.get(f"{walk.setup}/journal").text.count(f"<b>{title}")


def test_every_check_comes_in_the_order_of_the_bench_and_is_read_in_one_go(bass: Walk) -> None:
    bass.to_the_end()
    assert bass.places == [
        "ask/start", "read/relief", "read/height", "ask/buzz", "read/nut", "read/intonation", "read/pickups",
        "ask/ear", "ask/playtest", "finish",
    ]  # fmt: skip
    assert bass.read == [
        "relief",
        "height.4", "height.3", "height.2", "height.1",
        "nut.4", "nut.3", "nut.2", "nut.1",
        *(f"intonation.{n}.{place}" for n in (4, 3, 2, 1) for place in ("12", "high")),
        "pickups.1.bass", "pickups.1.treble", "pickups.2.bass", "pickups.2.treble",
    ]  # fmt: skip
    assert bass.here() == "report"


def test_what_is_out_of_range_is_turned_and_measured_again(bass: Walk) -> None:
    bass.typed = TOUCHED_TWICE
    bass.to_the_end()
    assert bass.turned == ["relief", "height.4", "intonation.3.12"]
    assert bass.read.count("relief") == bass.read.count("height.4") == 2
    journal = words_of(bass, "journal")
    for words in ("0.70 mm", "0.40 mm", "3.80 mm", "2.60 mm", "+9 cents", "Tightened a quarter turn"):
        assert words in journal
    assert re.search(r"Saddle height, E string\s+Lowered", journal)
    assert re.search(r"Saddle position, A string\s+Moved back", journal)


def test_the_advice_says_what_which_way_and_how_far(bass: Walk) -> None:
    bass.typed = {"relief": ("0.7",)}
    bass.until("adjust/relief")
    words = words_of(bass, "adjust/relief")
    assert "0.70 mm" in words and "too much bow" in words and "Too much bow" in words
    assert "Tighten a quarter turn: clockwise" in words
    assert "Never force the rod" in words
    assert re.search(r"expected about 0\.\d\d mm, give or take 0\.\d\d", words)
    assert "Retune to pitch, then measure again" in words and "rests on an ordinary neck" in words
    assert "Target 0.15 to 0.45 mm" in words


def test_the_next_reading_says_what_is_expected_of_it_and_on_what_that_rests(bass: Walk) -> None:
    bass.typed = {"relief": ("0.7",)}
    told = words_of(bass.until("adjust/relief"), "adjust/relief")
    bass.step()
    words = words_of(bass, "read/relief")
    about = r"expected about (0\.\d\d) mm, give or take 0\.\d\d"
    before, after = (float(re.search(about, page)[1]) for page in (told, words))  # type: ignore[index]
    # One number: what the page that said how far to turn foretold is what the next reading is held against.
    assert after == pytest.approx(before, abs=0.011)
    assert "rests on an ordinary neck" in words
    assert "expected" in words_of(bass, "check/relief")


def test_a_rod_that_was_turned_is_read_again_when_it_has_settled(bass: Walk) -> None:
    bass.typed = {"relief": ("0.7", "0.4")}
    bass.until("read/height")
    assert "The rod is settling. Read the relief again after" in plain(bass.player.get(bass.setup).text)
    assert "still settling" in words_of(bass, "check/relief")
    bass.until("finish")
    words = words_of(bass, "finish")
    assert "read the relief once more; the rod has settled by then" in words and "Plays well" not in words


def test_the_verdict_on_a_reading_heads_the_next_page(bass: Walk) -> None:
    bass.until("read/relief")
    answer = bass.player.post(f"{bass.setup}/read/relief", bass.fields("read/relief"))
    page = bass.player.get(answer.headers["location"])
    assert "Relief: 0.30 mm good" in plain(page.text) and heading(page.text).endswith(
        "the underside of each string."
    )


def test_the_verdicts_on_several_readings_head_the_next_page_together(bass: Walk) -> None:
    bass.until("read/height")
    answer = bass.player.post(f"{bass.setup}/read/height", bass.fields("read/height"))
    page = bass.player.get(answer.headers["location"])
    assert page.url.path.endswith("/ask/buzz")
    assert re.search(r"String height:\s+good", plain(page.text))


def test_the_page_of_a_reading_shows_what_was_saved(bass: Walk) -> None:
    bass.until("read/height")
    assert "Read: 0.30 mm good" in words_of(bass, "read/relief")


def test_kept_as_it_is(bass: Walk) -> None:
    bass.typed = {"relief": ("0.75",)}
    bass.until("adjust/relief")
    bass.player.post(f"{bass.setup}/adjust/relief", {**bass.fields("adjust/relief"), "action": "keep"})
    assert bass.here() == "read/height"
    words = words_of(bass, "check/relief")
    assert "kept" in words and "too much bow" in words


# Several turned in one go


HIGH = {f"height.{n}": (value, "2.4") for n, value in ((4, "4"), (3, "3.5"), (2, "3.5"), (1, "3"))}


def test_all_strings_are_turned_on_one_page_and_recorded_at_once(bass: Walk) -> None:
    bass.typed = HIGH
    bass.until("adjust/height")
    page = bass.player.get(f"{bass.setup}/adjust/height").text
    words = plain(page)
    for name in "EADG":
        assert f"Lower the saddle of the {name} string" in words
    # What all have in common is said once.
    assert words.count("Turn both its screws alike") == 1
    said = {n: v for n, v in Form(page, f"{bass.setup}/adjust/height").fields.items() if n.startswith("said")}
    assert sorted(said) == [f"said_height_{n}" for n in (1, 2, 3, 4)]
    bass.step()
    journal = words_of(bass, "journal")
    for number, name in ((4, "E"), (3, "A"), (2, "D"), (1, "G")):
        assert int(said[f"said_height_{number}"]) < 0
        assert re.search(rf"Saddle height, {name} string\s+Lowered", journal)


def test_one_that_was_turned_otherwise_is_recorded_so_with_the_rest(bass: Walk) -> None:
    bass.typed = HIGH
    path = f"{bass.until('adjust/height').setup}/adjust/height"
    sent = {**bass.fields("adjust/height"), "way_height_3": "minus", "amount_height_3": "3"}
    bass.player.post(path, sent)
    journal = words_of(bass, "journal")
    assert re.search(r"Saddle height, A string\s+Lowered ⅜ of a turn", journal)
    assert recorded(bass, "Saddle height,") == 4


def test_one_that_was_not_turned_at_all_comes_again(bass: Walk) -> None:
    bass.typed = HIGH
    path = f"{bass.until('adjust/height').setup}/adjust/height"
    bass.player.post(path, {**bass.fields("adjust/height"), "amount_height_2": "0"})
    assert recorded(bass, "Saddle height,") == 3
    assert "D string" in words_of(bass, "adjust/height")


def test_a_button_beside_one_string_records_that_one_and_comes_back_to_the_rest(bass: Walk) -> None:
    bass.typed = HIGH
    path = f"{bass.until('adjust/height').setup}/adjust/height"
    sent = {**bass.fields("adjust/height"), "amount_height_4": "5", "action": "no_room:height.4"}
    answer = bass.player.post(path, sent)
    assert answer.headers["location"] == path
    journal = words_of(bass, "journal")
    assert re.search(r"Saddle height, E string\s+Lowered ⅝ of a turn", journal)
    assert "No room left" in journal
    words = words_of(bass, "adjust/height")
    assert "Lower the saddle of the A string" in words and "Lower the saddle of the E string" not in words
    sent = {**Form(bass.player.get(path).text, path).fields, "action": "keep:height.1"}
    assert bass.player.post(path, sent).headers["location"] == path
    bass.player.post(path, {**bass.fields("adjust/height")})
    assert recorded(bass, "Saddle height,") == 3
    assert "kept" in words_of(bass, "check/height")


def test_no_second_amount_stands_on_a_page_that_says_how_far(bass: Walk) -> None:
    """Each place says one amount; what else could be chosen is folded away and chosen by nobody."""
    bass.typed = HIGH
    bass.until("adjust/height")
    page = bass.player.get(f"{bass.setup}/adjust/height").text
    for place in re.findall(r"<li>\s*<input.*?</li>", page, re.DOTALL):
        told = re.sub(r"<(details|figure).*?</\1>", "", place, flags=re.DOTALL)
        assert len(re.findall(r"turns?\b(?! so)", plain(told))) == 1, plain(told)
    assert re.findall(r'<option value="\d+" selected', page.split("<details")[1]) == []


# A rod


def test_a_rod_is_told_of_in_one_or_two_eighths(bass: Walk) -> None:
    bass.typed = {"relief": ("1.0",)}
    page = bass.until("adjust/relief").player.get(f"{bass.setup}/adjust/relief").text
    select = re.search(r'<select id="field-amount".*?</select>', page, re.DOTALL)
    assert select and re.findall(r'value="(\d*)"', select[0]) == ["", "0", "1", "2"]
    path = f"{bass.setup}/adjust/relief"
    form = Form(page, path).fields
    bass.player.post(path, {**form, "amount": "3", "action": "turn"}, 422)
    bass.player.post(path, {**form, "said": "8", "action": "turn"}, 422)
    assert "Tightened" not in words_of(bass, "journal")


@pytest.mark.parametrize(
    ("outcome", "button", "words"),
    [("will_not_move", "It will not move", "will not move"), ("creaks", "It creaks", "creak")],
)
def test_what_a_rod_does_instead_is_a_button(bass: Walk, outcome: str, button: str, words: str) -> None:
    bass.typed = {"relief": ("1.0",)}
    path = f"{bass.until('adjust/relief').setup}/adjust/relief"
    page = bass.player.get(path).text
    assert f'value="{outcome}">{button}' in page
    for _ in range(2 if outcome == "creaks" else 1):
        bass.player.post(path, {**bass.fields("adjust/relief"), "action": outcome})
    told = words_of(bass, "adjust/relief")
    assert "For a repairer" in told and words in told and "Done as said" not in told
    bass.until("finish")
    assert not bass.turned
    finish = words_of(bass, "finish")
    assert "thing is left for a repairer" in finish and "Everything is right" not in finish


def test_a_whole_turn_of_the_rod_ends_in_a_rest_that_is_no_dead_end(bass: Walk) -> None:
    bass.typed = {"relief": ("1.5", "1.5", "1.35", "1.2", "1.05", "0.9")}
    bass.until("ask/rest")
    assert bass.turned == ["relief"] * 4
    page = bass.player.get(f"{bass.setup}/ask/rest")
    assert "Let the neck rest a night" in plain(page.text)
    assert re.search(r"Continue from\s+\d\d:\d\d", plain(page.text))
    assert re.search(r'href="/instruments/[^"]+">Finish for today', page.text)
    bass.player.post(f"{bass.setup}/ask/rest", Form(page.text, f"{bass.setup}/ask/rest").fields)
    assert bass.here() == "read/height"
    assert "kept" in words_of(bass, "check/relief")
    # Nothing waits there any more: the page leads on.
    assert bass.player.get(f"{bass.setup}/ask/rest").url.path.endswith("/read/height")


# Repairers


def test_a_saddle_without_room_goes_to_the_repairer(bass: Walk) -> None:
    bass.typed = {"intonation.4.12": ("9",), "intonation.4.high": ("18",)}
    place = "adjust/intonation.4.12"
    bass.until(place)
    assert "No room left" in bass.player.get(f"{bass.setup}/{place}").text
    bass.player.post(f"{bass.setup}/{place}", {**bass.fields(place), "action": "no_room"})
    words = words_of(bass, "check/intonation")
    assert "For a repairer" in words and "no room left" in words
    bass.until("read/pickups")


def test_what_a_repairer_did_is_recorded_and_read_again(player: Player) -> None:
    typed = {"nut.4": ("1.1", "1.1", "0.4")}
    walk = Walk(player, player.begin(player.make("bass_4_34")), typed)
    walk.until("read/intonation")
    path = f"{walk.setup}/adjust/nut.4"
    page = player.get(path).text
    assert "For a repairer" in plain(page) and "A repairer has seen to it" in page
    player.post(path, {**Form(page, path).fields, "action": "repairer"})
    assert "A repairer has seen to it" in words_of(walk, "journal")
    assert walk.until("read/nut.4").here() == "read/nut.4"
    walk.until("read/intonation")
    words = words_of(walk, "adjust/nut.4")
    assert "0.40 mm" in words and "For a repairer" not in words


def test_a_filed_saddle_lets_every_string_be_read_again(player: Player) -> None:
    high = {f"height.{n}": ("3.6", "3.6", "2.2") for n in range(1, 7)}
    walk = Walk(player, player.begin(player.make("acoustic_6")), high, on_any)
    walk.until("ask/buzz")
    path = f"{walk.setup}/adjust/height.6"
    page = player.get(path).text
    assert "off at the bass end" in plain(page)
    player.post(path, {**Form(page, path).fields, "action": "repairer"})
    assert walk.here() == "read/height"
    walk.step()
    assert walk.read[-6:] == [f"height.{n}" for n in range(6, 0, -1)]


def on_any(slot: str) -> str:
    """An acoustic in good order, but for what is typed."""
    return {"relief": "0.2", "nut": "0.4", "intonation": "0"}[slot.split(".")[0]]


# The start


def test_a_stuck_rod_ends_the_setup_before_it_begins(bass: Walk) -> None:
    sent = bass.fields("ask/start") | {"stopper": ["stuck_rod"]}
    answer = bass.player.post(f"{bass.setup}/ask/start", sent)
    assert answer.headers["location"] == f"{bass.setup}/check/start"
    assert bass.here() == "check/start"
    words = words_of(bass, "check/start")
    assert "Stop here. Leave the rod alone and ask a repairer" in words and "Finish here" in words
    assert "stopped" in plain(bass.player.get(bass.setup).text)
    assert "Leave the rod alone and ask a repairer" in words_of(bass, "finish")


def test_a_stopped_setup_goes_on_once_the_answer_is_another(bass: Walk) -> None:
    bass.player.post(f"{bass.setup}/ask/start", bass.fields("ask/start") | {"stopper": ["crack"]})
    again = bass.fields("ask/start")
    assert again.pop("stopper") == "crack"
    bass.player.post(f"{bass.setup}/ask/start", again)
    assert bass.here() == "read/relief"


def test_a_floating_bridge_is_levelled_before_its_strings_are_read(player: Player, trade: Trade) -> None:
    good = on_target(trade, "electric_6_floating")
    leans = {"height.level": ("2.4", "2.4", "-0.1")}
    walk = Walk(player, player.begin(player.make("electric_6_floating")), leans, good)
    walk.until("adjust/height.level")
    assert "height.6" not in walk.read
    words = words_of(walk, "adjust/height.level")
    assert "It leans toward the neck" in words and "Tighten both claw screws" in words
    walk.until("read/height")
    assert set(walk.turned) == {"height.level"} and walk.read[-1] == "height.level"
    assert "Springs" in words_of(walk, "journal") and "−0.10 mm" in words_of(walk, "check/height")
    # Asked for by hand meanwhile, a string is read all the same.
    assert player.get(f"{walk.setup}/read/height.3").status_code == 200


# What is heard


def test_buzz_at_many_frets_raises_the_string_and_one_fret_alone_is_noted(bass: Walk) -> None:
    bass.until("ask/buzz")
    path = f"{bass.setup}/ask/buzz"
    marked = ["4:3", "4:5", "4:7", "1:9"]
    answer = bass.player.post(path, {**bass.player.form(path), "touch": "firm", "buzz": marked})
    assert answer.headers["location"] == f"{bass.setup}/check/height"
    words = words_of(bass, "check/height")
    assert "E string: buzzes at several frets" in words
    assert "G string: buzzes only when fretted at 9" in words
    assert bass.here() == "adjust/height.4"
    words = words_of(bass, "adjust/height.4")
    assert "It buzzes at frets 3, 5, 7" in words and "Raise the saddle of the E string" in words


def test_the_board_is_plucked_afresh_once_something_was_raised(bass: Walk) -> None:
    path = f"{bass.until('ask/buzz').setup}/ask/buzz"
    bass.player.post(path, {**bass.player.form(path), "buzz": ["4:3", "4:5"]})
    assert 'value="4:5" checked' in bass.player.get(path).text
    assert bass.step() == "adjust/height.4"
    bass.until("ask/buzz")
    assert 'value="4:5" checked' not in bass.player.get(path).text


def test_a_buzz_that_no_height_cures_is_asked_about_and_is_not_called_good(bass: Walk) -> None:
    path = f"{bass.until('ask/buzz').setup}/ask/buzz"
    for _ in range(4):
        bass.player.post(path, {**bass.player.form(path), "buzz": ["4:3", "4:5", "4:7"]})
        if bass.here() == "ask/cause":
            break
        bass.until("ask/buzz")
    page = bass.player.get(f"{bass.setup}/ask/cause").text
    assert page.count("<legend>") == 3 and "with a finger on a tuning peg" in plain(page)
    answer = bass.player.post(f"{bass.setup}/ask/cause", bass.fields("ask/cause"))
    found = bass.player.get(answer.headers["location"])
    assert found.url.path.endswith("/check/height") and f'href="{bass.setup}/causes"' in found.text
    assert recorded(bass, "Why it buzzes") == 3
    assert bass.here() == "read/nut"
    bass.until("finish")
    words = words_of(bass, "finish")
    assert (
        re.search(r"Repairer:\s+E string: still buzzes at frets 3, 5, 7", words) and "Plays well" not in words
    )
    assert "Relief: good." in words and "Nut: good." in words


def test_what_is_heard_leads_to_what_to_do(bass: Walk) -> None:
    bass.until("ask/ear")
    path = f"{bass.setup}/ask/ear"
    answer = bass.player.post(path, {**bass.player.form(path), "heard": ["beating"]})
    assert bass.player.form(path)["heard"] == "beating"
    assert answer.headers["location"] == f"{bass.setup}/check/pickups"
    assert "The magnet pulls on the string" in words_of(bass, "check/pickups")


def test_a_symptom_at_the_play_test_leads_back_to_its_check(bass: Walk) -> None:
    bass.until("ask/playtest")
    path = f"{bass.setup}/ask/playtest"
    sent: dict[str, object] = {**bass.player.form(path), "symptom": ["low_frets"], "sign": "no"}
    answer = bass.player.post(path, sent)
    page = bass.player.get(answer.headers["location"])
    assert page.url.path == f"{bass.setup}/check/playtest"
    assert f'href="{bass.setup}/check/relief"' in page.text


# The end


def test_the_end_says_that_all_is_well_only_where_it_is(bass: Walk) -> None:
    bass.until("finish")
    words = words_of(bass, "finish")
    assert "Plays well. Everything is right." in words and "What is left" not in words


def test_signed_off_with_a_fault_ticked_is_not_good(bass: Walk) -> None:
    bass.until("ask/playtest")
    path = f"{bass.setup}/ask/playtest"
    bass.player.post(path, {**bass.player.form(path), "symptom": ["low_frets"], "sign": "yes"})
    assert bass.here() == "finish"
    words = words_of(bass, "finish")
    assert "Plays well" not in words and "What is left, and for whom" in words and "Play test:" in words
    assert "not all is right" in plain(bass.player.get(bass.setup).text)


def test_the_end_says_what_is_not_done_and_whose_it_is(bass: Walk) -> None:
    bass.typed = {"height.4": ("4",)}
    bass.until("adjust/height.4")
    words = words_of(bass, "finish")
    assert "Not everything is done" in words and "Plays well" not in words
    assert re.search(r"You:\s+String height, E string, too high", words)
    assert re.search(r"You:\s+Nut, not measured", words)
    assert "Relief: good." in words


def test_left_at_any_moment_and_found_again_on_another_device(bass: Walk, another_device: Player) -> None:
    bass.typed = TOUCHED_TWICE
    elsewhere = Walk(another_device, bass.setup, bass.typed)
    for place in ("read/relief", "adjust/height.4", "ask/buzz", "read/intonation", "ask/playtest"):
        assert bass.until(place).here() == elsewhere.here() == place
    elsewhere.places, elsewhere.read = bass.places, bass.read
    elsewhere.to_the_end()
    assert bass.here() == "report"


def test_a_neck_without_a_rod_gets_a_reading_and_no_turning(player: Player) -> None:
    walk = Walk(player, player.begin(player.make("classical_6")), {"relief": ("0.8",)})
    walk.until("read/relief").step()
    words = words_of(walk, "adjust/relief")
    assert "no rod" in words and "too much bow" in words
    assert "Done as said" not in words


@pytest.mark.parametrize(
    "kind",
    ["bass_5_35", "electric_6_posts", "electric_6_floating", "electric_7", "acoustic_6", "acoustic_12",
     "classical_6"],
)  # fmt: skip
def test_another_kind_gets_to_its_report(player: Player, trade: Trade, kind: str) -> None:
    walk = Walk(player, player.begin(player.make(kind)), good=on_target(trade, kind))
    walk.to_the_end()
    assert walk.here() == "report"
    assert not walk.turned
    pickups = trade.kinds[kind].spec.pickups
    assert ("ask/ear" in walk.places) == bool(pickups)
