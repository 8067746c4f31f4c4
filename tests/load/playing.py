"""A run: the class with its teacher, or the one phone; watched from beginning to end."""

from __future__ import annotations

import asyncio
import random
import time
from collections.abc import Coroutine
from dataclasses import dataclass

import psutil

from tests.load import phone, student, teacher
from tests.load.browser import Browser
from tests.load.house import SCHOOL, House
from tests.load.options import Options
from tests.load.pace import Pace
from tests.load.tally import Fault, Tally
from tests.load.usage import Spent, Usage
from tests.load.walker import Walker

MEMORY_EVERY_S = 30.0


@dataclass
class Run:
    """What came out. From `steady_s` on everybody was in; `spent` is the two ends of that time."""

    options: Options
    tally: Tally
    usage: Usage
    began_s: float
    steady_s: float
    ended_s: float
    spent: tuple[Spent, Spent]


async def play(options: Options, house: House, database: psutil.Process | None) -> Run:
    """Plays for as long as was asked."""
    tally, usage = Tally(), Usage(house.processes(), database)
    maker = _play_class if options.form == "class" else _play_phone
    began_s, players, browsers = await maker(options, house, tally)
    steady_s = began_s + (options.joining_s if options.form == "class" else 0)
    usage.sample()
    watching = asyncio.create_task(usage.watch())
    telling = asyncio.create_task(_tell(began_s, usage, tally))
    measuring = asyncio.create_task(_spent_at(steady_s, usage))
    try:
        async with asyncio.TaskGroup() as together:
            for player in players:
                together.create_task(player)
        ended_s = time.monotonic()
        usage.sample()
        spent = (await measuring, usage.spent())
    finally:
        for task in (watching, telling, measuring):
            task.cancel()
        for browser in browsers:
            browser.close()
    tally.faults += [Fault("", "", "a worker died") for _ in usage.gone]
    return Run(options, tally, usage, began_s, steady_s, ended_s, spent)


Players = tuple[float, list[Coroutine[None, None, None]], list[Browser]]


async def _play_class(options: Options, house: House, tally: Tally) -> Players:
    """A teacher with lessons, and the students that they are for."""
    writer = Browser(house.address, house.headers(), tally)
    await teacher.come_in(writer, house.entry())
    each = -(-options.students // options.lessons)
    lessons = [
        await teacher.write_lesson(writer, f"First setup, class {number + 1}", each)
        for number in range(options.lessons)
    ]
    began_s = time.monotonic()
    until_s = began_s + options.seconds
    browsers = [writer]
    players = [teacher.watch(writer, [path for path, _ in lessons], until_s)]
    for number in range(options.students):
        caller = SCHOOL if options.one_address else f"10.{number // 250}.{number % 250}.7"
        browser = Browser(house.address, house.headers(caller), tally)
        browsers.append(browser)
        link = lessons[number % len(lessons)][1]
        comes_s = began_s + options.joining_s * number / options.students
        players.append(_come(comes_s, number, options, Walked(browser, tally, until_s), link))
    return began_s, players, browsers


@dataclass
class Walked:
    """What a student needs besides the time at which they come."""

    browser: Browser
    tally: Tally
    until_s: float


async def _come(comes_s: float, number: int, options: Options, walked: Walked, link: str) -> None:
    await asyncio.sleep(max(comes_s - time.monotonic(), 0))
    chance = random.Random(1000 * options.seed + number)
    pace = Pace(options.students / options.steps_per_s, walked.until_s, chance)
    await student.study(Walker(walked.browser, pace, walked.tally, chance), link, f"Student {number + 1}")


async def _play_phone(options: Options, house: House, tally: Tally) -> Players:
    """One phone that never stops to think."""
    browser = Browser(house.address, house.headers(), tally)
    await teacher.come_in(browser, house.entry())
    began_s = time.monotonic()
    chance = random.Random(options.seed)
    pace = Pace(0, began_s + options.seconds, chance)
    return began_s, [phone.play(Walker(browser, pace, tally, chance, always_buzzes=True))], [browser]


async def _spent_at(at_s: float, usage: Usage) -> Spent:
    await asyncio.sleep(max(at_s - time.monotonic(), 0))
    return usage.spent()


async def _tell(began_s: float, usage: Usage, tally: Tally) -> None:
    """Now and then a line, for whoever waits."""
    while True:
        mb = ", ".join(f"{seen[-1][1]:.0f}" for seen in usage.memory_mb.values())
        print(
            f"{time.monotonic() - began_s:5.0f} s  {tally.came_in:4} in  {len(tally.steps):6} steps  "
            f"{len(tally.faults):3} errors  workers {mb} MB",
            flush=True,
        )
        await asyncio.sleep(MEMORY_EVERY_S)
