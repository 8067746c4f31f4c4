"""A bench to visit: the real app on a new database, spoken to as a browser would."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.keyed import ORIGIN, keyed
from webapp.app import create_app
from webapp.trade.content import Trade, load_trade
from webapp.web.settings import Settings, assets

__all__ = ["ORIGIN", "Form", "Player", "plain"]


# These pages read and sum; what the store does for them, the other pages try on both databases.
ON_SQLITE_ALONE = (
    "history/", "instrument/", "tryout/", "test_markup.py", "setup/test_readings_bad_input.py",
    "setup/test_report.py", "setup/test_screens.py",
)  # fmt: skip


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With BENCHSIDE_POSTGRES=all, nothing is spared."""
    if os.environ.get("BENCHSIDE_POSTGRES") == "all":
        return
    spared = {item for item in items if _sums_only(item) and _on_postgres(item)}
    config.hook.pytest_deselected(items=list(spared))
    items[:] = [item for item in items if item not in spared]


def _sums_only(item: pytest.Item) -> bool:
    here = Path(__file__).parent
    return item.path.is_relative_to(here) and str(item.path.relative_to(here)).startswith(ON_SQLITE_ALONE)


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
        """Describe an instrument of a kind, accepting what it fills in; returns its page."""
        return self.fill(f"/instruments/new?kind={kind}", action="/instruments/new", **filled).headers[
            "location"
        ]

    def begin(self, instrument: str) -> str:
        """Start a setup from the instrument's page; returns the setup's page."""
        answer = self.fill(instrument, action=f"{instrument}/setups")
        return re.sub(r"/next$", "", answer.headers["location"])


def plain(html: str) -> str:
    """The words of a page."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


@pytest.fixture
def client(engine: Engine, trade: Trade, tmp_path: Path) -> Iterator[TestClient]:
    app = create_app(Settings(data_dir=tmp_path), trade, engine)
    with keyed(app) as client:
        yield client


@pytest.fixture
def player(client: TestClient) -> Player:
    return Player(client)
