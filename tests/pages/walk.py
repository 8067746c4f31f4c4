"""Walks a setup the way a player does: always the next step, typing what the gauges showed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from tests.pages.conftest import Form, Player
from webapp.setups.case import Case
from webapp.setups.journal import Journal
from webapp.setups.slots import parse_slot
from webapp.trade.content import Trade

# What a bass in good order reads, in mm and cents.
GOOD = {"relief": "0.3", "height": "2.3", "nut": "0.4", "intonation": "1", "pickups": "2.2"}
READY = ("clean", "strings", "tuned", "position")
ANSWERS: dict[str, dict[str, object]] = {
    "start": {"done": READY},
    "buzz": {"clear": "yes"},
    "cause": {"asked_loose": "no", "asked_technique": "no", "asked_neighbour": "unsure"},
    "ear": {},
    "playtest": {"sign": "yes"},
}


@dataclass
class Walk:
    """One setup on its way. `typed` gives the readings of a slot in turn; what is not given reads well.

    `places` are the pages it came by, `read` and `turned` the slots that were read and turned there.
    """

    player: Player
    setup: str
    typed: Mapping[str, Sequence[str]] = field(default_factory=dict)
    good: Callable[[str], str] = lambda slot: GOOD[slot.split(".")[0]]
    places: list[str] = field(default_factory=list)
    read: list[str] = field(default_factory=list)
    turned: list[str] = field(default_factory=list)

    def here(self) -> str:
        """Where the next step is: 'read/height', 'ask/buzz', 'finish', 'report'."""
        return self._next()[0]

    def _next(self) -> tuple[str, str]:
        answer = self.player.get(f"{self.setup}/next")
        return answer.url.path.removeprefix(f"{self.setup}/"), answer.text

    def fields(self, place: str, html: str = "") -> dict[str, object]:
        """The form of a place, filled in."""
        path = f"{self.setup}/{place}"
        filled: dict[str, object] = dict(Form(html or self.player.get(path).text, path).fields)
        act, _, name = place.partition("/")
        if act == "read":
            for slot in slots_on(place, filled):
                filled[slot.replace(".", "_") if "rows" in filled else "value"] = self._typed(slot)
        elif act == "adjust":
            filled["action"] = "turn"
        elif act == "ask":
            filled.update(ANSWERS[name])
        return filled

    def _typed(self, slot: str) -> str:
        given, again = self.typed.get(slot, ()), Counter(self.read)[slot]
        return given[min(again, len(given) - 1)] if given else self.good(slot)

    def step(self) -> str:
        """Do the next thing; returns where that was."""
        return self._do(*self._next())

    def _do(self, place: str, html: str) -> str:
        filled = self.fields(place, html)
        self.player.post(f"{self.setup}/{place}", filled)
        self.places.append(place)
        if place.startswith(("read/", "adjust/")):
            (self.read if place.startswith("read/") else self.turned).extend(slots_on(place, filled))
        return place

    def until(self, place: str) -> Walk:
        """Go on until the next step is `place`, alone or with others on its page (nothing is done there)."""
        for _ in range(80):
            here, html = self._next()
            if here == place or self._shows(here, html, place):
                return self
            self._do(here, html)
        raise AssertionError(f"{place} never came: {self.places}")

    def _shows(self, here: str, html: str, place: str) -> bool:
        act, _, slot = place.partition("/")
        path = f"{self.setup}/{here}"
        return here.startswith(f"{act}/") and slot in slots_on(here, Form(html, path).fields)

    def to_the_end(self) -> Walk:
        """Every step there is, and the end of the setup."""
        self.until("finish")
        self.step()
        return self


def slots_on(place: str, fields: Mapping[str, object]) -> list[str]:
    """The slots that a page asks about."""
    return str(fields.get("rows") or place.partition("/")[2]).split()


def heading(html: str) -> str:
    """The words of a page's first heading."""
    found = re.search(r"<h1[^>]*>(.*?)</h1>", html, re.DOTALL)
    return found[1].strip() if found else ""


def on_target(trade: Trade, kind: str) -> Callable[[str], str]:
    """What an instrument of a kind reads when it is just as its targets want it."""
    spec = trade.kinds[kind].spec
    case = Case(spec, trade, Journal.of([]), datetime.now(UTC))
    return lambda slot: f"{case.bands(parse_slot(slot, spec)).target.middle:.3f}"
