"""What cannot be saved just now stays as it was typed, with a word above it; sent again, it is kept once."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.support import Complaints, NewPage, Server
from tests.faults.support import House, note
from tests.faults.test_disk import LONG, SmallFiles

MINE = f"Mine, and to be kept. {LONG}".strip()


def fill_up(house: House, path: str, files: SmallFiles, process: int) -> None:
    """Until nothing more goes in."""
    browser = house.browser()
    files.fill(process)
    refused = 0
    for number in range(200):
        refused += browser.post(path, data=note(f"{number} {LONG}")).status_code in (503, 507)
        if refused == 2:
            return
    raise AssertionError("the disk took everything")


def says(page: Page, words: str) -> None:
    """The word above the page, and the form as it was typed."""
    above = page.get_by_role("alert").filter(has_text=words)
    expect(above).to_be_visible()
    expect(above).to_be_in_viewport()
    expect(page.get_by_label("Note", exact=True)).to_have_value(MINE)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_note_that_the_disk_does_not_take_stays_on_the_page(
    new_page: NewPage, server: Server, complaints: Complaints, scheme: str
) -> None:
    complaints.expected_statuses |= {503, 507}
    house = House(server.data, port=server.port)
    setup, other_setup = house.fill(2)
    path, files = f"/setups/{setup}/log", SmallFiles(server.data)
    page = new_page(server, color_scheme=scheme)
    page.goto(path)
    page.get_by_label("Note", exact=True).fill(MINE)
    assert server.process is not None
    fill_up(house, f"/setups/{other_setup}/log", files, server.process.pid)
    with page.expect_response(lambda answer: answer.request.method == "POST") as refused:
        page.get_by_role("button", name="Record").click()
    assert refused.value.status in (503, 507)
    says(page, "This was not saved, but nothing is lost")
    assert page.url == f"{server.url}{path}"
    # The same answer under the other number, and one of a proxy that knows nothing of us.
    other = 1010 - refused.value.status
    answers = ((other, refused.value.text(), "nothing is lost"), (503, "<h1>Away</h1>", "did not answer"))
    for status, text, said in answers:
        page.route(f"**{path}", answering(status, text))
        page.get_by_role("button", name="Record").click()
        says(page, said)
        page.unroute(f"**{path}")
    files.make_room(server.process.pid)
    page.get_by_role("button", name="Record").click()
    page.wait_for_url(lambda url: not url.endswith("/log"))
    expect(page.locator("#no-answer")).to_be_hidden()
    assert house.notes(setup).count(MINE) == 1


def answering(status: int, text: str) -> Callable[[Route], None]:
    """In the server's place."""

    def answer(route: Route) -> None:
        route.fulfill(status=status, content_type="text/html; charset=utf-8", body=text)

    return answer


def test_what_is_refused_at_the_door_is_told_above_the_form(
    new_page: NewPage, server: Server, complaints: Complaints
) -> None:
    complaints.expected_statuses.add(413)
    house = House(server.data, port=server.port)
    (setup,) = house.fill(1)
    page = new_page(server)
    page.goto(f"/setups/{setup}/log")
    field = page.get_by_label("Note", exact=True)
    field.fill(MINE)
    # A field sent along that is larger than a page takes, as a program that fills forms might add.
    field.evaluate(
        "field => { const more = document.createElement('input'); more.type = 'hidden'; more.id = 'more';"
        " more.name = 'more'; more.value = 'x'.repeat(1200000); field.form.append(more); }"
    )
    page.get_by_role("button", name="Record").click()
    says(page, "That is more than a form of Benchside holds. Nothing was changed")
    page.evaluate("document.getElementById('more').remove()")
    page.get_by_role("button", name="Record").click()
    page.wait_for_url(lambda url: not url.endswith("/log"))
    assert house.notes(setup) == [MINE]
