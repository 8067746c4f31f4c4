from __future__ import annotations

import re
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from fastapi import APIRouter, FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import Engine

from webapp.app import create_app
from webapp.trade.content import load_trade
from webapp.web.settings import Settings, assets
from webapp.web.statics import FOR_GOOD, content_hash, static_url


@pytest.fixture
def app(engine: Engine, tmp_path: Path) -> FastAPI:
    return create_app(Settings(tmp_path), load_trade(assets().content), engine)


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    @app.get("/test/broken")
    def broken() -> None:
        raise RuntimeError("a secret of the inside")

    @app.get("/test/{number}")
    def numbered(number: int) -> None:
        """Only to be asked for something that is no number."""

    with TestClient(app, base_url="http://localhost:8765", raise_server_exceptions=False) as made:
        yield made


@pytest.mark.parametrize(
    "method, path, status",
    [
        ("GET", "/no/such/page", 404),
        ("GET", "/static/no-such-file.css", 404),
        ("GET", "/static/../pyproject.toml", 404),
        ("GET", "/static/..%2fpyproject.toml", 404),
        ("GET", "/docs", 404),
        ("GET", "/openapi.json", 404),
        ("POST", "/test/broken", 405),
        ("GET", "/test/words", 404),
        ("GET", "/test/broken", 500),
    ],
)
def test_a_failure_is_told_on_a_page_of_ours(client: TestClient, method: str, path: str, status: int) -> None:
    answer = client.request(method, path, headers={"Origin": "http://localhost:8765"})
    assert answer.status_code == status
    assert answer.headers["Content-Type"].startswith("text/html")
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert 'href="/"' in answer.text and "<h1>" in answer.text
    assert "secret" not in answer.text and "Traceback" not in answer.text


def test_a_wrong_method_is_told_the_right_one(client: TestClient) -> None:
    answer = client.post("/test/broken", headers={"Origin": "http://localhost:8765"})
    assert answer.headers["Allow"] == "GET"


def test_pages_that_are_asked_for_at_once_are_all_there(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first addresses come together, and none meets the pages half made."""
    include = APIRouter.include_router

    def slowly(self: APIRouter, *told: Any, **named: Any) -> None:
        time.sleep(0.02)
        include(self, *told, **named)

    monkeypatch.setattr(APIRouter, "include_router", slowly)
    with ThreadPoolExecutor(8) as callers:
        answers = list(callers.map(client.get, ["/pair"] * 24))
    assert {answer.status_code for answer in answers} == {200}


def test_static_files_may_be_kept_only_under_their_hash(client: TestClient) -> None:
    name = "icon.svg"
    address = static_url(assets().static)(name)
    assert re.fullmatch(r"/static/icon\.svg\?v=[0-9a-f]{12}", address)
    assert client.get(address).headers["Cache-Control"] == FOR_GOOD
    for other in (f"/static/{name}", f"/static/{name}?v=000000000000"):
        answer = client.get(other)
        assert (answer.status_code, answer.headers["Cache-Control"]) == (200, "no-cache")


def test_a_changed_file_gets_a_new_address(tmp_path: Path) -> None:
    file = tmp_path / "a.css"
    file.write_text("one")
    first = content_hash(file)
    assert content_hash(file) == first
    file.write_text("another")
    assert content_hash(file) != first
