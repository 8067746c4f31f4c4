"""What a screen reader meets, in its order: what is asked, what the picture says, the control, the button."""

from __future__ import annotations

import re

from playwright.sync_api import Page

from tests.browser.story import Player
from tests.browser.support import NewPage, Server


def order(page: Page, *patterns: str) -> list[int]:
    """The lines of the accessibility tree of the page's main part at which each of these first stands."""
    tree = page.locator("main").aria_snapshot().splitlines()
    found = []
    for pattern in patterns:
        at = next((n for n, line in enumerate(tree) if re.search(pattern, line)), None)
        assert at is not None, f"{pattern} is not in\n" + "\n".join(tree)
        found.append(at)
    return found


def test_heading_picture_control_button(new_page: NewPage, server: Server) -> None:
    player = Player(new_page(server))
    player.make_a_bass("Heard bass")
    player.press("Start a setup")
    player.get_ready()
    player.is_on("Relief")
    read = order(player.page, r"heading .*level=1", r"img ", r'textbox "Feeler gauge"', r'button "Record"')
    assert read == sorted(read)
    player.measure("Relief", "Feeler gauge", "0.7")
    player.reads("too much bow")
    turned = order(
        player.page, r"heading .*0\.70 mm.*level=1", r'img "Relief against its target',
        r'img "Where to find it',
        r"img .*turn", r"Take care", r"listitem: .*Ease the rod off", r'button "Done',
    )  # fmt: skip
    assert turned == sorted(turned)
    player.turned()
    player.reads("Find the thickest blade")
    # The drawings' own numbers are in their text.
    assert "mm" in (player.page.locator("#gap svg desc").text_content() or "")
