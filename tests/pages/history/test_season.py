"""The seasons of an instrument: words, chart, table, CSV; and ten years of it."""

from __future__ import annotations

import csv
import html
import io
import re
import time

from sqlalchemy import Engine

from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.pages.years import NAME, put_on
from tests.setups.journals import BASS, Bench
from webapp.pages.history.season import PER_PAGE
from webapp.setups.journal import Part

FIRST_VISIT_BYTES = 60_000


def points(page: str) -> list[tuple[str, str]]:
    """The addresses and words of the chart's points."""
    found = re.findall(r'class="d-link" id="p-\d+" href="([^"]+)" aria-label="([^"]+)"', page)
    return [(html.unescape(href), words) for href, words in found]


def rows(page: str) -> list[str]:
    return [plain(row).strip() for row in re.findall(r"<tr><th scope=\"row\">(.*?)</tr>", page, re.S)]


def read_csv(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.lstrip("\ufeff"))))


def test_two_years_say_what_the_neck_does(player: Player, engine: Engine) -> None:
    home = f"/instruments/{put_on(engine, checks=50, days=730)}"
    assert f'href="{home}/seasons"' in player.get(home).text
    page = player.get(f"{home}/seasons").text
    words = plain(page)
    assert re.search(r"About 0\.0\d\d mm more relief for each percent of moisture lost", words)
    assert re.search(r"(Left alone, it stays good until|Left alone, .* by|Probably .* already) ", words)
    assert re.search(r"(Expect \d\.\d\d mm in \w+|About \d\.\d\d mm now), give or take \d", words)
    assert len(points(page)) == 51 and len(rows(page)) == 51
    assert points(page)[0][1].count("mm") == 2 and "feeler gauge" in points(page)[0][1]
    assert page.count('class="d-fan"') == 4 and "in air as it was a year ago: right 1 in 2" in words
    assert 'class="d-itself"' in page and 'class="d-air"' in page and "% humidity" in page
    assert re.search(r'<a class="d-link" href="#turn-1" aria-label="[^"]*Rod: tightened an eighth', page)
    assert '<li id="turn-1">' in page
    assert NAME in words


def test_a_point_leads_to_its_details_and_its_setup(player: Player, engine: Engine) -> None:
    home = f"/instruments/{put_on(engine, checks=20, days=300)}"
    href, words = points(player.get(f"{home}/seasons").text)[3]
    assert re.fullmatch(r"\?of=relief&point=\d+#p-\d+", href)
    page = player.get(f"{home}/seasons{href.partition('#')[0]}").text
    (says,) = re.findall(r'<p class="cell-says"[^>]*>(.*?)</p>', page, re.S)
    assert words in plain(says)
    assert page.count('aria-current="true"') == 1 and page.count('class="d-chosen"') == 2
    (setup,) = re.findall(r'href="([^"]+)"', says)
    assert setup == f"{home}/quick/years-3"
    player.get(setup)
    assert 'aria-current="true"' not in player.get(f"{home}/seasons?point=999999").text


def test_the_table_and_the_csv_have_the_same_numbers(player: Player, engine: Engine) -> None:
    home = f"/instruments/{put_on(engine, checks=30, days=600)}"
    page = player.get(f"{home}/seasons").text
    answer = player.get(f"{home}/seasons.csv?of=relief")
    assert answer.headers["content-disposition"] == 'attachment; filename="relief-seasons.csv"'
    told = read_csv(answer.text)
    shown = [re.findall(r"(-?\d\.\d\d) mm", row) for row in rows(page)][::-1]
    assert [[f"{float(r['measured_mm']):.2f}", f"{float(r['by_itself_mm']):.2f}"] for r in told] == shown
    assert told[0]["typed_unit"] == "mm" and told[0]["tool"] == "feeler" and told[0]["setup"] == "years-0"
    assert 30 < float(told[0]["humidity_percent"]) < 65 and 5 < float(told[0]["wood_moisture_percent"]) < 14


def test_strings_can_be_chosen(player: Player, engine: Engine) -> None:
    home = f"/instruments/{put_on(engine, checks=12, days=300, per_check=3)}"
    page = player.get(f"{home}/seasons").text
    assert re.findall(r'href="[^"]*/seasons\?of=([^"&]+)"', page) == ["relief", "height.3", "height.2"]
    of_height = player.get(f"{home}/seasons?of=height.3").text
    assert (
        "Height, A string" in plain(of_height)
        and "more height" in plain(of_height)
        or "height so far" in of_height
    )
    assert re.search(r'height\.3" aria-current="page"', of_height)
    for bad in ("nut.1", "height.9", "intonation.1.12", "x"):
        player.get(f"{home}/seasons?of={bad}", 404)
        player.get(f"{home}/seasons.csv?of={bad}", 404)


def main_button(page: str) -> list[tuple[str, str]]:
    return re.findall(r'class="button button-main" href="([^"]+)">([^<]+)<', page)


def test_what_is_or_will_be_off_has_one_thing_to_do(player: Player, engine: Engine) -> None:
    home = f"/instruments/{put_on(engine, checks=50, days=730, per_check=5)}"
    good = player.get(f"{home}/seasons?of=height.4").text
    assert "Left alone, it stays good until" in good and main_button(good) == []
    player.fill(f"{home}/edit", touch="firm")  # whose strings have to stand higher
    off = player.get(f"{home}/seasons?of=height.4").text
    assert re.search(r"<h1>Probably (a touch|too) low (already|today)</h1>", off)
    assert main_button(off) == [(f"{home}/quick", "Read string height now")]


