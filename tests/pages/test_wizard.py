"""The way through a setup, page by page: the order of the bench, advice, measuring again, the end."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from tests.keyed import keyed
from tests.pages.conftest import Player, plain
from tests.pages.walk import Walk, heading, on_target
from webapp.app import create_app
from webapp.settings import Settings
from webapp.trade.load import Trade

TOUCHED_TWICE = {
    "relief": ("0.7", "0.4"),
    "height.4": ("3.8", "2.6"),
    "intonation.3.12": ("9", "1"),
    "intonation.3.high": ("18", "2"),
}


@pytest.fixture
def bass(player: Player) -> Walk:
    """A new setup of a four-string bass."""
    return Walk(player, player.begin(player.make("bass_4_34")))


@pytest.fixture
def another_device(engine: Engine, trade: Trade, tmp_path: Path) -> Iterator[Player]:
    """The same bench, seen from a browser that has never been here."""
    app = create_app(Settings(data_dir=tmp_path), trade, engine)
    with keyed(app) as client:
        yield Player(client)


def test_every_check_comes_in_the_order_of_the_bench(bass: Walk) -> None:
    bass.to_the_end()
    assert bass.places == [
        "ask/start",
        "read/relief",
        "read/height.4", "read/height.1", "read/height.3", "read/height.2", "ask/buzz",
        "read/nut.4", "read/nut.3", "read/nut.2", "read/nut.1",
        *(f"read/intonation.{n}.{place}" for n in (4, 3, 2, 1) for place in ("12", "high")),
        "read/pickups.1.bass", "read/pickups.1.treble", "read/pickups.2.bass", "read/pickups.2.treble",
        "ask/listen",
        "ask/playtest",
        "finish",
    ]  # fmt: skip
    assert bass.here() == "report"


def test_what_is_out_of_range_is_turned_and_measured_again(bass: Walk) -> None:
    bass.typed = TOUCHED_TWICE
    bass.to_the_end()
    for place in ("relief", "height.4", "intonation.3.12"):
        assert bass.places.count(f"adjust/{place}") == 1
        assert bass.places.count(f"read/{place}") == 2
    report = plain(bass.player.get(f"{bass.setup}/report").text)
    for value in ("0.70", "0.40", "3.80", "2.60", "+9", "+1"):
        assert value in report
    for words in ("tightened an eighth of a turn", "E string lowered", "A string moved back"):
        assert words in report


def test_the_advice_says_what_which_way_and_how_far(bass: Walk) -> None:
    bass.typed = {"relief": ("0.7",)}
    words = plain(bass.until("adjust/relief").player.get(f"{bass.setup}/adjust/relief").text)
    assert "0.70 mm" in words and "too high" in words and "Too much bow" in words
    assert "Ease the rod off an eighth" in words
    assert "an eighth of a turn: clockwise" in words
    assert "Never force the rod" in words
    assert "expected" in words and "Retune to pitch, then measure again" in words
    assert "Target 0.15 to 0.45 mm" in words


def test_the_next_reading_says_what_is_expected_of_it(bass: Walk) -> None:
    bass.typed = {"relief": ("0.7",)}
    bass.until("adjust/relief").step()
    words = plain(bass.player.get(f"{bass.setup}/read/relief").text)
    assert "out of date" in words and "expected 0.64 mm" in words


def test_a_rod_that_was_turned_is_read_again_when_it_has_settled(bass: Walk) -> None:
    bass.typed = {"relief": ("0.7", "0.4")}
    bass.until("read/height.4")
    assert "The rod is settling. Read the relief again after" in plain(bass.player.get(bass.setup).text)
    assert "still settling" in plain(bass.player.get(f"{bass.setup}/check/relief").text)


def test_the_verdict_on_a_reading_heads_the_next_page(bass: Walk) -> None:
    bass.until("read/height.4")
    answer = bass.player.post(f"{bass.setup}/read/height.4", bass.fields("read/height.4"))
    page = bass.player.get(answer.headers["location"])
    assert page.url.path.endswith("/read/height.1")
    words = plain(page.text)
    assert "E string: 2.30 mm good" in words and heading(page.text) == "Height of the G string"


def test_the_page_of_a_reading_shows_what_was_saved(bass: Walk) -> None:
    bass.until("read/height.4")
    words = plain(bass.player.get(f"{bass.setup}/read/relief").text)
    assert "Recorded: 0.30 mm good" in words


def test_kept_as_it_is(bass: Walk) -> None:
    bass.typed = {"relief": ("0.6",)}
    bass.until("adjust/relief")
    bass.player.post(f"{bass.setup}/adjust/relief", {**bass.fields("adjust/relief"), "action": "keep"})
    assert bass.here() == "read/height.4"
    words = plain(bass.player.get(f"{bass.setup}/check/relief").text)
    assert "kept" in words and "a touch high" in words


def test_a_saddle_without_room_goes_to_the_repairer(bass: Walk) -> None:
    bass.typed = {"intonation.4.12": ("9",), "intonation.4.high": ("18",)}
    place = "adjust/intonation.4.12"
    bass.until(place)
    assert "The saddle has no room left" in bass.player.get(f"{bass.setup}/{place}").text
    bass.player.post(f"{bass.setup}/{place}", {**bass.fields(place), "action": "no_room"})
    words = plain(bass.player.get(f"{bass.setup}/check/intonation").text)
    assert "For a repairer" in words and "saddle out of travel" in words
    bass.until("read/intonation.3.12")


def test_there_is_no_room_to_run_out_of_at_the_rod(bass: Walk) -> None:
    bass.typed = {"relief": ("0.7",)}
    bass.until("adjust/relief")
    sent = {**bass.fields("adjust/relief"), "action": "no_room"}
    answer = bass.player.post(f"{bass.setup}/adjust/relief", sent, 422)
    assert "There is nothing to turn here" in plain(answer.text)


def test_a_stuck_rod_ends_the_setup_before_it_begins(bass: Walk) -> None:
    sent = bass.fields("ask/start") | {"stopper": ["stuck_rod"]}
    answer = bass.player.post(f"{bass.setup}/ask/start", sent)
    assert answer.headers["location"] == f"{bass.setup}/check/start"
    assert bass.here() == "check/start"
    words = plain(bass.player.get(f"{bass.setup}/check/start").text)
    assert "Stop here. Leave the rod alone and ask a repairer" in words and "Finish here" in words
    assert "stopped" in plain(bass.player.get(bass.setup).text)
    bass.player.fill(f"{bass.setup}/finish")
    report = plain(bass.player.get(f"{bass.setup}/report").text)
    assert "Leave the rod alone and ask a repairer" in report


def test_a_stopped_setup_goes_on_once_the_answer_is_another(bass: Walk) -> None:
    bass.player.post(f"{bass.setup}/ask/start", bass.fields("ask/start") | {"stopper": ["crack"]})
    again = bass.fields("ask/start")
    assert again.pop("stopper") == "crack"
    bass.player.post(f"{bass.setup}/ask/start", again)
    assert bass.here() == "read/relief"


def test_buzz_at_many_frets_raises_the_string_and_one_fret_alone_is_noted(bass: Walk) -> None:
    bass.until("ask/buzz")
    path = f"{bass.setup}/ask/buzz"
    marked = ["4:3", "4:5", "4:7", "1:9"]
    answer = bass.player.post(path, {**bass.player.form(path), "touch": "firm", "buzz": marked})
    assert answer.headers["location"] == f"{bass.setup}/check/height"
    words = plain(bass.player.get(f"{bass.setup}/check/height").text)
    assert "E string: buzzes at several frets. Raise it a little." in words
    assert "G string: buzzes only when fretted at 9" in words
    assert bass.here() == "adjust/height.4"
    words = plain(bass.player.get(f"{bass.setup}/adjust/height.4").text)
    assert "It buzzes at frets 3, 5, 7" in words and "Raise the saddle of the E string" in words


def test_the_board_is_plucked_afresh_once_something_was_raised(bass: Walk) -> None:
    path = f"{bass.until('ask/buzz').setup}/ask/buzz"
    bass.player.post(path, {**bass.player.form(path), "buzz": ["4:3", "4:5"]})
    assert 'value="4:5" checked' in bass.player.get(path).text
    bass.typed = {"height.4": ("2.5",)}
    assert [bass.step(), bass.step(), bass.here()] == ["adjust/height.4", "read/height.4", "ask/buzz"]
    assert 'value="4:5" checked' not in bass.player.get(path).text


def test_what_is_heard_leads_to_what_to_do(bass: Walk) -> None:
    bass.until("ask/listen")
    path = f"{bass.setup}/ask/listen"
    answer = bass.player.post(path, {**bass.player.form(path), "heard": ["beating"]})
    assert bass.player.form(path)["heard"] == "beating"
    assert answer.headers["location"] == f"{bass.setup}/check/pickups"
    words = plain(bass.player.get(answer.headers["location"]).text)
    assert "The magnet pulls on the string" in words


def test_a_symptom_at_the_play_test_leads_back_to_its_check(bass: Walk) -> None:
    bass.until("ask/playtest")
    path = f"{bass.setup}/ask/playtest"
    sent: dict[str, object] = {**bass.player.form(path), "symptom": ["low_frets"], "sign": "no"}
    answer = bass.player.post(path, sent)
    page = bass.player.get(answer.headers["location"])
    assert page.url.path == f"{bass.setup}/check/playtest"
    assert "A neck that is too straight buzzes near the nut" in plain(page.text)
    assert f'href="{bass.setup}/check/relief"' in page.text


def test_left_at_any_moment_and_found_again_on_another_device(bass: Walk, another_device: Player) -> None:
    bass.typed = TOUCHED_TWICE
    elsewhere = Walk(another_device, bass.setup, bass.typed)
    for place in ("read/relief", "adjust/height.4", "ask/buzz", "read/intonation.3.high", "ask/playtest"):
        assert bass.until(place).here() == elsewhere.here() == place
    elsewhere.places = bass.places
    elsewhere.to_the_end()
    assert bass.here() == "report"


def test_a_neck_without_a_rod_gets_a_reading_and_no_turning(player: Player) -> None:
    walk = Walk(player, player.begin(player.make("classical_6")), {"relief": ("0.6",)})
    walk.until("read/relief").step()
    words = plain(player.get(f"{walk.setup}/adjust/relief").text)
    assert "no rod" in words and "too high" in words
    assert "What you turned" not in words and "I turned it" not in words


@pytest.mark.parametrize("kind", ["bass_5_35", "electric_6_posts", "electric_7", "acoustic_6", "classical_6"])
def test_another_kind_gets_to_its_report(player: Player, trade: Trade, kind: str) -> None:
    walk = Walk(player, player.begin(player.make(kind)), good=on_target(trade, kind))
    walk.to_the_end()
    assert walk.here() == "report"
    assert not any(place.startswith("adjust") for place in walk.places)
    pickups = trade.kinds[kind].spec.pickups
    assert ("ask/listen" in walk.places) == bool(pickups)
