"""The history as the player reads it."""

from __future__ import annotations

import re

import pytest
from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.pages.years import put_on
from tests.setups.journals import BASS, Bench
from webapp.pages.history import history
from webapp.setups.journal import Part


def rows(html: str) -> list[str]:
    return [plain(row).strip() for row in re.findall(r"<tr[^>]*>(.*?)</tr>", html, re.S)]


def items(html: str) -> list[tuple[str, str]]:
    """The lists' links and their words."""
    found = re.findall(r'<li><a href="([^"]*)">(.*?)</a></li>', html, re.S)
    return [(href, plain(words).strip()) for href, words in found]


def two_setups(engine: Engine) -> tuple[str, str, str]:
    """An instrument with one finished setup and, half a year later, one that goes on."""
    first = Bench(BASS).start()
    first.reading("relief", 0.7)
    first.turn(Part.ROD, 2)
    first.correct(first.reading("relief", 3.0), 0.3)
    instrument, old = shelve(engine, first)
    second = Bench(BASS)
    second.wait(days=180)
    second.start()
    second.reading("relief", 0.53, hold=1, press=20, gap=8)
    second.reading("height.4", 2.5)
    _, new = shelve(engine, second, instrument, finished=False)
    return instrument, old, new


def test_every_setup_leads_to_its_report_or_goes_on(player: Player, engine: Engine) -> None:
    instrument, old, new = two_setups(engine)
    listed = items(player.get(f"/instruments/{instrument}/history").text)
    assert [href for href, _ in listed[:2]] == [f"/setups/{new}", f"/setups/{old}/report"]
    assert "Not finished: 2 of 7 checks done." in listed[0][1]
    assert "Finished 1 March 2025." in listed[1][1]


def test_the_newest_reading_of_every_place_leads_to_its_series(player: Player, engine: Engine) -> None:
    instrument, _, _ = two_setups(engine)
    listed = items(player.get(f"/instruments/{instrument}/history").text)
    home = f"/instruments/{instrument}/history"
    assert listed[2:] == [
        (f"{home}/relief", "Relief 28 Aug 2025, converted 0.30 mm good"),
        (f"{home}/height.4", "E string 28 Aug 2025 2.50 mm good"),
    ]
    for href, _ in listed[2:]:
        player.get(href)


def test_a_series_shows_every_reading_and_what_was_turned_between(player: Player, engine: Engine) -> None:
    instrument, _, _ = two_setups(engine)
    html = player.get(f"/instruments/{instrument}/history/relief").text
    words = [re.sub(r"^\d+ \w+ \d{4} \d\d:\d\d ", "", row) for row in rows(html)[1:]]
    way = "held at 1, pressed at 13, gap at 7; feeler gauge"
    assert words[::-1] == [
        f"0.70 mm too much bow {way}",
        "Rod: tightened a quarter turn",
        f"3.00 mm corrected {way}",
        f"0.30 mm good {way}",
        "0.30 mm converted good held at 1, pressed at 20, gap at 8; feeler gauge read 0.53 mm",
    ]
    assert "<del>3.00 mm</del>" in html


def test_the_chart_shows_the_valid_readings_and_leads_to_their_lines(player: Player, engine: Engine) -> None:
    instrument, _, _ = two_setups(engine)
    html = player.get(f"/instruments/{instrument}/history/relief").text
    (description,) = re.findall(r"<desc>(.*?)</desc>", html, re.S)
    assert "Target 0.15 to 0.45 mm. Usual 0.08 to 0.65 mm." in description
    assert "3.00" not in description
    assert "0.30 mm (good, converted)" in description
    links = re.findall(r'class="d-link" href="#([^"]*)"', html)
    assert len(links) == 3
    assert all(f'<tr id="{link}">' in html for link in links)
    assert "Converted from another way of reading: 28 Aug 2025." in plain(html)


