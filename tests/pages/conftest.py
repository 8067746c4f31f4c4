"""A bench to visit: the real app on a new database, spoken to as a browser would."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.keyed import ORIGIN, cookies_of, holding, keyed
from webapp.app import create_app
from webapp.store import benches
from webapp.store.engine import connect, writing
from webapp.trade.content import Trade, load_trade
from webapp.web.settings import Settings, assets
from webapp.web.state import AppState

__all__ = ["ORIGIN", "Form", "Player", "plain"]


HERE = "tests/pages/"
# What leans on the database itself, by file or by a word in a test's name: several at once, once and no more,
# limits that are counted, a process that is killed. All else the store's own tests try on both databases.
ON_BOTH_FILES = ("test_kept_pages.py", "visit/")
ON_BOTH_WORDS = (
    "once", "twice", "killed", "comes_to_an_end", "so_many", "last_place", "another_bench", "computer",
)  # fmt: skip


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With BENCHSIDE_POSTGRES=all, nothing is spared."""
    if os.environ.get("BENCHSIDE_POSTGRES") == "all":
        return
    here = (item for item in items if item.nodeid.startswith(HERE) and _on_postgres(item))
    spared = {item for item in here if not _on_both(item)}
    config.hook.pytest_deselected(items=list(spared))
    items[:] = [item for item in items if item not in spared]


def _on_both(item: pytest.Item) -> bool:
    file = item.nodeid.removeprefix(HERE)
    return file.startswith(ON_BOTH_FILES) or any(word in item.name for word in ON_BOTH_WORDS)


def _on_postgres(item: pytest.Item) -> bool:
    spec = getattr(item, "callspec", None)
    return spec is not None and spec.params.get("engine") == "postgres"


@pytest.fixture(scope="session")
def trade() -> Trade:
    return load_trade(assets().content)


