"""A teacher with a lesson, and students who open its link in browsers of their own."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.keyed import ORIGIN, keyed
from tests.pages.conftest import Player

CHECKS = ("relief", "height", "nut", "intonation", "pickups", "playtest")


def browser(app: FastAPI) -> Player:
    """A browser that holds no key."""
    return Player(TestClient(app, base_url=ORIGIN, headers={"Origin": ORIGIN}))


@dataclass
class School:
    """`teacher` wrote one lesson; `home` is its page and `link` what students are given."""

    app: FastAPI
    kind: str = "bass_4_34"
    written: dict[str, object] = field(default_factory=dict)
    teacher: Player = field(init=False)
    home: str = field(init=False)

    def __post_init__(self) -> None:
        self.teacher = Player(keyed(self.app))
        self.home = self.write(**self.written)

    def write(self, **filled: object) -> str:
        """A new lesson; returns its page. `only` names its checks."""
        filled.setdefault("title", "First setup")
        only = filled.pop("only", None)
        if isinstance(only, tuple):
            filled |= {f"in_{check}": "yes" if check in only else "" for check in CHECKS}
        path = f"/lessons/new?kind={self.kind}"
        return str(self.teacher.fill(path, action="/lessons/new", **filled).headers["location"])

    @property
    def link(self) -> str:
        found = re.search(r"/lesson/[\w-]+", self.teacher.get(self.home).text)
        assert found
        return found[0]

    def student(self, name: str = "My bass") -> tuple[Player, str]:
        """A student who has begun: their browser, and their setup's page."""
        player = browser(self.app)
        went = player.fill(f"{self.link}/start", name=name).headers["location"]
        return player, f"/setups/{went.rpartition('=')[2]}"

    def hand_in(self, name: str, **typed: str) -> tuple[Player, str]:
        """A student who read these places (height_4="2.6"), finished, and handed in."""
        player, setup = self.student(f"{name}'s bass")
        for slot, value in typed.items():
            player.fill(f"{setup}/read/{slot.replace('_', '.')}", value=value)
        player.fill(f"{setup}/finish")
        player.fill(f"{setup}/hand-in", name=name)
        return player, setup