def test_what_was_typed_is_shown_where_the_value_does_not_say_it(player: Player, engine: Engine) -> None:
    bench = Bench(BASS)
    reading = bench.reading("height.4", 2.38125)
    bench.entries[-1] = type(reading)(**{**vars(reading), "typed": "3/32", "unit": "in"})
    instrument, _ = shelve(engine, bench)
    assert "2.38 mm" in plain(player.get(f"/instruments/{instrument}/history/height.4").text)
    assert "typed 3/32 in" in plain(player.get(f"/instruments/{instrument}/history/height.4").text)


def test_intonation_is_told_in_cents(player: Player, engine: Engine) -> None:
    bench = Bench(BASS)
    bench.reading("intonation.4.high", -9.0, fret=19)
    instrument, _ = shelve(engine, bench)
    words = plain(player.get(f"/instruments/{instrument}/history/intonation.4.high").text)
    assert "Target −5 to +5 cents, usual −12 to +12 cents." in words
    assert "−9 cents" in words and "at fret 19; tuner" in words


def test_a_place_whose_readings_are_all_struck_can_still_be_seen(player: Player, engine: Engine) -> None:
    bench = Bench(BASS)
    bench.void(bench.reading("relief", 0.9))
    instrument, _ = shelve(engine, bench)
    assert "struck through" in plain(player.get(f"/instruments/{instrument}/history").text)
    html = player.get(f"/instruments/{instrument}/history/relief").text
    assert "<del>0.90 mm</del>" in html and 'class="drawing"' not in html


def test_an_instrument_without_setups_says_so(player: Player) -> None:
    home = player.make(BASS)
    assert "No setup yet." in plain(player.get(f"{home}/history").text)


def test_places_that_are_not_there_are_404(player: Player, engine: Engine) -> None:
    instrument, _, _ = two_setups(engine)
    for key in ("nut.4", "height.9", "nonsense", "pickups.1.left"):
        player.get(f"/instruments/{instrument}/history/{key}", status=404)
    player.get("/instruments/nothere/history", status=404)
    player.get("/instruments/nothere/history/relief", status=404)


def test_a_long_history_comes_a_page_at_a_time(player: Player, engine: Engine) -> None:
    home = f"/instruments/{put_on(engine, checks=240, days=900, per_check=2, air=False)}/history"
    seen, page = [], player.get(home).text
    assert "Readings in time" in page
    while True:
        seen += re.findall(r"/quick/(years-\d+)", page)
        older = re.search(r'href="([^"]*skip=\d+)">Older', page)
        if older is None:
            break
        page = player.get(older[1]).text
        assert "Readings in time" not in page and "Newer</a>" in page
    assert seen == [f"years-{number}" for number in reversed(range(240))]
    player.get(f"{home}?skip=240", 404)
    for odd in ("-1", "x", "99999999999"):
        player.get(f"{home}?skip={odd}", 404)


def test_a_long_series_comes_a_page_at_a_time_and_whole_as_a_table(player: Player, engine: Engine) -> None:
    home = f"/instruments/{put_on(engine, checks=240, days=900, air=False)}/history/relief"
    first, last = player.get(home).text, player.get(f"{home}?skip=200").text
    assert len(re.findall(r'id="entry-', first)) == 100 and "Newer" not in first
    assert len(re.findall(r'id="entry-', last)) == 40 and "Older" not in last
    target = re.search(r"Target [^<]*", first)
    assert target is not None and target[0] in last
    assert len(player.get(f"{home}.csv").text.splitlines()) == 1 + 240 + 2
    player.get(f"{home}?skip=900", 404)


def test_a_page_of_a_series_may_hold_turns_alone(
    player: Player, engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(history, "READ_IN_SHOWN", 1)
    # The rod was turned in the first setup; the string's height was read in the second alone.
    instrument, _, _ = two_setups(engine)
    home = f"/instruments/{instrument}/history/height.4"
    pages = [player.get(f"{home}?skip={skip}").text for skip in (0, 1)]
    assert 'id="entry-' in pages[0] and "struck through." not in pages[1].partition("<section>")[0]
    assert 'id="entry-' not in pages[1] and "Newer" in pages[1] and "Older" not in pages[1]
    player.get(f"{home}?skip=2", 404)
