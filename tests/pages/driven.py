"""Drives a setup by its pages with a simulated player: looks what a page asks, does it, sends the form.

Every page that is shown and every form that is sent is counted.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from html import unescape

from fastapi import FastAPI, Request
from starlette.testclient import TestClient

from tests.pages.conftest import Form, plain
from tests.trial.answers import answers
from tests.trial.hands import Hands, Where
from tests.trial.rod import DONE
from tests.trial.tools import Reading
from webapp.pages.visit.visit import Visit, visit
from webapp.web.state import state

PARTS = {
    "relief": "rod", "height": "saddle_height", "intonation": "saddle_position", "pickups": "pickup",
}  # fmt: skip
MOST_SCREENS = 300


@dataclass
class Clock:
    """The time that the pages go by."""

    now: datetime


@contextmanager
def clocked(app: FastAPI, clock: Clock) -> Iterator[None]:
    """The app with this clock in place of the computer's."""

    async def at(request: Request) -> Visit:
        return Visit(request, state(request), clock.now)

    app.dependency_overrides[visit] = at
    yield
    del app.dependency_overrides[visit]


@dataclass
class Screen:
    """The page before the player."""

    path: str
    html: str

    @property
    def form(self) -> dict[str, str]:
        """The fields of the page's own form."""
        return Form(self.html, self.path).fields

    @property
    def tail(self) -> str:
        """'read/height', 'ask/buzz', 'finish'."""
        return "/".join(self.path.split("/")[3:])

    @property
    def slots(self) -> list[str]:
        """What its rows are about."""
        return self.form.get("rows", self.tail.split("/")[-1]).split()

    def many(self) -> bool:
        return "rows" in self.form

    def name(self, base: str, slot: str) -> str:
        """A place's field: plain on a page for one."""
        return f"{base}_{slot.replace('.', '_')}" if self.many() else base

    def values(self, name: str) -> list[str]:
        """The values that boxes of a name offer."""
        return re.findall(rf'<input [^>]*name="{name}" value="([^"]*)"', self.html)

    def options(self, name: str) -> list[str]:
        """The values of a select, without the empty one."""
        found = re.search(rf'<select id="field-{name}".*?</select>', self.html, re.DOTALL)
        return [v for v in re.findall(r'<option value="([^"]*)"', found[0]) if v] if found else []


@dataclass
class Turned:
    """What the page said of one place, and what the hand made of it."""

    slot: str
    said: int
    made: int
    ended: str


