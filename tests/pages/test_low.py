"""How low can it go: lowest clean heights, the turns in order, what to expect after each."""

import re

import pytest

from tests.pages.conftest import Player, plain
from tests.pages.walk import Walk


def measured(player: Player, kind: str, relief: str, height: str) -> str:
    instrument = player.make(kind)
    walk = Walk(player, player.begin(instrument), {"relief": [relief], "height": [height]})
    walk.until("adjust/relief" if float(relief) > 0.5 else "read/height.4")
    return instrument


def test_the_rod_comes_first_an_eighth_then_quarters(player: Player) -> None:
    words = plain(player.get(f"{measured(player, 'bass_4_34', '0.7', '2.5')}/low?touch=medium").text)
    steps = re.findall(r"Tighten the rod (an eighth|a quarter)", words)
    assert steps[0] == "an eighth" and "a quarter" in steps
    assert words.index("Tighten the rod") < words.index("the saddle of the E string")
    assert "relief expected" in words and "an ordinary neck" in words


def test_a_light_touch_goes_lower_than_a_firm_one(player: Player) -> None:
    instrument = measured(player, "bass_4_34", "0.3", "2.5")

    def lowest(touch: str) -> float:
        page = plain(player.get(f"{instrument}/low?touch={touch}").text)
        found = re.search(r"\bE [\d.]+ mm ([\d.]+) mm", page)
        assert found
        return float(found[1])

    assert lowest("light") < lowest("medium") < lowest("firm")


def test_what_was_not_measured_is_said(player: Player) -> None:
    words = plain(player.get(f"{player.make('electric_6')}/low").text)
    assert "Less sure: relief (not measured: middle of the target)" in words


@pytest.mark.parametrize(
    ("kind", "sentence"),
    [
        ("acoustic_6", "This saddle has no screws"),
        ("classical_6", "This neck has no rod"),
        ("electric_6_posts", "One bar carries all the strings"),
    ],
)
def test_each_bridge_and_neck_in_its_own_way(player: Player, kind: str, sentence: str) -> None:
    assert sentence in plain(player.get(f"{player.make(kind)}/low?touch=light").text)


def test_a_touch_that_there_is_not_gets_a_sentence(player: Player) -> None:
    answer = player.get(f"{player.make('bass_4_34')}/low?touch=own", 422)
    assert "Choose one of the touches." in plain(answer.text)