@dataclass
class Form(HTMLParser):
    """The fields of a page's forms, as a browser would send them back unchanged."""

    html: str
    action: str | None = None
    fields: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        super().__init__()
        self._here = False
        self._select: str | None = None
        self._area: str | None = None
        self.feed(self.html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        a = dict(attrs)
        name = a.get("name") or ""
        if tag == "form":
            self._here = self.action is None or a.get("action") == self.action
        elif not self._here:
            return
        elif tag == "input" and name:
            if a.get("type") in ("checkbox", "radio") and "checked" not in a:
                return
            self.fields[name] = a.get("value") or ""
        elif tag == "select":
            self._select = name
        elif tag == "textarea":
            self._area = name
            self.fields[name] = ""
        elif tag == "option" and self._select and ("selected" in a or self._select not in self.fields):
            self.fields[self._select] = a.get("value") or ""

    def handle_data(self, data: str) -> None:
        if self._area:
            self.fields[self._area] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self._select = None
        elif tag == "textarea":
            self._area = None
        elif tag == "form":
            self._here = False


@dataclass
class Player:
    """Fetches pages and sends their forms back with some fields filled in."""

    client: TestClient
    shelf: Shelf | None = None

    def get(self, path: str, status: int = 200) -> httpx.Response:
        answer = self.client.get(path)
        assert answer.status_code == status, (path, answer.status_code)
        return answer

    def form(self, path: str, action: str | None = None) -> dict[str, str]:
        """The fields of the form at `path` that posts to `action` (to the page itself unless told)."""
        return Form(self.get(path).text, action or path).fields

    def post(self, path: str, data: Mapping[str, object], status: int = 303) -> httpx.Response:
        answer = self.client.post(path, data=data, follow_redirects=False)  # type: ignore[arg-type]
        assert answer.status_code == status, (path, answer.status_code, plain(answer.text)[:600])
        return answer

    def fill(
        self, path: str, status: int = 303, action: str | None = None, **filled: object
    ) -> httpx.Response:
        """Open a page, fill some fields of its form, send it."""
        return self.post(action or path, {**self.form(path, action), **filled}, status)

    def make(self, kind: str, **filled: object) -> str:
        """Describe an instrument by its kind, and correct what is told beside; returns its page."""
        asked = {name: filled.pop(name) for name in ("name", "touch", "left_handed") if name in filled}
        made = self.fill(f"/instruments/new?kind={kind}", action="/instruments/new", **asked)
        path = str(made.headers["location"]).removesuffix("/assumed")
        if filled:
            self.fill(f"{path}/edit", **filled)
        return path

    def begin(self, instrument: str) -> str:
        """Start a setup from the instrument's page; returns the setup's page."""
        answer = self.fill(instrument, action=f"{instrument}/setups")
        return re.sub(r"/next$", "", answer.headers["location"])

    def once(self, name: str, make: Callable[[], str]) -> str:
        """What `make` does to a bench with nothing on it, and returns: done once, then put back as it was."""
        return make() if self.shelf is None else self.shelf.put_back(self, name, make)

    def begun(self, kind: str) -> str:
        """A new setup of a new instrument, on a bench with nothing on it; returns the setup's page."""
        return self.once(f"begun {kind}", lambda: self.begin(self.make(kind)))


@dataclass
class Shelf:
    """What many tests begin with, as files: a bench with a key, and the same with something done on it."""

    folder: Path
    bench: Path
    cookies: dict[str, str]
    done: dict[str, tuple[Path, str]] = field(default_factory=dict)

    def put_back(self, player: Player, name: str, make: Callable[[], str]) -> str:
        own = Path(player.client.app.state.bench_app.engine.url.database)  # type: ignore[attr-defined]
        if name in self.done:
            copied(self.done[name][0], own)
        else:
            returned, kept = make(), self.folder / f"{len(self.done)}.sqlite3"
            copied(own, kept)
            self.done[name] = kept, returned
        return self.done[name][1]


def copied(source: Path, target: Path) -> None:
    """One database file in the place of another, whoever has either open."""
    with closing(sqlite3.connect(source)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new)


def plain(html: str) -> str:
    """The words of a page."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


@pytest.fixture(scope="session")
def shelf(migrated: Path, trade: Trade, tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    folder = tmp_path_factory.mktemp("shelf")
    bench = Path(shutil.copy(migrated, folder / "bench.sqlite3"))
    engine = connect(bench)
    cookies = cookies_of(create_app(Settings(data_dir=folder), trade, engine))
    engine.dispose()
    return Shelf(folder, bench, cookies)


def app_maker(trade: Trade) -> Callable[[Path, Engine], FastAPI]:
    """Makes the app on a data folder and a store of one's own, with nothing kept from before; each time the
    same app, whose routes and forms are looked through but once: that takes longer than most tests do."""
    made: list[FastAPI] = []

    def app_on(folder: Path, engine: Engine) -> FastAPI:
        if not made:
            made.append(create_app(Settings(folder), trade, engine))
        old: AppState = made[0].state.bench_app
        with writing(engine, "instance") as session:
            cookie = f"benchside_{benches.get_or_make(session).id}"
        made[0].state.bench_app = AppState(Settings(folder), trade, engine, old.templates, cookie, old.build)
        return made[0]

    return app_on


@pytest.fixture(scope="session")
def make_app(trade: Trade) -> Callable[[Path, Engine], FastAPI]:
    return app_maker(trade)


@pytest.fixture
def client(
    request: pytest.FixtureRequest,
    engine: Engine,
    make_app: Callable[[Path, Engine], FastAPI],
    tmp_path: Path,
) -> Iterator[TestClient]:
    if engine.dialect.name == "sqlite":
        shelf: Shelf = request.getfixturevalue("shelf")
        shutil.copy(shelf.bench, str(engine.url.database))
        made = holding(make_app(tmp_path, engine), shelf.cookies)
    else:
        made = keyed(make_app(tmp_path, engine))
    with made as client:
        yield client


@pytest.fixture
def player(request: pytest.FixtureRequest, engine: Engine, client: TestClient) -> Player:
    return Player(client, request.getfixturevalue("shelf") if engine.dialect.name == "sqlite" else None)
