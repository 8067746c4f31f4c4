"""The class against the bare route (bare.py): as many players in turns at one and the other, and none thinks.

So both are driven as far as they go, on one computer in the same minutes: the ratio says the same elsewhere.
"""

from __future__ import annotations

import asyncio
import random
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from statistics import mean
from typing import NamedTuple
from urllib.parse import urlencode

import psutil

from tests.load import student, teacher
from tests.load.bare import BareHouse, Exchange
from tests.load.browser import Browser, Refused
from tests.load.connection import Answer
from tests.load.fields import form_fields
from tests.load.house import House, NotStarted
from tests.load.options import TURNS, Options
from tests.load.pace import Over, Pace
from tests.load.tally import StepTaken, Tally
from tests.load.usage import Spent, Usage
from tests.load.walker import Walker

AIM = 0.40
RECORDED_S = 8.0
# Of a turn, the beginning does not count; after it, who waits for an answer gets it.
BEGINNING_S, REST_S = 3.0, 6.0
LATE_WITHIN_S = 60.0
COLUMNS = ("steps a second", "workers", "PostgreSQL", "load maker", "cores busy")
_CORES = psutil.cpu_count() or 1


class Recorder(Browser):
    """A browser that keeps what it was answered."""

    exchanges: list[Exchange]

    async def ask(self, method: str, path: str, form: str | None = None) -> Answer:
        answer = await super().ask(method, path, form)
        self.exchanges.append(
            Exchange(method, path, form, answer.status, answer.headers, answer.text.encode())
        )
        return answer


async def recorded(house: House) -> list[Exchange]:
    """What one student asks and is answered, from a first step on: each form with the pages after it."""
    tally = Tally()
    browser = Recorder(house.address, house.headers(), tally)
    browser.exchanges = []
    link = await _lesson(house, "Recorded", 1, tally)
    pace = Pace(0, time.monotonic() + RECORDED_S, random.Random(1))
    await student.study(Walker(browser, pace, tally, random.Random(1)), link, "Recorded")
    browser.close()
    forms = [number for number, one in enumerate(browser.exchanges) if one.form is not None]
    if tally.faults or len(forms) < 3:
        raise NotStarted(f"nothing to hold it against: {tally.faults}")
    # The first form is the one that came in.
    return browser.exchanges[forms[1] - 1 : forms[-1]]


@dataclass
class Gate:
    """Open while it is a side's turn."""

    is_open: asyncio.Event = field(default_factory=asyncio.Event)
    ended: bool = False

    def end(self) -> None:
        self.ended = True
        self.is_open.set()


class TurnPace(Pace):
    """No thinking, but for the time in which it is the other side's turn."""

    def __init__(self, gate: Gate, chance: random.Random) -> None:
        super().__init__(0, float("inf"), chance)
        self._gate = gate

    async def wait(self) -> float:
        await self._gate.is_open.wait()
        # Others have their turn here.
        await asyncio.sleep(0)
        if self._gate.ended:
            raise Over
        return 0.0


@dataclass
class Side:
    """One of the two, and what is done there."""

    name: str
    house: House
    database: psutil.Process
    gate: Gate = field(default_factory=Gate)
    tally: Tally = field(default_factory=Tally)

    def __post_init__(self) -> None:
        self.usage = Usage(self.house.processes(), self.database)


class Turn(NamedTuple):
    """So many steps, and what they cost, between two moments."""

    name: str
    steps: int
    before: Spent
    after: Spent

    @property
    def lasted_s(self) -> float:
        return self.after.at_s - self.before.at_s

    @property
    def steps_per_s(self) -> float:
        return self.steps / self.lasted_s

    @property
    def worker_s(self) -> float:
        return sum(self.after.workers_s) - sum(self.before.workers_s)

    @property
    def database_s(self) -> float:
        return self.after.database_s - self.before.database_s

    @property
    def load_maker_s(self) -> float:
        return self.after.load_maker_s - self.before.load_maker_s

    @property
    def spent_s(self) -> float:
        """Of all who take part, and nobody else."""
        return self.worker_s + self.database_s + self.load_maker_s

    @property
    def busy(self) -> float:
        """The part of all cores that was at work, whoever for."""
        return (self.after.computer_s - self.before.computer_s) / self.lasted_s / _CORES


