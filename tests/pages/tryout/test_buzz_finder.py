"""Why it buzzes, as a page: nothing noted, nothing heard, the ranked causes, and what was turned since."""

from __future__ import annotations

import re

import pytest

from tests.pages.conftest import Player, plain
from tests.pages.walk import Walk

MARKS = ["4:1", "4:2", "4:3", "3:1", "3:2", "2:1"]


@pytest.fixture
def bass(player: Player) -> Walk:
    """A straight-necked bass, up to the buzz board."""
    typed = {"relief": ("0.16",)}

    def straight() -> str:
        return Walk(player, player.begun("bass_4_34"), typed).until("ask/buzz").setup

    return Walk(player, player.once("bass_4_34 straight", straight), typed, read=["relief"])


def mark(walk: Walk, notes: list[str], touch: str = "firm") -> str:
    path = f"{walk.setup}/ask/buzz"
    return walk.player.fill(path, buzz=notes, touch=touch).headers["location"]


def test_before_the_board_there_is_a_way_to_it(bass: Walk) -> None:
    page = bass.player.get(f"{bass.setup}/causes").text
    assert "No buzz noted yet" in plain(page)
    assert f'href="{bass.setup}/ask/buzz"' in page


def test_a_quiet_board_says_so(bass: Walk) -> None:
    bass.player.fill(f"{bass.setup}/ask/buzz", clear="yes")
    page = plain(bass.player.get(f"{bass.setup}/causes").text)
    assert "Nothing buzzed" in page and "Try this next" not in page


def test_marked_notes_lead_to_their_causes(bass: Walk) -> None:
    after = mark(bass, MARKS)
    assert f'href="{bass.setup}/causes"' in bass.player.get(after).text
    assert f'href="{bass.setup}/causes"' in bass.player.get(f"{bass.setup}/ask/buzz").text


def test_the_first_cause_has_evidence_a_test_and_who_can_help(bass: Walk) -> None:
    mark(bass, MARKS)
    html = bass.player.get(f"{bass.setup}/causes").text
    words = plain(html)
    assert "The neck is too straight" in words.split("If that was not it")[0]
    assert "The relief is about 0.1" in words
    assert "At a firm touch the map leaves −0." in words
    assert "reading-forecast" in html
    assert "E string at 1 to 3; A string at 1, 2; D string at 1" in words
    assert "You can put this right yourself." in words and "Ease the rod an eighth" in words
    assert "Never force the rod" in words
    assert html.count("<details") == 9
    (board,) = re.findall(r"<desc>(.*?)</desc>", html, re.S)
    assert "String E buzzed: fret 1, fret 2, fret 3." in board
    assert "Not measured, so taken as usual: every gap at the nut." in words


def test_numbers_come_in_the_players_unit(bass: Walk) -> None:
    bass.player.fill("/", action="/units", unit="thou")
    mark(bass, MARKS)
    words = plain(bass.player.get(f"{bass.setup}/causes").text)
    assert "The relief is about 6 thou" in words


def test_a_turn_since_puts_the_causes_out_of_date(bass: Walk) -> None:
    mark(bass, MARKS)
    bass.player.fill(f"{bass.setup}/log", part="rod", way="minus", amount="1")
    words = plain(bass.player.get(f"{bass.setup}/causes").text)
    assert "Something was turned since these notes were marked." in words


def test_another_setup_is_not_found(player: Player) -> None:
    player.get("/setups/doesnotexist/causes", 404)