def test_how_level_a_floating_bridge_sits_is_no_season(player: Player) -> None:
    home = player.make("electric_6_floating")
    player.get(f"{home}/seasons?of=height.6")
    player.get(f"{home}/seasons?of=height.level", 404)


def test_cards_are_shown_as_ranges_through_the_seasons(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.reading("relief", 0.75, method="card", answer="two", low=0.6, high=0.9)
    bench.turn(Part.ROD, 2)
    bench.wait(days=4)
    bench.reading("relief", 0.45, method="card", answer="one", low=0.3, high=0.6)
    instrument, _ = shelve(engine, bench)
    home = f"/instruments/{instrument}/seasons"
    page = player.get(home).text
    assert [words.partition(",")[0].partition(": ")[2] for _, words in points(page)] == [
        "0.60 to 0.90 mm measured", "0.30 to 0.60 mm measured",
    ]  # fmt: skip
    assert page.count('class="d-reach"') == 2
    first, last = read_csv(player.get(f"{home}.csv").text)
    assert (first["measured_mm"], first["measured_from_mm"], first["measured_to_mm"]) == ("", "0.6", "0.9")
    assert float(last["by_itself_from_mm"]) > 0.35


def test_with_too_little_it_says_what_is_missing(player: Player, engine: Engine) -> None:
    home = player.make(BASS)
    assert "There is no reading so far." in plain(player.get(f"{home}/seasons").text)
    bench = Bench(BASS).start()
    bench.reading("relief", 0.7)
    bench.turn(Part.ROD, 2)
    bench.reading("relief", 0.5)
    instrument, setup = shelve(engine, bench)
    page = player.get(f"/instruments/{instrument}/seasons").text
    words = plain(page)
    assert "Not enough readings yet to say." in words and "It takes at least 6" in words
    assert "No humidity is known for these days" in words
    assert len(points(page)) == 2 and f'href="/setups/{setup}/report"' in page


def test_it_is_said_in_the_players_unit(player: Player, engine: Engine) -> None:
    home = f"/instruments/{put_on(engine, checks=12, days=300)}"
    player.fill("/", action="/units", unit="thou")
    page = player.get(f"{home}/seasons").text
    assert re.search(r"\d+ thou measured", points(page)[0][1])
    assert float(read_csv(player.get(f"{home}/seasons.csv").text)[0]["measured_mm"]) < 1


def test_another_benchs_seasons_are_not_there(player: Player) -> None:
    player.get("/instruments/nothere/seasons", 404)
    player.get("/instruments/nothere/seasons.csv", 404)


def test_ten_years_and_five_thousand_readings_stay_quick_and_light(player: Player, engine: Engine) -> None:
    home = f"/instruments/{put_on(engine, checks=556, days=3650, per_check=9)}"
    begun = time.process_time()
    answer = player.get(f"{home}/seasons")
    assert time.process_time() - begun < 8
    assert int(answer.headers["content-length"]) < FIRST_VISIT_BYTES
    page = answer.text
    assert re.search(r"Of 557 readings \d+ are drawn", plain(page))
    assert 100 < len(points(page)) < 400
    assert len(rows(page)) == PER_PAGE
    (older,) = re.findall(r'href="([^"]+page=2)#table"', page)
    second = player.get(html.unescape(older)).text
    assert len(rows(second)) == PER_PAGE and not set(rows(second)) & set(rows(page))
    assert "Newer readings" in second and "Newer readings" not in page
    assert len(read_csv(player.get(f"{home}/seasons.csv").text)) == 557
    assert len(rows(player.get(f"{home}/seasons?page=99").text)) == 557 % PER_PAGE


def test_every_series_of_the_history_is_a_csv_too(player: Player, engine: Engine) -> None:
    bench = Bench(BASS).start()
    bench.correct(bench.reading("relief", 3.0), 0.7)
    bench.turn(Part.ROD, 2)
    bench.reading("relief", 0.53, hold=1, press=20, gap=8)
    bench.reading("intonation.4.high", -9.0, fret=19)
    instrument, setup = shelve(engine, bench)
    home = f"/instruments/{instrument}/history"
    assert f'href="{home}/relief.csv"' in player.get(f"{home}/relief").text
    told = read_csv(player.get(f"{home}/relief.csv").text)
    assert [(r["as_read"], r["unit"], r["struck_out"], r["turned"]) for r in told] == [
        ("3", "mm", "yes", ""),
        ("0.7", "mm", "", ""),
        ("", "", "", "Rod: tightened a quarter turn"),
        ("0.53", "mm", "", ""),
    ]
    assert abs(float(told[3]["value"]) - 0.30) < 0.01 and told[3]["way"].startswith(
        "held at 1, pressed at 20"
    )
    # A name that begins with a minus is kept from being taken for a formula.
    assert {r["setup"].removeprefix("'") for r in told} == {setup}
    assert read_csv(player.get(f"{home}/intonation.4.high.csv").text)[-1]["unit"] == "cents"
    player.get(f"{home}/nut.4.csv", 404)
    player.get(f"{home}/nonsense.csv", 404)