@dataclass
class Driver:
    """`on_read` and `on_turn` hear of each thing as the hand does it, before the form is sent."""

    client: TestClient
    hands: Hands
    clock: Clock
    setup: str
    screens: int = 0
    posts: int = 0
    trail: list[str] = field(default_factory=list)
    on_read: Callable[[str, Reading], None] = lambda slot, reading: None
    on_turn: Callable[[Turned], None] = lambda turned: None
    on_other: Callable[[str, list[str]], None] = lambda what, said: None

    def get(self, path: str) -> Screen:
        """Open a page."""
        answer = self.client.get(path)
        assert answer.status_code == 200, (path, answer.status_code)
        self.screens += 1
        screen = Screen(answer.url.path, answer.text)
        self.trail.append(screen.tail)
        return screen

    def send(self, screen: Screen, filled: dict[str, object], action: str = "") -> Screen:
        """Send its form (or the one to `action`) with these fields, and look at where that leads."""
        data = {**Form(screen.html, action or screen.path).fields, **filled}
        answer = self.client.post(action or screen.path, data=data, follow_redirects=False)
        assert answer.status_code == 303, (screen.path, filled, plain(answer.text)[:800])
        self.posts += 1
        return self.get(answer.headers["location"])

    def to_the_report(self, screen: Screen) -> Screen:
        """Every step from this page on, until the report."""
        while not screen.tail.startswith("report"):
            assert self.screens < MOST_SCREENS, self.trail
            screen = self.step(screen)
        return screen

    def step(self, screen: Screen) -> Screen:
        """Do what a page asks."""
        act, _, name = screen.tail.partition("/")
        if act == "read":
            return self._read(screen)
        if act == "adjust":
            return self._adjust(screen)
        if act == "ask":
            return getattr(self, f"_{name}")(screen)  # type: ignore[no-any-return]
        if act == "check":
            return self.get(_main_link(screen))
        assert act == "finish", screen.path
        return self.send(screen, {})

    def in_order(self, slots: list[str]) -> list[str]:
        """Places in the order in which the journal takes them: of heights the outer strings first."""
        if not slots[0].startswith("height."):
            return slots
        outer = {f"height.{len(self.hands.instrument.strings)}", "height.1"}
        return sorted(slots, key=lambda slot: slot not in outer)

    # Readings

    def _read(self, screen: Screen) -> Screen:
        check = screen.slots[0].partition(".")[0]
        offered = [screen.form["tool"], *re.findall(r"\?tool=(\w+)", screen.html)]
        method = self.hands.kit.tool_for(check, offered)
        if method != screen.form["tool"]:
            screen = self.get(f"{screen.path}?tool={method}")
        filled: dict[str, object] = {}
        for slot in self.in_order(screen.slots):
            name = slot.replace(".", "_") if screen.many() else "value"
            words = screen.options(name) if screen.many() else screen.values("answer")
            reading = self.hands.read(slot, where(screen, slot), {method: words})
            self.on_read(slot, reading)
            if reading.answer is not None:
                filled[name if screen.many() else "answer"] = reading.answer
            else:
                filled[name] = f"{reading.value:g}"
                if "step" in screen.form:
                    filled["step"] = f"{reading.step:g}"
        return self.send(screen, filled)

    # Turns

    def _adjust(self, screen: Screen) -> Screen:
        done: list[Turned] = []
        for slot in self.in_order(screen.slots):
            said = int(screen.form[screen.name("said", slot)])
            turned = self._turn(slot, said)
            if turned.ended == DONE and turned.made == said:
                done.append(turned)
                continue
            # Something else happened: what was done before it is told first, place by place.
            for before in done:
                screen = self.send(screen, self._told(screen, before, "turn"))
            return self.send(screen, self._told(screen, turned, turned.ended))
        return self.send(screen, {"action": "turn"})

    def _turn(self, slot: str, said: int) -> Turned:
        check, *rest = slot.split(".")
        string, side, pickup = None, None, None
        if check == "pickups":
            pickup, side = int(rest[0]), rest[1]
        elif check != "relief":
            string = int(rest[0])
        part = PARTS[check]
        if check == "height" and self.hands.instrument.bridge.kind == "posts":
            part, side = "post", self._post_side(string)
        step = self.hands.turn(slot, part, said, string, side, pickup)
        turned = Turned(slot, said, step.made, step.ended)
        self.on_turn(turned)
        return turned

    def _post_side(self, string: int | None) -> str:
        return {len(self.hands.instrument.strings): "bass", 1: "treble"}.get(string or 0, "both")

    def _told(self, screen: Screen, turned: Turned, action: str) -> dict[str, object]:
        """One place by a button of its own."""
        way = "plus" if turned.said > 0 else "minus"
        amount = str(abs(turned.made)) if turned.made else ""
        return {
            screen.name("way", turned.slot): way,
            screen.name("amount", turned.slot): amount,
            "action": f"{action}:{turned.slot}",
        }

    # Questions

    def _start(self, screen: Screen) -> Screen:
        return self.send(screen, {"done": screen.values("done"), "age": "weeks"})

    def _buzz(self, screen: Screen) -> Screen:
        marks = [f"{string}:{fret}" for string, fret in self.hands.board()]
        self.on_other("board", marks)
        return self.send(screen, {"buzz": marks} if marks else {"clear": "yes"})

    def _cause(self, screen: Screen) -> Screen:
        told = {}
        for name in dict.fromkeys(re.findall(r'name="(asked_\w+)"', screen.html)):
            key = name.removeprefix("asked_")
            said = answers(self.hands, key, screen.values(name))
            self.on_other(key, said)
            told[name] = said[0] if said else "unsure"
        return self.send(screen, dict(told))

    def _ear(self, screen: Screen) -> Screen:
        heard = answers(self.hands, "pickups.ear", screen.values("heard"))
        self.on_other("pickups.ear", heard)
        return self.send(screen, {"heard": heard})

    def _playtest(self, screen: Screen) -> Screen:
        found = answers(self.hands, "playtest", screen.values("symptom"))
        self.on_other("playtest", found)
        return self.send(screen, {"symptom": found, "sign": "yes"})

    def _rest(self, screen: Screen) -> Screen:
        """Leave it for a night, and come back to the setup."""
        self.hands.wait(12)
        self.clock.now += timedelta(hours=12)
        self.on_other("rest", [])
        return self.get(f"{self.setup}/next")


def where(screen: Screen, slot: str) -> Where:
    """Where the page says the tool goes."""
    check, *rest = slot.split(".")
    form = screen.form
    if check == "relief":
        return Where(check, hold=int(form["hold"]), press=int(form["press"]), gap=int(form["gap"]))
    if check == "pickups":
        return Where(check, pickup=int(rest[0]), side=rest[1])
    if check == "height":
        hold, gap = form["way"].split("-")
        return Where(check, string=int(rest[0]), hold=int(hold), gap=int(gap))
    if check == "nut":
        return Where(check, string=int(rest[0]))
    return Where(check, string=int(rest[0]), fret=12 if rest[1] == "12" else int(form["fret"]))


def _main_link(screen: Screen) -> str:
    """Where the one big button leads."""
    found = re.search(r'<a class="button button-main" href="([^"]+)"', screen.html)
    assert found, plain(screen.html)[:500]
    return unescape(found[1])
