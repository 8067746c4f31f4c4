"""A real server, and a real browser that must find nothing to complain of."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.browser.support import Complaints, NewPage, Server
from tests.conftest import NO_CHROMIUM
from tests.forked import free_port

HERE = Path(__file__).parent
NAMES = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
]
PHONE = {"width": 390, "height": 844}
# What is to be seen on a page is waited for as long as a person would wait; it fails no sooner.
PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
REQUIRED = os.environ.get("BENCHSIDE_BROWSER") == "required"


def chromium_path() -> str | None:
    return next((found for name in NAMES if (found := shutil.which(name))), None)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.is_relative_to(HERE):
            item.add_marker("browser")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = chromium_path()
    if path is None:
        if REQUIRED:
            pytest.fail("no Chromium was found, and BENCHSIDE_BROWSER=required", pytrace=False)
        pytest.skip(NO_CHROMIUM)
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield launched
        launched.close()


@pytest.fixture
def server(browser: Browser, migrated: Path, tmp_path: Path) -> Iterator[Server]:
    """A server on an empty bench. (It asks for the browser first: without one there is nothing to start.)"""
    started = Server(tmp_path / "data", free_port(), migrated)
    started.start()
    yield started
    started.stop()


@pytest.fixture(scope="session")
def demo_server(
    browser: Browser, demo_database: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Server]:
    """A server on the demo bench, for tests that only look."""
    started = Server(tmp_path_factory.mktemp("demo") / "data", free_port(), demo_database, demo=True)
    started.start()
    yield started
    started.stop()


@pytest.fixture
def complaints() -> Complaints:
    """Ask for this to allow, before it happens, an answer of 400 or more: `.expected_statuses.add(422)`."""
    return Complaints()


@pytest.fixture
def new_page(browser: Browser, complaints: Complaints) -> Iterator[NewPage]:
    """Opens a watched page in a browser profile of its own: new_page(server, javascript=False, ...).

    The profile holds a key to the bench, unless told otherwise (keyed=False)."""
    contexts = []

    def open_page(server: Server, *, javascript: bool = True, keyed: bool = True, **options: object) -> Page:
        settings: dict[str, object] = {"viewport": PHONE, **options}
        context = browser.new_context(base_url=server.url, java_script_enabled=javascript, **settings)  # type: ignore[arg-type]
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        if keyed:
            for name, value in server.cookies().items():
                context.add_cookies([{"name": name, "value": value, "url": server.url}])
        page = context.new_page()
        complaints.watch(page)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert complaints.found == []


@pytest.fixture
def page(new_page: NewPage, server: Server) -> Page:
    """A phone-sized page on an empty bench, entered by the link that the command printed."""
    return come_in(new_page(server, keyed=False), server)


@pytest.fixture
def page_without_script(new_page: NewPage, server: Server) -> Page:
    """The same with JavaScript off."""
    return come_in(new_page(server, keyed=False, javascript=False), server)


def come_in(page: Page, server: Server) -> Page:
    """Open the printed link and press its one button."""
    page.goto(server.entry)
    page.get_by_role("button", name="Open the bench").click()
    page.wait_for_url(f"{server.url}/")
    return page
