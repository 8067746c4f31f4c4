"""What a page costs on a slow line: HTML, CSS and JavaScript as sent, compressed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime

import httpx
import pytest

from tests.addresses import follow
from tests.keyed import keyed
from tests.pages.conftest import Player
from webapp.app import create_app
from webapp.demo import fill
from webapp.settings import Settings
from webapp.store.engine import open_store
from webapp.trade.load import Trade

FIRST_BYTES = 60_000
LATER_BYTES = 15_000
OF_A_KIND = 3


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, trade: Trade) -> Iterator[Player]:
    """A filled bench."""
    folder = tmp_path_factory.mktemp("demo")
    engine = open_store(folder / "bench.sqlite3")
    fill(engine, trade, datetime.now(UTC))
    app = create_app(Settings(data_dir=folder), trade, engine)
    with keyed(app) as client:
        yield Player(client)
    engine.dispose()


def sent(answer: httpx.Response) -> int:
    """Bytes of a body on the wire."""
    assert answer.headers["content-encoding"] == "gzip" or int(answer.headers["content-length"]) < 1000
    return int(answer.headers["content-length"])


@pytest.fixture(scope="module")
def answers(demo: Player) -> dict[str, httpx.Response]:
    """Every kind of page of the bench, a few of each."""
    fetched: dict[str, httpx.Response] = {}

    def fetch(path: str) -> str | None:
        if path not in fetched:
            fetched[path] = demo.client.get(path)
        kept = "attachment" in fetched[path].headers.get("content-disposition", "")
        return None if kept or "html" not in fetched[path].headers["content-type"] else fetched[path].text

    pages = follow(["/", "/no/such/page"], fetch, OF_A_KIND)
    assert len(pages) > 60
    assert [path for path in pages if fetched[path].status_code != 200] == ["/no/such/page"]
    return {path: fetched[path] for path in pages}


def test_every_page_is_light_the_first_time_and_after(
    demo: Player, answers: dict[str, httpx.Response]
) -> None:
    linked: dict[str, int] = {}
    for path, answer in answers.items():
        files = re.findall(r'(?:src|href)="(/static/[^"]+\.(?:css|js)\?v=\w+)"', answer.text)
        assert files
        for file in files:
            if file not in linked:
                linked[file] = sent(demo.get(file))
                assert "immutable" in demo.get(file).headers["cache-control"]
        later = sent(answer)
        assert later <= LATER_BYTES, (path, later)
        assert later + sum(linked[file] for file in files) <= FIRST_BYTES, path


def test_pages_carry_no_style_and_no_script_of_their_own(answers: dict[str, httpx.Response]) -> None:
    for path, answer in answers.items():
        page = answer.text
        assert not re.search(r"<style|<script(?! src=)|\sstyle=|\son[a-z]+=|javascript:", page), path
        assert not re.search(r'(?:src|href)="(?:https?:)?//', page), path


def test_what_is_sent_is_the_file_compressed(demo: Player) -> None:
    page = demo.get("/").text
    (css,) = re.findall(r'href="(/static/benchside\.css\?v=\w+)"', page)
    assert sent(demo.get(css)) < len(demo.get(css).content) / 2
