"""One phone at the bench: whole setups one after the other, and what there is to look at between them."""

from __future__ import annotations

from tests.load.browser import Refused
from tests.load.pace import Over
from tests.load.student import start_again
from tests.load.teacher import KIND
from tests.load.walker import AFTER_TROUBLE_S, Walker

# Nobody sets the same instrument up more often than that in many a year.
SETUPS_EACH = 6
LOOKED_AT = ("history", "history/relief", "clearance", "seasons")


async def play(walker: Walker) -> None:
    """Until the time is up."""
    walker.tally.came_in += 1
    try:
        number = 0
        while True:
            number += 1
            await _one_instrument(walker, f"Bass {number}")
    except Over:
        return


async def _one_instrument(walker: Walker, name: str) -> None:
    try:
        page = await walker.browser.open(f"/instruments/new?kind={KIND}")
        page = await walker.sent(page, "/instruments/new", {"name": name})
        page = await walker.browser.open(page.path.removesuffix("/assumed"))
    except Refused:
        await walker.pace.pause(AFTER_TROUBLE_S)
        return
    for _ in range(SETUPS_EACH):
        setup, first = await start_again(walker, page.path)
        await walker.to_the_end(setup, first)
        await _look_around(walker, page.path, setup)


async def _look_around(walker: Walker, instrument: str, setup: str) -> None:
    try:
        for place in ("", "/report", "/journal"):
            await walker.browser.open(f"{setup}{place}")
        for place in LOOKED_AT:
            await walker.browser.open(f"{instrument}/{place}")
        await walker.browser.open("/")
    except Refused:
        await walker.pace.pause(AFTER_TROUBLE_S)
