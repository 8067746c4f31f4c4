"""What holds on any page, tried on the one that is always there: the page that says there is nothing."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests.browser.support import Complaints, NewPage, Server


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_missing_page_is_kind_and_has_no_violation(
    new_page: NewPage, server: Server, complaints: Complaints, scheme: str
) -> None:
    complaints.expected_statuses.add(404)
    page = new_page(server, color_scheme=scheme)
    page.goto("/no/such/page")
    expect(page.get_by_role("heading", level=1)).to_have_text("Nothing here")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    violations: list[Any] = Axe().run(page).response["violations"]
    assert violations == []


def test_the_server_comes_back_at_the_same_address(page: Any, server: Server, complaints: Complaints) -> None:
    complaints.expected_statuses.add(404)
    page.goto("/no/such/page")
    server.restart()
    page.reload()
    expect(page.get_by_role("heading", level=1)).to_have_text("Nothing here")