async def contest(
    options: Options, house: House, bare: BareHouse, database: psutil.Process
) -> tuple[list[Turn], Sequence[Tally]]:
    """The turns, one side's after the other's; with them all that was done."""
    ours, theirs = Side("Benchside", house, database), Side("bare", bare, database)
    link = await _lesson(house, "Contest", options.students, ours.tally)
    async with asyncio.TaskGroup() as together:
        for number in range(options.students):
            chance = random.Random(1000 * options.seed + number)
            together.create_task(_study(options, number, ours, link, chance))
            together.create_task(_replay(theirs, bare.answers, chance.randrange(len(bare.answers)), chance))
        # They begin as they come, so that later each is at another step.
        ours.gate.is_open.set()
        await _all_in(options, ours.tally)
        await _close(ours)
        turns = [await _turn(side, options.turn_s) for _ in range(TURNS // 2) for side in (ours, theirs)]
        for side in (ours, theirs):
            side.gate.end()
    return turns, (ours.tally, theirs.tally)


async def _lesson(house: House, title: str, students: int, tally: Tally) -> str:
    """The link of a lesson that was just written."""
    writer = Browser(house.address, house.headers(), tally)
    await teacher.come_in(writer, house.entry())
    _, link = await teacher.write_lesson(writer, title, students)
    writer.close()
    return link


async def _all_in(options: Options, tally: Tally) -> None:
    until_s = time.monotonic() + options.joining_s + LATE_WITHIN_S
    while tally.came_in < options.students and time.monotonic() < until_s and not tally.faults:
        await asyncio.sleep(0.2)


async def _turn(side: Side, seconds: float) -> Turn:
    print(f"{side.name} ...", flush=True)
    side.gate.is_open.set()
    await asyncio.sleep(BEGINNING_S)
    before = side.usage.spent()
    await asyncio.sleep(seconds)
    after = side.usage.spent()
    await _close(side)
    steps = sum(before.at_s <= step.at_s < after.at_s for step in side.tally.steps)
    return Turn(side.name, steps, before, after)


async def _close(side: Side) -> None:
    side.gate.is_open.clear()
    await asyncio.sleep(REST_S)


async def _study(options: Options, number: int, side: Side, link: str, chance: random.Random) -> None:
    await asyncio.sleep(options.joining_s * number / options.students)
    browser = Browser(side.house.address, side.house.headers(), side.tally)
    walker = Walker(browser, TurnPace(side.gate, chance), side.tally, chance)
    await student.study(walker, link, f"Student {number + 1}")
    browser.close()


async def _replay(side: Side, exchanges: Sequence[Exchange], number: int, chance: random.Random) -> None:
    """A student of the bare route: asks what was asked, and does with each page what a walker does."""
    browser, pace = Browser(side.house.address, side.house.headers(), side.tally), TurnPace(side.gate, chance)
    page, at_s = "", 0.0
    try:
        while True:
            number = (number + 1) % len(exchanges)
            asked = exchanges[number]
            if asked.form is not None:
                # Twice, as the hand looks through them before they are filled.
                fields = [form_fields(page, asked.path) for _ in range(2)]
                urlencode(fields[0] or {})
                await pace.wait()
                at_s = time.monotonic()
            answer = await browser.ask(asked.method, f"/{number}", asked.form)
            page = answer.text if answer.status == 200 else page
            if asked.form is not None:
                side.tally.steps.append(StepTaken(at_s, 0, 0, 0))
    except (Over, Refused):
        browser.close()


def told_turns(turns: Sequence[Turn]) -> Iterator[str]:
    """A line for each turn, and how far one comes beside the other."""
    yield ""
    yield "Nobody thinks; both sides in turns. Processor ms a step:"
    yield f"{'':<12}" + "".join(f"{name:>16}" for name in COLUMNS)
    for turn in turns:
        costs = (turn.worker_s, turn.database_s, turn.load_maker_s)
        workers, database, maker = (1000 * cost / max(turn.steps, 1) for cost in costs)
        shown = f"{turn.steps_per_s:>16.1f}{workers:>16.2f}{database:>16.2f}{maker:>16.2f}{turn.busy:>16.0%}"
        yield f"{turn.name:<12}{shown}"
    sides = [[turn for turn in turns if (turn.name == "bare") is bare] for bare in (False, True)]
    ours_s, theirs_s = (
        sum(turn.spent_s for turn in side) / sum(turn.steps for turn in side) for side in sides
    )
    yield f"By processor time, a step of the bare route is {theirs_s / ours_s:.0%} of one of Benchside's."
    ours, theirs = (mean(turn.steps_per_s for turn in side) for side in sides)
    met = "met" if ours >= AIM * theirs else "NOT MET"
    yield f"{met:<8} at least {AIM:.0%} of the bare route's steps a second: {ours / theirs:.0%}"
