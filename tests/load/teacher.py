"""The teacher: comes in by the printed link, writes the lessons, looks at the class sheet now and then."""

from __future__ import annotations

import asyncio
import re
import time

from tests.load.browser import Browser, Refused

KIND = "bass_4_34"
LOOK_EVERY_S = 10.0


async def come_in(browser: Browser, link: str) -> None:
    """The button of the link into a bench."""
    await browser.open(link)
    await browser.send(link, {})


async def write_lesson(browser: Browser, title: str, students: int) -> tuple[str, str]:
    """A lesson as its kind suggests it; returns its page, and the link for the students."""
    page = await browser.open(f"/lessons/new?kind={KIND}")
    page = await browser.fill(page, "/lessons/new", {"title": title, "students": str(students)})
    found = re.search(r"/lesson/[\w-]+", page.html)
    if found is None:
        raise browser.refuse("GET", page.path, "the lesson has no link")
    return page.path, found[0]


async def watch(browser: Browser, lessons: list[str], until_s: float) -> None:
    """The lesson, its class sheet, and what was handed in last; one lesson after the other."""
    turn = 0
    while (left_s := until_s - time.monotonic()) > 0:
        await asyncio.sleep(min(LOOK_EVERY_S, left_s))
        lesson = lessons[turn % len(lessons)]
        turn += 1
        try:
            await browser.open(lesson)
            sheet = await browser.open(f"{lesson}/sheet")
            handed = re.findall(rf'href="({re.escape(lesson)}/sheet/[\w-]+)"', sheet.html)
            if handed:
                await browser.open(handed[-1])
        except Refused:
            continue
