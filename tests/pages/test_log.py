"""Logging what was done outside the advice: what depends on it is out of date, and asked again."""

from __future__ import annotations

import re

import pytest

from tests.pages.conftest import Player, plain
from tests.pages.walk import Walk

CHECKS = ("relief", "height", "nut", "intonation", "pickups")


@pytest.fixture
def walk(player: Player) -> Walk:
    """A setup with everything read and in order."""
    return Walk(player, player.begin(player.make("bass_4_34"))).until("ask/playtest")


def out_of_date(walk: Walk) -> list[str]:
    """The checks of which something is out of date, in order."""
    words = {check: plain(walk.player.get(f"{walk.setup}/check/{check}").text) for check in CHECKS}
    return [check for check in CHECKS if "out of date" in words[check]]


@pytest.mark.parametrize(
    ("part", "stale", "asked_next"),
    [
        ("rod", ["relief", "height", "intonation", "pickups"], "read/relief"),
        ("saddle_height:2", ["height", "intonation", "pickups"], "read/height.2"),
        ("saddle_position:1", ["intonation"], "read/intonation.1.12"),
        ("pickup_height:2:treble", ["pickups"], "read/pickups.2.bass"),
        ("nut:3", ["height", "nut", "intonation"], "read/height.3"),
        ("strings", list(CHECKS), "read/relief"),
    ],
)
def test_a_turn_puts_out_of_date_what_depends_on_it(
    walk: Walk, part: str, stale: list[str], asked_next: str
) -> None:
    assert out_of_date(walk) == []
    walk.player.fill(f"{walk.setup}/log", part=part, way="plus", amount="2")
    assert out_of_date(walk) == stale
    assert walk.here() == asked_next


def test_only_the_string_that_was_moved_is_asked_again(walk: Walk) -> None:
    walk.player.fill(f"{walk.setup}/log", part="saddle_height:2", way="minus", amount="4")
    page = walk.player.get(f"{walk.setup}/check/height").text
    rows = [plain(row) for row in re.findall(r"<li>(.*?)</li>", page, re.DOTALL)]
    marked = [row for row in rows if "out of date" in row]
    assert len(marked) == 1 and "D string" in marked[0]


def test_a_turn_is_told_in_the_journal_in_words(walk: Walk) -> None:
    walk.player.fill(f"{walk.setup}/log", part="rod", way="minus", amount="1")
    words = plain(walk.player.get(f"{walk.setup}/journal").text)
    assert "Truss rod" in words and "an eighth of a turn" in words


def test_a_note_stands_in_the_journal_and_the_report_as_it_was_written(walk: Walk) -> None:
    note = "Zwölf <b>Saiten</b> & a cracked nut"
    walk.player.fill(f"{walk.setup}/log", note=note)
    assert out_of_date(walk) == []
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
    assert 'value="rod"' not in page and 'value="saddle_height' not in page and 'value="pickup' not in page
    player.fill(f"{setup}/log", 422, part="rod", way="plus")
