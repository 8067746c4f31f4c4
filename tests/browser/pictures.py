"""Paints the README's two pictures anew, from the demo bench: `python -m tests.browser.pictures`."""

from __future__ import annotations

import re
import shutil
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import ARGUMENTS, PHONE, chromium_path
from tests.browser.story import Player
from tests.browser.support import Server
from tests.forked import free_port
from webapp.command.demo import fill
from webapp.store.engine import open_store
from webapp.trade.content import load_trade
from webapp.web.settings import assets

KEPT = Path(__file__).resolve().parents[2] / "static" / "pictures"


def main() -> None:
    """Writes static/pictures/instrument.png and turn.png."""
    folder = Path(tempfile.mkdtemp())
    engine = open_store(folder / "filled.sqlite3")
    fill(engine, load_trade(assets().content), datetime.now(UTC))
    engine.dispose()
    server = Server(folder / "data", free_port(), folder / "filled.sqlite3", demo=True)
    server.start()
    KEPT.mkdir(exist_ok=True)
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium_path(), args=ARGUMENTS)
            context = browser.new_context(viewport=PHONE, color_scheme="light", base_url=server.url)  # type: ignore[arg-type]
            context.add_cookies(
                [{"name": n, "value": v, "url": server.url} for n, v in server.cookies().items()]
            )
            _paint(context.new_page())
            browser.close()
    finally:
        server.stop()
        shutil.rmtree(folder)


def _paint(page: Page) -> None:
    player = Player(page)
    page.goto("/")
    page.get_by_role("link", name=re.compile("^Workshop bass")).first.click()
    page.wait_for_url("**/instruments/*")
    page.screenshot(path=KEPT / "instrument.png")
    player.press("Start a setup")
    player.get_ready()
    # Far from what it read last, it is asked for once more; two that agree are believed.
    for _ in range(2):
        player.measure("Relief", "Feeler gauge", "0.7")
    page.get_by_role("button", name=re.compile("^Done")).wait_for()
    page.screenshot(path=KEPT / "turn.png")


if __name__ == "__main__":
    main()
