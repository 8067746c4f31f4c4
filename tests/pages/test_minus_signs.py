"""A minus on screen is one character, and in a field the one that keyboards have."""

from __future__ import annotations

import re

import pytest

from tests.pages.conftest import Form, Player, plain
from tests.pages.walk import Walk

# A hyphen where a minus should be: before a figure, and after no letter, figure or slash.
HYPHEN = re.compile(r"(?<![\w.,/])-(?=[.,]?\d)")
SPOKEN = re.compile(r'\b(?:aria-label|title|alt)="([^"]*)"')


def seen(html: str) -> str:
    """What a page shows and what is read out of it."""
    drawn = re.sub(r"<(script|style|textarea)\b.*?</\1>", "", html, flags=re.DOTALL)
    return " ".join([plain(drawn), *SPOKEN.findall(drawn)])


@pytest.fixture
def back_bowed(player: Player) -> str:
    """A setup with readings below nought, in two units and in cents."""
    setup = player.begin(player.make("bass_4_34", name="Back bow"))
    walk = Walk(player, setup, typed={"relief": ("-0.2", "-0.15", "0.3"), "intonation.4.12": ("-9", "-2")})
    walk.until("read/relief").step()
    assert "relief" in walk.read
    walk.to_the_end()
    return setup


def test_every_page_of_a_setup_has_the_long_minus(player: Player, back_bowed: str) -> None:
    bass = re.search(r'href="(/instruments/[\w-]+)"', player.get("/").text)
    assert bass
    pages = [back_bowed + end for end in ("", "/journal", "/report", "/check/relief", "/check/intonation")]
    pages += [
        bass[1] + end for end in ("", "/history", "/history/relief", "/seasons", "/drawings", "/clearance")
    ]
    shown = {
        path: seen(answer.text) for path in pages if (answer := player.client.get(path)).status_code == 200
    }
    assert len(shown) >= 9
    assert {path: words for path, words in shown.items() if HYPHEN.search(words)} == {}
    assert sum("−" in words for words in shown.values()) >= 4
    assert "−0.20 mm" in shown[f"{back_bowed}/journal"]


def test_a_field_keeps_the_minus_of_the_keyboard(player: Player) -> None:
    setup = player.begin(player.make("bass_4_34", name="Typed"))
    path = f"{setup}/read/relief"
    for typed in ("-99", "−99"):
        refused = player.post(path, {**player.form(path), "value": typed}, 422)
        assert Form(refused.text, path).fields["value"] == typed
        assert "−99.00 mm is outside" in plain(refused.text)
    lesson = Form(player.get("/lessons/new?kind=bass_4_34").text, "/lessons/new").fields
    below = [text for name, text in lesson.items() if name.endswith("_low") and "intonation" in name]
    assert below and all(text.startswith("-") for text in below)


@pytest.mark.parametrize("typed", ["-0.1", "−0.1", "–0,1"])
def test_both_are_read(player: Player, typed: str) -> None:
    setup = player.begin(player.make("bass_4_34", name="Typed"))
    player.fill(f"{setup}/read/relief", value=typed)
    assert "−0.10 mm" in plain(player.get(f"{setup}/journal").text)
