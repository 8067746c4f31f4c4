"""A whole setup on a phone, from the empty bench to the report, and the history after a restart."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from tests.browser.story import Player
from tests.browser.support import NewPage, Server

NAME = "Parlour bass"


@pytest.mark.parametrize("javascript", [True, False], ids=["with JavaScript", "without JavaScript"])
def test_from_an_empty_bench_to_the_report_and_the_history(
    new_page: NewPage, server: Server, javascript: bool
) -> None:
    player = Player(new_page(server, javascript=javascript))
    player.make_a_bass(NAME)
    player.press("Start a setup")
    player.whole_setup()
    player.report_of(NAME)

    server.restart()
    page = new_page(server, javascript=javascript)
    find_it_in_the_history(page)


def find_it_in_the_history(page: Page) -> None:
    player = Player(page)
    page.goto("/")
    player.sees("The bench")
    page.get_by_role("link", name=NAME).click()
    player.sees(NAME)
    player.follow("History")
    player.sees("History")
    relief = page.get_by_role("link").filter(has_text="Relief")
    relief.click()
    for words in ("0.70 mm", "0.40 mm", "tightened a quarter turn"):
        player.reads(words)
    page.go_back()
    player.sees("History")
    page.get_by_role("link").filter(has_text="Finished").click()
    player.report_of(NAME)
