"""Logging what was done outside the advice: what it moved is expected, and asked for where that is not sure.
"""

from __future__ import annotations

import re

import pytest

from tests.pages.conftest import Player, plain
from tests.pages.walk import Walk

CHECKS = ("relief", "height", "nut", "intonation", "pickups")


@pytest.fixture
def walk(player: Player) -> Walk:
    """A setup with everything read and in order."""
    def all_read() -> str:
        return Walk(player, player.begun("bass_4_34")).until("ask/playtest").setup

    return Walk(player, player.once("bass_4_34 all read", all_read))


def moved(walk: Walk) -> list[str]:
    """The checks of which something is only expected since, in order."""
    words = {check: plain(walk.player.get(f"{walk.setup}/check/{check}").text) for check in CHECKS}
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
