"""The clearance page: choose a string and a fret, see the gaps, tap the map."""

import gzip
import re

import pytest
from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, Bench

COMPRESSED_LIMIT = 15_000


@pytest.fixture
def bass(engine: Engine) -> str:
    """A bass whose relief reads 0.30 and whose thickest string reads 2.5."""
    bench = Bench(BASS).start()
    bench.reading("relief", 0.3, step=0.01)
    bench.reading("height.4", 2.5, step=0.05)
    return f"/instruments/{shelve(engine, bench, finished=False)[0]}"


def test_it_says_the_clean_swing_and_the_first_touch(player: Player, bass: str) -> None:
    words = plain(player.get(f"{bass}/clearance?string=4").text)
    assert "Clean up to a swing of 0.94 mm ; first touch: fretted at 4 over fret 7." in words
    assert re.search(r"Relief 0\.30 mm , give or take 0\.\d\d mm , measured", words)
    assert re.search(r"Height at 12 2\.50 mm , give or take 0\.\d\d mm , measured", words)
    assert "Open, it" not in words


def test_the_open_string_is_there_once_its_nut_was_read(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.3, step=0.01)
    bench.reading("height.4", 2.5, step=0.05)
    bench.reading("nut.4", 0.35, step=0.05)
    home = f"/instruments/{shelve(engine, bench)[0]}/clearance?string=4"
    page = player.get(home).text
    assert "Open, it stays clean: over fret" in plain(page)
    assert re.search(r"Open, over fret 1 0\.35 mm , give or take 0\.0\d mm , measured", plain(page))
    opened = player.get(f"{home}&fret=0").text
    assert "Open , tightest over fret" in plain(opened)
    assert "The E string open, from the side" in plain(opened)
    assert "0 is open" in plain(opened)


def test_the_held_note_says_what_it_meets_first(player: Player, bass: str) -> None:
    page = player.get(f"{bass}/clearance?string=4&touch=firm&fret=4").text
    assert "Fretted at 4 , tightest over fret 7: close" in plain(page)


def test_what_is_in_hand_stands_first_then_the_string_then_the_slider(player: Player, bass: str) -> None:
    page = player.get(f"{bass}/clearance").text
    told = re.search(r'<h1 class="read"><span class="figure">([\d.]+) mm</span>', page)
    in_hand = re.search(r"A medium touch swings it [\d.]+ mm ?: ([\d.]+) mm in hand", plain(page))
    assert told and in_hand and told[1] == in_hand[1]
    assert page.index("<h1") < page.index("<svg xmlns") < page.index('type="range"') < page.index('id="map"')


def test_the_map_is_one_drawing_with_its_words(player: Player, bass: str) -> None:
    page = player.get(f"{bass}/clearance?string=4").text
    assert "medium touch: every note over every fret ahead" in page
    counts = re.search(r"fret ahead: touches: (\d+), close: (\d+), clear: (\d+)\.", page)
    assert counts is not None and sum(int(n) for n in counts.groups()) == 190


def test_without_script_every_fret_is_a_link(player: Player, bass: str) -> None:
    page = player.get(f"{bass}/clearance?string=3&fret=6").text
    frets = re.findall(r'<a href="[^"]+fret=(\d+)"', page)
    assert [int(f) for f in frets] == list(range(1, 20))
    assert "fretted at 6, from the side" in page


@pytest.mark.parametrize("kind", ["electric_7", "bass_6_34"])
def test_the_page_is_light(player: Player, kind: str) -> None:
    page = player.get(f"{player.make(kind)}/clearance").text
    assert len(gzip.compress(page.encode(), 6)) <= COMPRESSED_LIMIT


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("string=9", "The string: a whole number from 1 to 4."),
        ("fret=20", "The fret to hold: a whole number from 1 to 19."),
        ("fret=0", "The fret to hold: a whole number from 1 to 19."),
        ("fret=x", "The fret to hold: a whole number from 1 to 19."),
        ("touch=own", "Choose one of the touches."),
    ],
)
def test_what_cannot_be_meant_gets_a_sentence(player: Player, bass: str, query: str, sentence: str) -> None:
    page = player.get(f"{bass}/clearance?{query}", 422).text
    assert sentence in plain(page) and "from the side" in page


def test_nothing_measured_is_said(player: Player) -> None:
    words = plain(player.get(f"{player.make('classical_6')}/clearance").text)
    assert "nothing is measured yet" in words and "middle of the target" in words


def test_another_benchs_instrument_is_not_here(player: Player) -> None:
    player.get("/instruments/nosuchthing1/clearance", 404)


def test_the_instruments_card_leads_here(player: Player, bass: str) -> None:
    page = player.get(bass).text
    for place in ("clearance", "low", "what-if", "touch"):
        assert f'href="{bass}/{place}"' in page
        player.get(f"{bass}/{place}")
