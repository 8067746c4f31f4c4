"""Without a mouse: where the focus goes, and what Back shows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.story import HEIGHTS, Player
from tests.browser.support import Complaints, NewPage, Server
from tests.forked import free_port

MOST_TABS = 60
# A board of four strings and twenty frets is a box for every note.
PAST_THE_BOARD = 120


@pytest.fixture(scope="module")
def bench(browser: Browser, migrated: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One server for all of these; each begins with an instrument of its own."""
    started = Server(tmp_path_factory.mktemp("bench") / "data", free_port(), migrated)
    started.start()
    yield started
    started.stop()


@pytest.fixture(params=[True, False], ids=["with JavaScript", "without JavaScript"])
def player(request: pytest.FixtureRequest, new_page: NewPage, bench: Server) -> Player:
    """A player with a new setup of a bass before them."""
    player = Player(new_page(bench, javascript=request.param))
    player.page.goto("/instruments/new?kind=bass_4_34")
    player.press("Save instrument")
    player.press("Start a setup")
    player.sees("Get ready")
    return player


def tab_to(page: Page, role: str, name: str) -> None:
    """Press Tab until this has the focus; give up where a player would."""
    tab_until(page, page.get_by_role(role, name=name, exact=True), MOST_TABS)  # type: ignore[arg-type]


def tab_until(page: Page, wanted: Locator, most: int) -> None:
    for _ in range(most):
        if wanted.evaluate("e => e === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never came to {wanted}")


class Keys(Player):
    """A player whose hand never leaves the keyboard."""

    def push(self, button: Locator) -> None:
        expect(button).to_be_visible()
        tab_until(self.page, button, PAST_THE_BOARD)
        self.page.keyboard.press("Enter")

    def fill(self, field: Locator, value: str) -> None:
        tab_until(self.page, field, PAST_THE_BOARD)
        self.page.keyboard.type(value)

    def tick(self, box: Locator) -> None:
        tab_until(self.page, box, PAST_THE_BOARD)
        self.page.keyboard.press("Space")


def test_a_mistake_is_found_and_mended_with_the_keyboard_alone(
    player: Player, complaints: Complaints
) -> None:
    complaints.expected_statuses.add(422)
    page, keys = player.page, player.page.keyboard
    tab_to(page, "button", "Begin")
    keys.press("Enter")
    summary = page.get_by_role("alert")
    expect(summary).to_be_focused()
    expect(summary.get_by_role("link")).to_have_count(4)
    keys.press("Tab")
    keys.press("Enter")
    expect(page.get_by_role("checkbox", name="Clean")).to_be_focused()
    keys.press("Space")
    for _ in range(3):
        keys.press("Tab")
        keys.press("Space")
    tab_to(page, "button", "Begin")
    keys.press("Enter")

    player.is_on("Relief")
    tab_to(page, "textbox", "Feeler gauge")
    keys.type("one finger")
    keys.press("Enter")
    expect(summary).to_be_focused()
    expect(player.field("Feeler gauge")).to_have_value("one finger")
    keys.press("Tab")
    expect(summary.get_by_role("link")).to_be_focused()
    keys.press("Enter")
    expect(player.field("Feeler gauge")).to_be_focused()
    expect(player.field("Feeler gauge")).to_have_accessible_description(re.compile("That is not a length"))
    keys.press("ControlOrMeta+a")
    keys.type("0.3")
    keys.press("Enter")
    player.is_on("String height")
    player.reads("Relief: 0.30 mm good")


def test_a_guess_is_never_taken_for_an_answer(player: Player, complaints: Complaints) -> None:
    """Enter sends what was typed; only its own button takes a suggestion."""
    complaints.expected_statuses.add(422)
    player.get_ready()
    player.is_on("Relief")
    for _ in range(2):
        player.field("Feeler gauge").fill("12")
        player.page.keyboard.press("Enter")
        player.reads("Did you mean 12 thou (0.30 mm)")
        expect(player.page.get_by_role("alert")).to_be_focused()
    tab_to(player.page, "button", "Yes: 12 thou (0.30 mm)")
    player.page.keyboard.press("Enter")
    player.reads("Relief: 0.30 mm good")


def test_back_shows_what_was_saved(player: Player) -> None:
    page = player.page
    player.get_ready()
    player.measure("Relief", "Feeler gauge", "0.3")
    player.is_on("String height")
    page.go_back()
    player.is_on("Relief")
    player.reads("Read: 0.30 mm")
    page.go_back()
    player.sees("Get ready")
    expect(page.get_by_role("checkbox", name="Clean")).to_be_checked()
    page.go_forward()
    page.go_forward()
    player.measure_all("String height", HEIGHTS)
    player.sees("Pluck every fret")


def test_leaving_and_coming_back_leads_to_the_same_place(
    player: Player, new_page: NewPage, bench: Server
) -> None:
    player.get_ready()
    player.measure("Relief", "Feeler gauge", "0.3")
    player.is_on("String height")
    player.follow("All checks")
    player.page.locator("header .back").click()
    home = player.page.url
    elsewhere = Player(new_page(bench))
    elsewhere.page.goto(home)
    elsewhere.page.get_by_role("link", name="Continue").click()
    elsewhere.is_on("String height")


def test_a_whole_setup_with_the_keyboard_alone(new_page: NewPage, bench: Server) -> None:
    hand = Keys(new_page(bench))
    hand.page.goto("/instruments/new?kind=bass_4_34")
    hand.field("Name").fill("Keyed bass")
    hand.press("Save instrument")
    hand.press("Start a setup")
    hand.whole_setup()
    hand.report_of("Keyed bass")
