"""The laptop and the phone: two browsers at two addresses, over plain http, on one bench."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import come_in
from tests.browser.looking import scrolls_sideways, too_small, violations
from tests.browser.story import Player
from tests.browser.support import Complaints, NewPage, Server
from tests.forked import free_port

PHONE_ADDRESS = "127.0.0.2"
LAPTOP = {"width": 1280, "height": 800}
# What a camera gets: the square as the browser paints it, one grey value a pixel.
PIXELS = """async svg => {
  const copy = svg.cloneNode(true), size = 330;
  copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  copy.setAttribute("width", size);
  copy.setAttribute("height", size);
  const image = new Image();
  image.src = "data:image/svg+xml," + encodeURIComponent(copy.outerHTML);
  await image.decode();
  const canvas = Object.assign(document.createElement("canvas"), { width: size, height: size });
  const context = canvas.getContext("2d");
  context.drawImage(image, 0, 0, size, size);
  return Array.from(context.getImageData(0, 0, size, size).data.filter((_, i) => i % 4 === 0));
}"""


@pytest.fixture
def home(browser: Browser, migrated: Path, tmp_path: Path) -> Iterator[Server]:
    """A Benchside that listens on more than one address, as it does on a home network."""
    options = ("--phone", "--phone-address", PHONE_ADDRESS)
    started = Server(tmp_path / "data", free_port(), migrated, options=options)
    started.start()
    yield started
    started.stop()


def camera(page: Page) -> str:
    """The link in the square on the page."""
    pixels = np.array(page.locator(".code-square svg").evaluate(PIXELS), dtype=np.uint8)
    side = int(len(pixels) ** 0.5)
    found = zxingcpp.read_barcode(pixels.reshape(side, side))
    assert found is not None
    return str(found.text)


def test_the_phone_pairs_by_its_camera_works_along_and_is_unpaired(
    new_page: NewPage, home: Server, complaints: Complaints
) -> None:
    screen = come_in(new_page(home, keyed=False, viewport=LAPTOP), home)
    laptop = Player(screen)
    laptop.follow("Use your phone")
    laptop.press("Show a code")
    link = camera(screen)
    assert link.startswith(f"http://{PHONE_ADDRESS}:{home.port}/pair/")
    assert link == screen.locator(".pair-link").inner_text()

    held = new_page(home, keyed=False, has_touch=True, is_mobile=True)
    phone = Player(held)
    held.goto(link)
    held.reload()  # a camera's preview, and the page opened twice, use nothing up
    phone.field("What to call this device").fill("Phone with a cracked glass")
    phone.press("Pair this device")
    phone.sees("The bench")
    assert held.url == f"http://{PHONE_ADDRESS}:{home.port}/"

    both_work_on_one_setup(screen, held, home.port)

    complaints.expected_statuses.add(401)
    screen.goto("/devices")
    row = screen.locator(".list li", has_text="Phone with a cracked glass")
    row.get_by_role("button", name="Unpair").click()
    expect(row).to_have_count(0)
    held.reload()
    phone.sees("You need a key")
    screen.reload()
    laptop.sees("Devices")


def both_work_on_one_setup(screen: Page, held: Page, port: int) -> None:
    """The laptop begins, the phone reads the relief, the laptop sees it and goes on; the phone sees that."""
    laptop, phone = Player(screen), Player(held)
    screen.goto("/instruments/new?kind=bass_4_34")
    laptop.field("Name").fill("Old blue")
    laptop.press("Save instrument")
    laptop.press("Start a setup")
    screen.wait_for_url("**/setups/**")
    setup = screen.url.split("/setups/")[1].split("/")[0]
    held.goto(f"http://{PHONE_ADDRESS}:{port}/setups/{setup}/read/relief")
    phone.field("Feeler gauge").fill("0.31")
    phone.press("Record")
    phone.sees("Get ready")
    screen.goto(f"/setups/{setup}/journal")
    laptop.reads("0.31 mm")
    screen.goto(f"/setups/{setup}/read/height.4")
    laptop.field("Ruler").fill("2.6")
    laptop.press("Record")
    laptop.sees("Get ready")
    held.goto(f"http://{PHONE_ADDRESS}:{port}/setups/{setup}/journal")
    phone.reads("2.60 mm")


@pytest.mark.parametrize("javascript", [True, False], ids=["with script", "without"])
def test_a_code_is_typed_where_there_is_no_camera(new_page: NewPage, home: Server, javascript: bool) -> None:
    screen = come_in(new_page(home, keyed=False, javascript=javascript), home)
    Player(screen).follow("Use your phone")
    Player(screen).press("Show a code")
    code = screen.locator(".pair-code").inner_text()
    held = new_page(home, keyed=False, javascript=javascript)
    held.goto(f"http://{PHONE_ADDRESS}:{home.port}/pair")
    phone = Player(held)
    phone.field("Code").fill(code.replace("-", " ").lower())
    phone.press("Pair this device")
    phone.sees("The bench")


def test_the_pages_of_the_way_in_are_fit_for_everyone(
    new_page: NewPage, home: Server, complaints: Complaints
) -> None:
    complaints.expected_statuses |= {401, 410, 422}
    stranger = new_page(home, keyed=False)
    found = {}
    for path in ("/", "/pair", home.entry):
        stranger.goto(path)
        found[path] = violations(stranger) + too_small(stranger) + scrolls_sideways(stranger)
    stranger.goto("/pair")
    Player(stranger).press("Pair this device")
    Player(stranger).reads("Please check")
    found["refused"] = violations(stranger) + too_small(stranger)
    stranger.goto(f"{home.entry}x")
    Player(stranger).press("Open the bench")
    Player(stranger).sees("This link is no longer good")
    found["used"] = violations(stranger) + too_small(stranger)
    page = new_page(home)
    page.goto("/phone")
    Player(page).press("Show a code")
    expect(page.locator(".pair-code")).to_be_visible()
    for path in ("/phone", "/devices"):
        page.goto(path)
        found[path] = violations(page) + too_small(page) + scrolls_sideways(page)
    assert {path: amiss for path, amiss in found.items() if amiss} == {}
