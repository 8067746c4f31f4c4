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
from webapp.trade.load import Trade

# What a bass in good order reads, in mm and cents.
GOOD = {"relief": "0.3", "height": "2.3", "nut": "0.4", "intonation": "1", "pickups": "2.2"}
READY = ("clean", "strings", "tuned", "position", "tools")
ANSWERS: dict[str, dict[str, object]] = {
    "start": {"done": READY},
    "buzz": {"clear": "yes"},
    "listen": {},
    "playtest": {"sign": "yes"},
}


@dataclass
class Walk:
    """One setup on its way. `typed` gives the readings of a slot in turn; what is not given reads well."""

    player: Player
    setup: str
    typed: Mapping[str, Sequence[str]] = field(default_factory=dict)
    good: Callable[[str], str] = lambda slot: GOOD[slot.split(".")[0]]
    places: list[str] = field(default_factory=list)

    def here(self) -> str:
        """Where the next step is: 'read/relief', 'ask/buzz', 'finish', 'report'."""
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
            given = self.typed.get(name, ())
            again = Counter(self.places)[place]
            filled["value"] = given[min(again, len(given) - 1)] if given else self.good(name)
        elif act == "adjust":
            filled["action"] = "turn"
        elif act == "ask":
            filled.update(ANSWERS[name])
        return filled

    def step(self) -> str:
        """Do the next thing; returns where that was."""
        return self._do(*self._next())

    def _do(self, place: str, html: str) -> str:
        self.player.post(f"{self.setup}/{place}", self.fields(place, html))
        self.places.append(place)
        return place

    def until(self, place: str) -> Walk:
        """Go on until the next step is `place` (nothing is done there)."""
        for _ in range(80):
            here, html = self._next()
            if here == place:
                return self
            self._do(here, html)
        raise AssertionError(f"{place} never came: {self.places}")

    def to_the_end(self) -> Walk:
        """Every step there is, and the end of the setup."""
        self.until("finish")
        self.step()
        return self


def heading(html: str) -> str:
    """The words of a page's first heading."""
    found = re.search(r"<h1[^>]*>(.*?)</h1>", html, re.DOTALL)
    return found[1].strip() if found else ""


def on_target(trade: Trade, kind: str) -> Callable[[str], str]:
    """What an instrument of a kind reads when it is just as its targets want it."""
    spec = trade.kinds[kind].spec
    case = Case(spec, trade, Journal.of([]), datetime.now(UTC))
    return lambda slot: f"{case.bands(parse_slot(slot, spec)).target.middle:.3f}"
