"""What holds on any page, tried on the one that is always there: the page that says there is nothing."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import expect

from tests.browser.support import Complaints, Server


def test_the_server_comes_back_at_the_same_address(page: Any, server: Server, complaints: Complaints) -> None:
    complaints.expected_statuses.add(404)
    page.goto("/no/such/page")
    expect(page.get_by_role("heading", level=1)).to_have_text("Nothing here")
    server.restart()
    page.reload()
    expect(page.get_by_role("heading", level=1)).to_have_text("Nothing here")
