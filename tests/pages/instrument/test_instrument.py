"""An instrument's own page, and what can be done from it."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, CLASSICAL, GUITAR, Bench
from webapp.pages.instrument.instrument import relief_words
from webapp.pages.visit.answering import next_words
from webapp.setups.journal import Part
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
    rests = ("history", "strings", "edit", "archive")
    assert {f"{path}/{rest}" for rest in rests} <= links(player, path)
    for rest in rests:
        player.get(f"{path}/{rest}")


def links(player: Player, path: str) -> set[str]:
    return set(re.findall(r'href="([^"]+)"', player.get(path).text))


def test_a_question_is_offered_once_there_are_readings_that_answer_it(player: Player, engine: Engine) -> None:
    asked = {"low", "what-if", "clearance", "touch", "drawings"}
    never = player.make(BASS)
    assert "How it has moved" not in plain(player.get(never).text)
    assert not {f"{never}/{one}" for one in asked | {"seasons"}} & links(player, never)
    home = f"/instruments/{measured(engine)}"
    assert {f"{home}/{one}" for one in asked} <= links(player, home)
    bench = Bench(BASS)
    bench.wait(days=2)
    bench.reading("relief", 0.32)
    bench.buzz((4, 5))
    _, setup = shelve(engine, bench, home.rpartition("/")[2])
    assert {f"{home}/seasons", f"/setups/{setup}/causes"} <= links(player, home)
    for one in (*asked, "seasons"):
        player.get(f"{home}/{one}")
    player.get(f"/setups/{setup}/causes")


def test_every_place_stands_on_the_map_with_its_value_and_the_way_to_it(
    player: Player, engine: Engine
) -> None:
    bench = Bench(BASS).start()
    bench.turn(Part.STRINGS)
    bench.read(Check.RELIEF, Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS)
    for _ in range(2):  # the first is so far from what was read that it is doubted
        bench.reading("nut.3", 0.1)
    instrument, setup = shelve(engine, bench, finished=False)
    page = player.get(f"/instruments/{instrument}").text
    boxes = dict(re.findall(r'<a class="d-link" href="([^"]+)" aria-label="([^"]+)"', page))
    said = {href.removeprefix(f"/setups/{setup}/check/"): label for href, label in boxes.items()}
    assert said["relief"] == "Relief: 0.30 mm, good"
    assert said["height"].startswith("Height: 2.05–2.50 mm, good")
    assert said["nut"] == "Nut: A 0.10 mm, too low"
    assert said["intonation"].startswith("Intonation: ±0 cents")
    assert f"/instruments/{instrument}/strings" in boxes


def test_how_a_place_has_moved_is_shown_once_it_was_read_twice(player: Player, engine: Engine) -> None:
    instrument = measured(engine)
    bench = Bench(BASS)
    bench.wait(days=90)
    bench.reading("relief", 0.42)
    shelve(engine, bench, instrument)
    page = player.get(f"/instruments/{instrument}").text
    assert "How it has moved" in plain(page)
    assert f'href="/instruments/{instrument}/history/relief"' in page
    assert re.search(r'aria-label="Relief: 0.42 mm[^"]*, 0.30 on 1 Mar 2025', page)
    assert f"/instruments/{instrument}/history/height.1" not in page  # read once


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


def test_a_setup_under_way_shows_every_place_and_the_next_step(player: Player) -> None:
    path = player.make("bass_4_34")
    setup = player.begin(path)
    page = player.get(path)
    words = plain(page.text)
    assert "Setup under way since" in words
    assert f'href="{setup}/next"' in page.text and "Continue: get ready" in words
    assert "Start a setup" not in words
    for name in ("Relief", "Height", "Nut", "Intonation", "Pickups"):
        assert f"{name}: not measured" in words


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
    assert relief_words(later, now).startswith("Read relief again on 4 March, after ")


def texts(html: str) -> list[str]:
    """The drawings' text alternatives."""
    return re.findall(r"<desc>(.*?)</desc>", html, re.S)


def measured(engine: Engine) -> str:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.3)
    bench.read(Check.HEIGHT)
    bench.reading("height.4", 2.5)
    return shelve(engine, bench, finished=False)[0]


def test_at_fret_12_the_readings_are_drawn_as_measured(player: Player, engine: Engine) -> None:
    html = player.get(f"/instruments/{measured(engine)}/drawings").text
    assert "From the readings up to 1 March 2025." in plain(html)
    across, along = texts(html)
    assert "String E, 2.67 mm thick: 2.50 mm over the fret, target 2.00 to 3.00 mm: good." in across
    assert "expected" not in across
    assert "E string 2.50 mm" in along
    assert "the relief over fret 7 is 0.30 mm" in along
    assert "Not measured yet" not in plain(html)


