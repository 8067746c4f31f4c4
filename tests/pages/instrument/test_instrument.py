"""An instrument's own page, and what can be done from it."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest

from tests.pages.conftest import Player, plain
from webapp.pages.instrument.words import relief_words
from webapp.pages.visit.next_page import next_words
from webapp.setups.states import Act, Step
from webapp.trade.content import Trade
from webapp.trade.words import Check


def test_the_card_says_what_the_instrument_is(player: Player) -> None:
    page = plain(player.get(player.make("bass_4_34", name="Old blue", touch="firm")).text)
    for words in (
        "Old blue",
        "Bass, 4 strings, 34 in",
        "Not set up yet.",
        "Touch firm",
        "Scale 34 in",
        "Strings E1 A1 D2 G2",
        "Gauges 0.105 0.085 0.065 0.045 in",
        "For a firm touch.",
        "held at 1, pressed at 13, over 7",
        "Truss rod two-way rod, nut at the headstock, tightens clockwise, 4 mm hex key",
    ):
        assert words in page


def test_targets_follow_the_touch_and_the_unit(player: Player) -> None:
    path = player.make("bass_4_34")
    assert "0.15 to 0.45 mm" in player.get(path).text
    player.fill(f"{path}/edit", touch="light")
    assert "0.10 to 0.40 mm" in player.get(path).text
    player.fill("/", action="/units", unit="thou")
    assert "4 to 16 thou" in player.get(path).text


def test_every_kind_has_a_card(player: Player, trade: Trade) -> None:
    for key, kind in trade.kinds.items():
        assert kind.name in player.get(player.make(key)).text


def test_the_card_leads_to_everything_about_it(player: Player) -> None:
    path = player.make("electric_6")
    links = set(re.findall(r'href="([^"]+)"', player.get(path).text))
    assert {f"{path}/{rest}" for rest in ("history", "drawings", "edit", "archive")} <= links
    for rest in ("history", "drawings", "edit", "archive"):
        player.get(f"{path}/{rest}")


def test_starting_a_setup_goes_to_its_first_step(player: Player) -> None:
    path = player.make("bass_4_34")
    answer = player.fill(path, action=f"{path}/setups")
    assert re.fullmatch(r"/setups/[\w-]+/next", answer.headers["location"])


def test_the_same_start_sent_twice_makes_one_setup(player: Player) -> None:
    path = player.make("bass_4_34")
    form = player.form(path, f"{path}/setups")
    first = player.post(f"{path}/setups", dict(form)).headers["location"]
    assert player.post(f"{path}/setups", dict(form)).headers["location"] == first
    # A second page that did not know of it goes on with the one under way.
    assert player.post(f"{path}/setups", {"form_id": "another"}).headers["location"] == first


def test_a_setup_under_way_shows_every_check_and_the_next_step(player: Player) -> None:
    path = player.make("bass_4_34")
    setup = player.begin(path)
    page = player.get(path)
    words = plain(page.text)
    assert "Setup under way since" in words
    assert f'href="{setup}/next"' in page.text and "Continue: get ready" in words
    assert "Start a setup" not in words
    for name in ("Relief", "String height", "Nut", "Intonation", "Pickups", "Play test"):
        assert f"{name} not measured" in words


def test_checks_that_are_not_on_the_instrument_are_left_out(player: Player) -> None:
    path = player.make("classical_6")
    setup = player.begin(path)
    page = player.get(path).text
    assert f'href="{setup}/check/nut"' in page
    assert f'href="{setup}/check/pickups"' not in page


def test_taking_it_off_the_bench_asks_first_and_keeps_everything(player: Player) -> None:
    path = player.make("bass_4_34", name="Old blue")
    setup = player.begin(path)
    asked = plain(player.get(f"{path}/archive").text)
    assert "Take Old blue off the bench?" in asked and "A setup is still under way." in asked
    assert player.fill(f"{path}/archive").headers["location"] == "/"
    page = plain(player.get(path).text)
    assert "Taken off the bench on" in page
    assert f'href="{setup}/next"' in player.get(path).text
    player.fill(path, action=f"{path}/archive", status=303)  # once more changes nothing


@pytest.mark.parametrize("rest", ["", "/edit", "/archive"])
def test_an_instrument_that_is_not_there(player: Player, rest: str) -> None:
    assert "Back to the bench" in player.get(f"/instruments/nosuchthing{rest}", 404).text


@pytest.mark.parametrize("rest", ["/edit", "/archive", "/setups"])
def test_sending_something_to_an_instrument_that_is_not_there(player: Player, rest: str) -> None:
    assert "Back to the bench" in player.post(f"/instruments/nosuchthing{rest}", {}, 404).text


def test_a_name_full_of_markup_is_only_words_everywhere(player: Player) -> None:
    name = '"><img src=x onerror=alert(1)>{{ 7*7 }}'
    path = player.make("bass_4_34", name=name)
    for page in (path, f"{path}/edit", f"{path}/archive"):
        text = player.get(page).text
        assert "<img" not in text and "{{ 7*7 }}" in text
    assert player.form(f"{path}/edit")["name"] == name


@pytest.mark.parametrize(
    ("step", "words"),
    [
        (Step(Act.ANSWER, Check.START, "start", "Get ready"), "Continue: get ready"),
        (Step(Act.MEASURE, Check.RELIEF, "relief", "Measure: Relief"), "Continue: relief"),
        (
            Step(Act.MEASURE, Check.HEIGHT, "height.3", "Measure again: A string"),
            "Continue: string height, A string",
        ),
        (
            Step(Act.DECIDE, Check.HEIGHT, "height.4", "Adjust: E string", ("height.4", "height.3")),
            "Continue: string height",
        ),
        (Step(Act.DECIDE, Check.NUT, "nut.1", "Adjust: G string"), "Continue: nut, G string"),
        (Step(Act.STOP, Check.START, "start", "Stop here"), "Why this setup stopped"),
    ],
)
def test_the_next_step_in_words(step: Step, words: str) -> None:
    assert next_words(step) == words


def test_when_to_read_relief_again() -> None:
    now = datetime(2026, 3, 3, 12, tzinfo=UTC)
    assert relief_words(None, now) == ""
    assert relief_words(now - timedelta(hours=1), now) == "The rod has settled: read relief again"
    later = now + timedelta(days=1)
    assert relief_words(later, now).startswith("Read relief again on 4 March 2026, after ")
