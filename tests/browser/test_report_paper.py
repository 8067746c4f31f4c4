"""The report on paper: one or two sheets, with nothing left folded away, on A4 and on Letter."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page

from tests.addresses import links
from tests.browser.support import NewPage, Server

# What a printed sheet leaves to read: folded parts are open, and what is only for the screen is gone.
PRINTED = """() => ({
    tables: [...document.querySelectorAll(".numbers table")].filter(e => e.checkVisibility()).length,
    cautions: [...document.querySelectorAll(".care li")].filter(e => e.checkVisibility()).length,
    buttons: [...document.querySelectorAll(".button")].filter(e => e.checkVisibility()).length,
    foot: getComputedStyle(document.querySelector(".running")).display,
    wide: document.documentElement.scrollWidth - innerWidth,
})"""


def reports(page: Page) -> list[str]:
    """The reports of the newest finished setup of every instrument."""
    homes = links(page.request.get("/").text(), '/instruments/[^/"]+')
    histories = (page.request.get(f"{home}/history").text() for home in homes)
    found = [links(history, '/setups/[^/"]+/report') for history in histories]
    return [some[0] for some in found if some]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_report_takes_two_sheets_at_most(new_page: NewPage, demo_server: Server, paper: str) -> None:
    page = new_page(demo_server)
    found = reports(page)
    assert len(found) >= 2
    for report in found:
        page.goto(report)
        sheets = len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=paper)))
        assert 1 <= sheets <= 2, report


def test_nothing_is_folded_away_on_paper(new_page: NewPage, demo_server: Server) -> None:
    page = new_page(demo_server, viewport={"width": 700, "height": 1000})
    for report in reports(page):
        page.goto(report)
        closed = page.evaluate(PRINTED)
        assert (closed["tables"], closed["cautions"], closed["foot"]) == (0, 1, "none")
        page.emulate_media(media="print")
        seen = page.evaluate(PRINTED)
        assert seen["tables"] >= 4 and seen["cautions"] >= 8 and seen["buttons"] == 0
        assert seen["foot"] == "table-footer-group" and seen["wide"] <= 0
        page.emulate_media(media="screen")
