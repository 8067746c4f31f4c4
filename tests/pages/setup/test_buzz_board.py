"""The buzz board: a box for every note, what buzzed last time marked, and the plan of it in the report."""

import re

import pytest
from sqlalchemy import Engine

from tests.pages.conftest import Player
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, CLASSICAL, Bench
from webapp.setups.journal import Part
from webapp.trade.words import Check


def board(player: Player, engine: Engine, bench: Bench) -> str:
    _, setup = shelve(engine, bench, finished=False)
    return player.get(f"/setups/{setup}/ask/buzz").text


def boxes(html: str) -> dict[str, str]:
    """What each box is called in words; "checked" at the end where it is."""
    pattern = r'<input type="checkbox" name="buzz" value="([\d:]+)"( checked)?><span class="vh">(.*?)</span>'
    return {place: words + checked for place, checked, words in re.findall(pattern, html)}


def test_every_note_has_its_box_in_words(player: Player, engine: Engine) -> None:
    found = boxes(board(player, engine, Bench(BASS).start()))
    assert len(found) == 4 * 21
    assert found["4:0"] == "string 4 (E), open" and found["1:12"] == "string 1 (G), fret 12"


def test_strings_are_as_thick_as_they_are_and_dots_where_they_are(player: Player, engine: Engine) -> None:
    html = board(player, engine, Bench(BASS).start())
    first = html.split("<tr", 3)[2]
    assert re.findall(r'<td class="pen-(\d)"', first) == ["4", "3", "2", "2"]
    assert html.count('class="dots-1"') == 7 and html.count('class="dots-2"') == 1
    assert 'class="dots' not in board(player, engine, Bench(CLASSICAL).start())


def test_marks_still_true_are_ticked_and_those_of_last_time_only_shown(
    player: Player, engine: Engine
) -> None:
    bench = Bench(BASS).start().read(Check.RELIEF, Check.HEIGHT)
    bench.buzz((4, 3), (4, 5), (4, 7))
    html = board(player, engine, bench)
    assert [p for p, words in boxes(html).items() if words.endswith("checked")] == ["4:3", "4:5", "4:7"]
    assert 'class="before"' not in html
    bench.turn(Part.SADDLE_HEIGHT, 4, string=4)
    html = board(player, engine, bench)
    assert not any(words.endswith("checked") for words in boxes(html).values())
    assert [p for p, words in boxes(html).items() if "buzzed last time" in words] == ["4:3", "4:5", "4:7"]
    assert html.count('<label class="before">') == 3


@pytest.mark.parametrize("kind", [BASS, CLASSICAL])
def test_the_report_draws_what_buzzed(player: Player, engine: Engine, kind: str) -> None:
    bench = Bench(kind).start().read(Check.RELIEF, Check.HEIGHT)
    bench.buzz((4, 3), (4, 0))
    _, setup = shelve(engine, bench, finished=False)
    html = player.get(f"/setups/{setup}/report").text
    name = "E" if kind == BASS else "D"
    assert f"String {name} buzzed: open, fret 3." in html
    assert ("d-board-dot" in html) is (kind == BASS)


def test_the_left_hands_strings_lie_the_other_way_round(player: Player, engine: Engine) -> None:
    def heads(bench: Bench) -> list[str]:
        return re.findall(r'<th scope="col">(\w)</th>', board(player, engine, bench))

    right, left = Bench(BASS), Bench(BASS, left_handed=True)
    assert heads(left.start()) == heads(right.start())[::-1] == ["G", "D", "A", "E"]
