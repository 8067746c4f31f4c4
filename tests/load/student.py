"""A student: comes by the lesson's link, sets an instrument up, hands it in, and starts again."""

from __future__ import annotations

import re

from tests.load.browser import Page, Refused
from tests.load.pace import Over
from tests.load.walker import AFTER_TROUBLE_S, Walker


async def study(walker: Walker, link: str, name: str) -> None:
    """All of a student's day, until the time is up. One who is not let in gives up."""
    try:
        page = await _join(walker, link, name)
    except Refused:
        return
    walker.tally.came_in += 1
    try:
        await _go_on(walker, page, name)
    except Over:
        return


async def _join(walker: Walker, link: str, name: str) -> Page:
    """Reads the lesson, names an instrument, is shown the way back; returns the first step's page."""
    browser = walker.browser
    page = await browser.open(link)
    await browser.fetch_statics(page)
    page = await browser.open(f"{link}/start")
    page = await browser.fill(page, f"{link}/start", {"name": f"{name}'s bass"})
    found = re.search(r'href="(/setups/[\w-]+)/next"', page.html)
    if found is None:
        raise browser.refuse("GET", page.path, "no way on from here")
    return await browser.open(f"{found[1]}/next")


async def _go_on(walker: Walker, page: Page, name: str) -> None:
    setup = setup_of(page)
    await walker.to_the_end(setup, page)
    await _hand_in(walker, setup, name)
    while True:
        await walker.to_the_end(*await start_again(walker))


async def _hand_in(walker: Walker, setup: str, name: str) -> None:
    """Looks at what the teacher would see, and hands it in. Once: later setups are one's own."""
    action = f"{setup}/hand-in"
    try:
        page = await walker.browser.open(action)
        await walker.sent(page, action, {"name": name})
        walker.tally.handed_in += 1
    except Refused:
        await walker.pace.pause(AFTER_TROUBLE_S)


async def start_again(walker: Walker, instrument: str = "") -> tuple[str, Page]:
    """From the bench to the instrument (the first there, unless told), and another setup of it."""
    while True:
        try:
            page = await walker.browser.open(instrument or await _first_instrument(walker))
            page = await walker.sent(page, f"{page.path}/setups", {})
            return setup_of(page), page
        except Refused:
            await walker.pace.pause(AFTER_TROUBLE_S)
            await walker.pace.wait()


async def _first_instrument(walker: Walker) -> str:
    page = await walker.browser.open("/")
    found = re.search(r'href="(/instruments/(?!new)[\w-]+)"', page.html)
    if found is None:
        raise walker.browser.refuse("GET", "/", "no instrument on the bench")
    return found[1]


def setup_of(page: Page) -> str:
    """The setup that a page belongs to."""
    return "/".join(page.path.split("/")[:3])
