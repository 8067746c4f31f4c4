"""What a page costs on a slow line: HTML, CSS and JavaScript as sent, compressed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.pages.conftest import ORIGIN, Player
from webapp.app import create_app
from webapp.demo import fill
from webapp.settings import Settings
from webapp.trade.load import Trade

FIRST_BYTES = 60_000
LATER_BYTES = 15_000
CHECKS = ("start", "relief", "height", "nut", "intonation", "pickups", "playtest")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, trade: Trade) -> Iterator[Player]:
    """A filled bench."""
    from webapp.store.engine import open_store

    folder = tmp_path_factory.mktemp("demo")
    engine: Engine = open_store(folder / "bench.sqlite3")
    fill(engine, trade, datetime.now(UTC))
    app = create_app(Settings(data_dir=folder), trade, engine)
    with TestClient(app, base_url=ORIGIN, headers={"Origin": ORIGIN}) as client:
        yield Player(client)
    engine.dispose()


def links(player: Player, path: str, like: str) -> list[str]:
    return list(dict.fromkeys(re.findall(rf'href="({like})"', player.get(path).text)))


def every_page(player: Player) -> list[str]:
    """The address of every page of the bench, each at its fullest."""
    pages = ["/", "/instruments/new", "/instruments/new?kind=bass_6_34", "/no/such/page"]
    for home in links(player, "/", '/instruments/[^/"]+'):
        if home.endswith("/new"):
            continue
        pages += [home, f"{home}/edit", f"{home}/history", f"{home}/drawings", f"{home}/archive"]
        pages += links(player, f"{home}/history", f'{home}/history/[^"]+')
        for setup in links(player, f"{home}/history", '/setups/[^/"]+(?:/report)?'):
            pages += pages_of_setup(player, setup.removesuffix("/report"))
    return list(dict.fromkeys(pages))


def pages_of_setup(player: Player, setup: str) -> list[str]:
    checks = [f"{setup}/check/{check}" for check in CHECKS]
    slots = [slot for check in checks for slot in links(player, check, f'{setup}/(?:read|adjust)/[^"]+')]
    questions = [f"{setup}/ask/{name}" for name in ("start", "buzz", "listen", "playtest")]
    rest = [f"{setup}/{name}" for name in ("finish", "log", "journal", "report")]
    return [
        setup,
        *checks,
        *slots,
        *(slot.replace("/adjust/", "/read/") for slot in slots),
        *questions,
        *rest,
    ]


def sent(answer: httpx.Response) -> int:
    """Bytes of a body on the wire."""
    assert answer.headers["content-encoding"] == "gzip" or int(answer.headers["content-length"]) < 1000
    return int(answer.headers["content-length"])


def test_every_page_is_light_the_first_time_and_after(demo: Player) -> None:
    pages = every_page(demo)
    assert len(pages) > 100
    linked: dict[str, int] = {}
    for path in pages:
        answer = demo.get(path, 404 if path == "/no/such/page" else 200)
        files = re.findall(r'(?:src|href)="(/static/[^"]+\.(?:css|js)\?v=\w+)"', answer.text)
        assert files
        for file in files:
            if file not in linked:
                linked[file] = sent(demo.get(file))
                assert "immutable" in demo.get(file).headers["cache-control"]
        later = sent(answer)
        assert later <= LATER_BYTES, (path, later)
        assert later + sum(linked[file] for file in files) <= FIRST_BYTES, path


def test_pages_carry_no_style_and_no_script_of_their_own(demo: Player) -> None:
    for path in every_page(demo):
        page = demo.client.get(path).text
        assert not re.search(r"<style|<script(?! src=)|\sstyle=|\son[a-z]+=|javascript:", page), path
        assert not re.search(r'(?:src|href)="(?:https?:)?//', page), path


def test_what_is_sent_is_the_file_compressed(demo: Player, tmp_path: Path) -> None:
    page = demo.get("/").text
    (css,) = re.findall(r'href="(/static/benchside\.css\?v=\w+)"', page)
    assert sent(demo.get(css)) < len(demo.get(css).content) / 2
