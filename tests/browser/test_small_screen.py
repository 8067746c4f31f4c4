"""A whole setup on a small phone whose browser keeps its bars: nothing to touch has to be looked for."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from tests.browser.story import HEIGHTS, INTONATION, NUT, PICKUPS, Player
from tests.browser.support import NewPage, Server

SMALL = {"width": 390, "height": 664}
# What a setup may ask of a thumb.
MOST_SCREENS, MOST_TAPS = 45, 90
LOOK = """() => {
  const box = e => { const b = e.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; };
  const seen = e => { const b = e.getBoundingClientRect(); return b.width > 1 && b.height > 1; };
  const thumb = document.querySelector('.thumb');
  const first = [...document.querySelectorAll('main form input:not([type=hidden]), main form select')]
    .filter(seen).filter(e => !e.closest('details:not([open])') && !(thumb && thumb.contains(e)))[0];
  const field = first && (first.closest('.pick, .box, .chip, .choice') || first);
  const mains = [...document.querySelectorAll('.button-main')].filter(seen);
  return {wide: document.documentElement.scrollWidth, high: innerHeight, mains: mains.map(box),
          thumb: thumb && box(thumb), field: field && box(field)};
}"""


class Thumb(Player):
    """Looks at every page before it goes on, and counts."""

    def __init__(self, page: Page) -> None:
        super().__init__(page)
        self.screens, self.taps, self.found = 0, 0, []

    def looks(self) -> None:
        self.screens += 1
        self.page.evaluate("scrollTo(0, 0)")
        here, what = self.page.title(), self.page.evaluate(LOOK)
        if what["wide"] > SMALL["width"]:
            self.found.append(f"{here}: {what['wide']} px wide")
        if len(what["mains"]) != 1:
            self.found.append(f"{here}: {len(what['mains'])} main buttons")
        if what["mains"] and what["mains"][0][3] > what["high"]:
            self.found.append(f"{here}: the main button lies below the fold")
        if what["field"] and what["field"][3] > what["thumb"][1]:
            self.found.append(f"{here}: the first field lies under the thumb zone, to {what['field'][3]:.0f}")

    def press(self, name: str) -> None:
        self.looks()
        self.taps += 1
        super().press(name)

    def turned(self) -> None:
        self.looks()
        self.taps += 1
        super().turned()


@pytest.fixture
def thumb(new_page: NewPage, server: Server) -> Thumb:
    page = new_page(server)
    page.set_viewport_size(SMALL)  # type: ignore[arg-type]
    return Thumb(page)


def test_a_whole_setup_needs_no_looking_for_the_field_or_the_button(thumb: Thumb) -> None:
    thumb.make_a_bass("Small bass")
    thumb.press("Start a setup")
    thumb.whole_setup()
    thumb.report_of("Small bass")
    thumb.looks()
    # Each field that is filled is tapped once too, and each box of the first page.
    typed = 3 + sum(map(len, (HEIGHTS, NUT, INTONATION, PICKUPS))) + 8
    assert not thumb.found, "\n".join(thumb.found)
    assert thumb.screens <= MOST_SCREENS
    assert thumb.taps + typed <= MOST_TAPS
