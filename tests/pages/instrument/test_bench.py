"""The bench: empty, with instruments, in every state they can be in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from tests.keyed import keyed
from tests.pages.conftest import Player, plain
from webapp.app import create_app
from webapp.trade.content import Trade
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


def test_an_instrument_is_listed_with_its_kind_and_state(player: Player) -> None:
    path = player.make("bass_4_34", name="Old blue")
    page = player.get("/")
    assert "Old blue Bass, 4 strings, 34 in Not set up yet" in plain(page.text)
    assert f'href="{path}"' in page.text
    assert "Nothing on the bench yet" not in page.text


def test_a_setup_under_way_is_continued_from_the_bench(player: Player) -> None:
    setup = player.begun("bass_4_34")
    page = player.get("/")
    assert "Setup under way since" in plain(page.text)
    assert f'href="{setup}/next"' in page.text
    assert "Continue: get ready" in plain(page.text)


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
