"""Takes a setup to its end the way a player does: the next page, a reading, the next page."""

from __future__ import annotations

import random
import re
import time
from collections.abc import Mapping
from dataclasses import dataclass

from tests.load.browser import Browser, Page, Refused
from tests.load.hand import Hand
from tests.load.pace import Pace
from tests.load.tally import StepTaken, Tally

OFTEN_LOOKS = 0.05
AFTER_TROUBLE_S = 0.5
_STEP = re.compile(r"(read|adjust|ask)/|finish$")


@dataclass
class Walker:
    """One player at one instrument after the other."""

    browser: Browser
    pace: Pace
    tally: Tally
    chance: random.Random
    always_buzzes: bool = False

    async def to_the_end(self, setup: str, page: Page | None = None) -> None:
        """Every step there is, and the end of the setup. Raises Over when the time is up."""
        hand = Hand(self.chance, self.always_buzzes)
        while True:
            try:
                page = page or await self.browser.open(f"{setup}/next")
                place = page.path.removeprefix(f"{setup}/")
                page = await self._step(setup, page, place, hand)
                if place == "finish":
                    self.tally.setups_finished += 1
                    return
                if page.path.startswith(f"{setup}/check/"):
                    # Marked notes lead to what they mean; from there one looks why it buzzes.
                    await self.browser.open(f"{setup}/causes")
                    page = None
            except Refused:
                await self.pace.pause(AFTER_TROUBLE_S)
                page = None
                # Or a server that refuses everything would hold a player who never thinks for ever.
                await self.pace.wait()

    async def sent(self, page: Page, action: str, filled: Mapping[str, object]) -> Page:
        """A form on the page, sent when it is due, and written down as a step."""
        fields = {**self.browser.fields(page, action), **filled}
        late_ms = await self.pace.wait()
        at_s, began = time.monotonic(), time.perf_counter()
        page = await self.browser.send(action, fields)
        whole_ms = 1000 * (time.perf_counter() - began)
        self.tally.steps.append(StepTaken(at_s, page.sent_ms, whole_ms, late_ms))
        return page

    async def _step(self, setup: str, page: Page, place: str, hand: Hand) -> Page:
        if not _STEP.match(place):
            raise self.browser.refuse("GET", page.path, "the next step led to a page that is none")
        if self.chance.random() < OFTEN_LOOKS:
            await self.browser.open(setup)
        action = f"{setup}/{place}"
        return await self.sent(page, action, hand.fill(place, self.browser.fields(page, action)))
