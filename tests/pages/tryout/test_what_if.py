"""What if: try it, see before and after, record nothing."""

import re

import pytest
from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, Bench


@pytest.fixture
def bass(engine: Engine) -> str:
    """A bass whose relief reads 0.30 and whose thickest string reads 2.5."""
    bench = Bench(BASS).start()
    bench.reading("relief", 0.3, step=0.01)
    bench.reading("height.4", 2.5, step=0.05)
    return f"/instruments/{shelve(engine, bench, finished=False)[0]}"


def row(words: str, string: str, name: str) -> tuple[str, str]:
    """Before and after of one line of one string."""
    found = re.search(rf"{name} ([\d.]+) mm ([\d.]+) mm", words[words.index(f"{string} Height") :])
    assert found
    return found[1], found[2]


def test_nothing_asked_shows_the_present_twice(player: Player, bass: str) -> None:
    words = plain(player.get(f"{bass}/what-if").text)
    assert "As it stands" in words
    assert row(words, "E string", "Clean swing") == ("0.94", "0.94")


def test_before_and_after_stand_side_by_side(player: Player, bass: str) -> None:
    words = plain(player.get(f"{bass}/what-if?relief=0.3&bass=2.1&treble=1.9&touch=firm").text)
    assert "Medium touch before, firm after" in words
    assert row(words, "E string", "Height") == ("2.50", "2.10")
    assert row(words, "E string", "Clean swing") == ("0.94", "0.80")
    assert "4 over 7" in words


def test_the_answer_stands_first_and_is_drawn_on_the_targets(player: Player, bass: str) -> None:
    low = player.get(f"{bass}/what-if?bass=1.2").text
    assert "<h1>Then the E string touches</h1>" in low
    assert low.index("<svg xmlns") < low.index('name="relief"')
    (drawn,) = re.findall(r"<desc>(.*?)</desc>", low, re.S)
    assert re.search(r"\bE: 2\.50 mm.*1\.20 mm.*touches", drawn)
    high = plain(player.get(f"{bass}/what-if?bass=3.2&treble=3").text)
    assert re.search(r"Then it stays clean, 0\.\d\d mm in hand", high)
    asked = player.get(f"{bass}/what-if").text
    assert asked.index('name="relief"') < asked.index("<svg xmlns")


def test_nothing_is_recorded(player: Player, bass: str) -> None:
    before = plain(player.get(bass).text)
    player.get(f"{bass}/what-if?relief=0.1&bass=2&touch=firm&tuning=tone_down")
    assert plain(player.get(bass).text) == before
    assert "As it stands" in plain(player.get(f"{bass}/what-if").text)


def test_slacker_strings_pull_less_and_swing_further(player: Player, bass: str) -> None:
    words = plain(player.get(f"{bass}/what-if?tuning=tone_down").text)
    pull = re.search(r"Pull of the strings (\d+) N (\d+) N", words)
    assert pull and int(pull[1]) > int(pull[2])
    before, after = row(words, "E string", "The touch’s swing")
    assert float(after) > float(before)
    assert "Less pull" in words


def test_another_set_can_be_tried(player: Player, bass: str) -> None:
    words = plain(player.get(f"{bass}/what-if?strings=bass_4_heavy").text)
    assert "Before and after" in words and "More pull" in words


@pytest.mark.parametrize(
    ("query", "sentence", "typed"),
    [
        ("relief=lots", "That is not a length.", "lots"),
        ("relief=12", "Did you mean", "12"),
        ("bass=40", "outside what this can be", "40"),
        ("touch=own", "Choose one of the touches.", ""),
        ("strings=bass_6_medium", "Choose one of the sets.", ""),
        ("tuning=upside_down", "Choose one of the tunings.", ""),
    ],
)
def test_bad_input_gets_a_sentence_and_the_present(
    player: Player, bass: str, query: str, sentence: str, typed: str
) -> None:
    page = player.get(f"{bass}/what-if?{query}", 422).text
    words = plain(page)
    assert sentence in words and "As it stands" in words
    assert f'value="{typed}"' in page


def test_a_suggested_unit_is_taken(player: Player, bass: str) -> None:
    words = plain(player.get(f"{bass}/what-if?relief=12&relief_take=12+thou").text)
    assert "Relief 0.30 mm 0.30 mm" in words


def test_an_instrument_without_readings_stands_at_its_targets(player: Player) -> None:
    words = plain(player.get(f"{player.make('electric_7')}/what-if?relief=0.1").text)
    assert "nothing is measured yet" in words and "Before and after" in words