def test_at_another_fret_they_are_computed_and_say_so(player: Player, engine: Engine) -> None:
    html = player.get(f"/instruments/{measured(engine)}/drawings?fret=17").text
    assert "a forecast, not a reading" in plain(html)
    assert "The strings over fret 17, held at fret 1, computed" in html
    # The same straight string from fret 1 to its saddle at 3.571 mm, over the straight of the body end.
    pattern = r"String E, 2.67 mm thick: ([\d.]+) mm over the fret, target [^,:]*: expected\."
    (gap,) = re.findall(pattern, texts(html)[0])
    scale, saddle, k = 863.6, 3.571, 7.4433e-6
    first, joint, there = (scale * (1 - 2 ** (-fret / 12)) for fret in (1, 16, 17))
    start = k * (joint - first) ** 2
    straight = start + (saddle - start) * (there - first) / (scale - first)
    assert float(gap) == pytest.approx(straight, abs=0.006)


def test_over_the_first_fret_the_nut_is_drawn(player: Player, engine: Engine) -> None:
    bench = Bench(BASS)
    bench.reading("nut.4", 0.45)
    instrument, _ = shelve(engine, bench)
    html = player.get(f"/instruments/{instrument}/drawings?fret=1").text
    assert "String E, 2.67 mm thick: 0.45 mm over the fret" in texts(html)[0]
    assert "gap at the nut of the A string" in plain(html)


def test_a_fret_at_which_the_height_was_read_shows_the_reading(player: Player, engine: Engine) -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.3)
    bench.reading("height.4", 3.0, hold=1, gap=20)
    instrument, _ = shelve(engine, bench)
    html = player.get(f"/instruments/{instrument}/drawings?fret=20").text
    assert "String E, 2.67 mm thick: 3.00 mm over the fret" in texts(html)[0]


@pytest.mark.parametrize("kind", [BASS, GUITAR, CLASSICAL])
def test_nothing_measured_is_drawn_at_target_and_says_so(player: Player, kind: str) -> None:
    home = player.make(kind)
    html = player.get(f"{home}/drawings").text
    assert "Not measured yet: drawn at target." in plain(html)
    across, along = texts(html)
    assert "over the fret" not in across and across.count(": not measured.") == across.count(" thick")
    assert "Not measured yet, drawn at target: relief, height of the E string" in along


def test_it_looks_back_to_the_last_setup_that_measured_anything(player: Player, engine: Engine) -> None:
    instrument = measured(engine)
    later = Bench(BASS)
    later.wait(days=90)
    shelve(engine, later.start(), instrument, finished=False)
    words = plain(player.get(f"/instruments/{instrument}/drawings").text)
    assert "From the readings up to 1 March 2025." in words


def test_every_fret_can_be_drawn(player: Player, engine: Engine) -> None:
    path = f"/instruments/{measured(engine)}/drawings"
    for fret in range(1, 21):
        assert f"The strings over fret {fret}" in player.get(f"{path}?fret={fret}").text


@pytest.mark.parametrize("fret", ["0", "21", "-1", "1e9", "twelve", "", "7.5"])
def test_a_fret_that_is_not_there_is_answered_beside_the_field(
    player: Player, engine: Engine, fret: str
) -> None:
    html = player.get(f"/instruments/{measured(engine)}/drawings?fret={fret}", status=422).text
    assert plain(html).count("The fret to draw: a whole number from 1 to 20.") == 2
    assert "The strings over fret 12" in html


def test_an_instrument_that_is_not_there_is_404(player: Player) -> None:
    player.get("/instruments/nothere/drawings", status=404)


def test_what_was_turned_since_is_drawn_as_expected(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.3)
    for number in bench.numbers:
        bench.reading(f"height.{number}", 2.5)
    bench.turn(Part.SADDLE_HEIGHT, -8, string=4)
    instrument, _ = shelve(engine, bench, finished=False)
    across = texts(player.get(f"/instruments/{instrument}/drawings").text)[0]
    # One turn of M3 is 0.5 mm at the saddle, 0.235 at the 12th.
    pattern = r"String E, 2.67 mm thick: ([\d.]+) mm over the fret, target [^,:]*: expected\."
    (expected,) = re.findall(pattern, across)
    assert float(expected) == pytest.approx(2.5 - 0.235, abs=0.04)
    assert across.count(": expected.") == 1
