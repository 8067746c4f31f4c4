"""The bench: empty, with instruments, in every state they can be in."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Engine

from tests.keyed import keyed
from tests.pages.conftest import Player, plain
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, Bench
from webapp.app import create_app
from webapp.setups.journal import Part
from webapp.trade.content import Trade
from webapp.trade.words import Check
from webapp.web.settings import Settings


@pytest.fixture
def demo(engine: Engine, trade: Trade, tmp_path: Path) -> Iterator[Player]:
    app = create_app(Settings(data_dir=tmp_path, demo=True), trade, engine)
    with keyed(app) as client:
        yield Player(client)


def test_an_empty_bench_says_one_kind_sentence_and_offers_a_start(player: Player) -> None:
    page = player.get("/").text
    assert "Nothing on the bench yet" in plain(page)
    assert 'href="/instruments/new"' in page
    assert 'class="list"' not in page


def buttons(page: str) -> list[str]:
    """The words on the main buttons."""
    return [plain(words).strip() for words in re.findall(r'class="button button-main"[^>]*>(.*?)<', page)]


def test_an_instrument_is_listed_with_what_it_is_its_portrait_and_how_it_stands(player: Player) -> None:
    path = player.make("bass_4_34", name="Old blue")
    page = player.get("/")
    assert "Old blue 4 strings, 34 in Old blue from the front, to scale" in plain(page.text)
    assert "Not set up yet." in plain(page.text)
    assert f'href="{path}"' in page.text
    assert "Nothing on the bench yet" not in page.text


def test_a_first_setup_starts_from_the_bench_each_instrument_its_own(player: Player) -> None:
    paths = [player.make(kind) for kind in ("bass_4_34", "electric_6")]
    forms = [player.form("/", f"{path}/setups") for path in paths]
    assert forms[0] != forms[1]
    led = [player.post(f"{path}/setups", form) for path, form in zip(paths, forms, strict=True)]
    assert led[0].headers["location"] != led[1].headers["location"]


def test_a_setup_under_way_is_continued_from_the_bench(player: Player) -> None:
    setup = player.begun("bass_4_34")
    page = player.get("/")
    assert "Setup begun. Next: get ready." in plain(page.text)
    assert f'href="{setup}/next"' in page.text
    assert buttons(page.text) == ["Continue"]


def test_what_is_under_way_comes_first_and_has_the_one_main_button(player: Player) -> None:
    for name in ("First", "Second", "Third"):
        path = player.make("bass_4_34", name=name)
    player.begin(path)
    page = player.get("/").text
    assert plain(page).index("Third") < plain(page).index("First")
    assert buttons(page) == ["Continue"]
    assert buttons(player.get(path).text) == ["Continue: get ready"]


def read_all(engine: Engine, relief_mm: float, nut_mm: float) -> None:
    """A bass that was read all over a day ago, the rest in the middle of its targets."""
    bench = Bench(BASS)
    bench.now = datetime.now(UTC) - timedelta(days=1)
    bench.start().reading("relief", relief_mm)
    bench.reading("nut.4", nut_mm)
    bench.read(Check.RELIEF, Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS)
    for key, value in (("relief", relief_mm), ("nut.4", nut_mm)):
        bench.reading(key, value)
        bench.reading(key, value)
    shelve(engine, bench)


def test_what_is_off_and_what_is_left_for_a_repairer_stand_on_the_portrait(
    player: Player, engine: Engine
) -> None:
    read_all(engine, relief_mm=0.9, nut_mm=1.1)
    page = plain(player.get("/").text)
    assert "Relief: too much bow." in page and "Nut: for a repairer." in page
    assert "1 for a repairer." in page
    assert "All good." not in page


@pytest.mark.parametrize(("hours", "action"), [(1, "Quick check"), (400, "Read relief")])
def test_a_turned_rod_is_read_again_once_it_has_settled(
    player: Player, engine: Engine, hours: float, action: str
) -> None:
    bench = Bench(BASS)
    bench.now = datetime.now(UTC) - timedelta(hours=hours)
    bench.start().reading("relief", 0.7)
    bench.turn(Part.ROD, 1)
    shelve(engine, bench)
    assert buttons(player.get("/").text) == [action]


def test_every_instrument_is_drawn_to_the_scale_of_the_longest(player: Player) -> None:
    player.make("bass_4_34", name="Long")
    player.make("electric_6", name="Short")
    page = player.get("/").text
    assert "All drawn to one scale." in page
    long, short = (_length(part) for part in page.split("<li>")[1:3])
    assert 0.7 < short / long < 0.95


def _length(card: str) -> float:
    """How far right the drawing reaches."""
    drawn = " ".join(re.findall(r' (?:d|points)="([^"]+)"', card.split("</svg>")[0]))
    return max(float(x) for x in re.findall(r"([\d.]+)[ ,][\d.]+", drawn))


def test_only_the_demo_bench_says_that_it_is_invented(player: Player, demo: Player, trade: Trade) -> None:
    assert trade.demo.notice in demo.get("/").text
    assert trade.demo.notice not in player.get("/").text


def test_a_name_full_of_markup_is_only_words(player: Player) -> None:
    player.make("bass_4_34", name="<script>alert('x')</script> & \"Söhne\"")
    page = player.get("/").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; &#34;Söhne&#34;" in page


@pytest.mark.parametrize("unit", ["mm", "in", "thou", "64ths"])
def test_the_unit_is_remembered(player: Player, unit: str) -> None:
    assert player.fill("/", action="/units", unit=unit).headers["location"] == "/"
    assert player.form("/", "/units")["unit"] == unit


@pytest.mark.parametrize("sent", [{"unit": "furlongs"}, {"unit": ""}, {}])
def test_a_strange_unit_is_answered_with_a_sentence(player: Player, sent: dict[str, object]) -> None:
    player.fill("/", action="/units", unit="thou")
    assert "Choose one of these units." in player.post("/units", sent, 422).text
    assert player.form("/", "/units")["unit"] == "thou"


def test_what_was_taken_off_the_bench_is_still_found(player: Player) -> None:
    path = player.make("classical_6", name="Sold one")
    player.make("bass_4_34", name="Kept one")
    player.fill(f"{path}/archive")
    page = plain(player.get("/").text)
    assert "Taken off the bench (1) Sold one" in page
    assert page.index("Kept one") < page.index("Taken off the bench")
