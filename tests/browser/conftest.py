"""A real server, and a real browser that must find nothing to complain of."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from tests.browser.support import Complaints, NewPage, Server, free_port

HERE = Path(__file__).parent
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
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
REQUIRED = os.environ.get("BENCHSIDE_BROWSER") == "required"
NOT_RUN = pytest.StashKey[bool]()


def chromium_path() -> str | None:
    return next((found for name in NAMES if (found := shutil.which(name))), None)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.is_relative_to(HERE):
            item.add_marker("browser")


@pytest.hookimpl(trylast=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if config.stash.get(NOT_RUN, False):
        terminalreporter.write_line(
            "Browser tests were not run: no Chromium was found. Install it to run them too.", yellow=True
        )


@pytest.fixture(scope="session")
def browser(pytestconfig: pytest.Config) -> Iterator[Browser]:
    path = chromium_path()
    if path is None:
        if REQUIRED:
            pytest.fail("no Chromium was found, and BENCHSIDE_BROWSER=required", pytrace=False)
        pytestconfig.stash[NOT_RUN] = True
        pytest.skip("no Chromium was found")
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield launched
        launched.close()


@pytest.fixture
def server(browser: Browser, tmp_path: Path) -> Iterator[Server]:
    """A server on an empty bench. (It asks for the browser first: without one there is nothing to start.)"""
    started = Server(tmp_path / "data", free_port())
    started.start()
    yield started
    started.stop()


@pytest.fixture(scope="session")
def demo_server(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server on the demo bench, for tests that only look."""
    started = Server(tmp_path_factory.mktemp("demo") / "data", free_port(), demo=True)
    started.start()
    yield started
    started.stop()


@pytest.fixture
def complaints() -> Complaints:
    """Ask for this to allow, before it happens, an answer of 400 or more: `.expected_statuses.add(422)`."""
    return Complaints()


@pytest.fixture
def new_page(browser: Browser, complaints: Complaints) -> Iterator[NewPage]:
    """Opens a watched page in a browser profile of its own: new_page(server, javascript=False, ...)."""
    contexts = []

    def open_page(server: Server, *, javascript: bool = True, **options: object) -> Page:
        settings: dict[str, object] = {"viewport": PHONE, **options}
        context = browser.new_context(base_url=server.url, java_script_enabled=javascript, **settings)  # type: ignore[arg-type]
        context.set_default_timeout(10_000)
        contexts.append(context)
        page = context.new_page()
        complaints.watch(page)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert complaints.found == []


@pytest.fixture
def page(new_page: NewPage, server: Server) -> Page:
    """A phone-sized page on an empty bench."""
    return new_page(server)


@pytest.fixture
def page_without_script(new_page: NewPage, server: Server) -> Page:
    """The same with JavaScript off."""
    return new_page(server, javascript=False)
