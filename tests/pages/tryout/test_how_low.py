"""How low can it go: lowest clean heights, the turns in order, what to expect after each."""

import re

import pytest
from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, Bench


def measured(engine: Engine, kind: str, relief: float, height: float) -> str:
    bench = Bench(kind).start()
    bench.reading("relief", relief, step=0.01)
    for number in bench.numbers:
        bench.reading(f"height.{number}", height, step=0.05)
    return f"/instruments/{shelve(engine, bench, finished=False)[0]}"


def test_the_rod_comes_first_a_quarter_at_most_at_a_time(player: Player, engine: Engine) -> None:
    words = plain(player.get(f"{measured(engine, BASS, 0.7, 2.5)}/low?touch=medium").text)
    steps = re.findall(r"Tighten the rod (an eighth|a quarter|half|three)", words)
    assert "a quarter" in steps and not {"half", "three"} & set(steps)
    assert words.index("Tighten the rod") < words.index("the saddle of the E string")
    assert "relief expected" in words and "an ordinary neck" in words


def test_the_heights_are_the_low_edges_of_the_setups_own_targets(player: Player, engine: Engine) -> None:
    # At this relief no turn of the rod is better than none, so the plan ends where the setup's targets begin.
    home = measured(engine, "classical_6", 0.2, 4.0)
    words = plain(player.get(f"{home}/low?touch=medium").text)
    aim = re.search(r"\bE \(6\) 4\.0\d mm ([\d.]+) mm", words)
    across = re.search(r"String E, [\d.]+ mm thick: [\d.]+ mm over the fret, target ([\d.]+) to", player.get(
        f"{home}/drawings").text)  # fmt: skip
    assert aim and across and float(aim[1]) == pytest.approx(float(across[1]), abs=0.011)


def test_the_answer_stands_first_and_is_drawn(player: Player, engine: Engine) -> None:
    page = player.get(f"{measured(engine, BASS, 0.3, 2.5)}/low?touch=medium").text
    told = re.search(r"<h1>It can go up to ([\d.]+) mm lower</h1>", page)
    lower = [
        float(now) - float(then) for now, then in re.findall(r"([\d.]+) mm ([\d.]+) mm \d+ over", plain(page))
    ]
    assert told and float(told[1]) == pytest.approx(max(lower), abs=0.011)
    assert page.count("<desc>") == 1 and "E: 2.5" in page
    assert page.index("<svg xmlns") < page.index('name="touch"')
    high = player.get(f"{measured(engine, BASS, 0.3, 1.2)}/low?touch=firm").text
    assert re.search(r"<h1>It is up to [\d.]+ mm too low for that</h1>", high)


def test_a_light_touch_goes_lower_than_a_firm_one(player: Player, engine: Engine) -> None:
    instrument = measured(engine, BASS, 0.3, 2.5)

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
