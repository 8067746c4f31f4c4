"""Two benches on one Benchside, and an address of every route that leads to something on the first."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.keyed import ORIGIN, keyed
from tests.pages.conftest import Player
from webapp.store import benches
from webapp.store.engine import writing

UNNAMED = "what-is-this"
AIR = b"Time,Temperature (C),Humidity (%)\n2026-01-01 10:00,20,40\n2026-01-02 10:00,21,60\n"


def routes_of(routes: Iterable[Any]) -> Iterator[tuple[str, str]]:
    """Every method and path that an app answers to, also behind a route that parts them further."""
    for route in routes:
        if getattr(route, "routes", ()):
            yield from routes_of(route.routes)
        elif getattr(route, "methods", None):
            yield from ((method, route.path) for method in sorted(route.methods - {"HEAD"}))
        else:
            yield "GET", f"{route.path}/{{file}}"


@dataclass
class World:
    """`own` and `other` each hold a key to a bench with something of everything on it."""

    app: FastAPI
    own: TestClient = field(init=False)
    other: TestClient = field(init=False)
    student: TestClient = field(init=False)
    names: dict[str, str] = field(init=False)
    other_names: dict[str, str] = field(init=False)

    def __post_init__(self) -> None:
        with writing(self.app.state.bench_app.engine) as session:
            benches.get_or_create_local_bench(session)
            stranger = benches.make(session, datetime.now(UTC))
        self.own = keyed(self.app)
        self.other = keyed(self.app, stranger)
        self.names = self._names(self.own, "")
        self.other_names = self._names(self.other, stranger)
        self.student = TestClient(self.app, base_url=ORIGIN, headers={"Origin": ORIGIN})
        Player(self.student).fill(f"/lesson/{self.names['lesson_token']}/start", name="A student's bass")

    def _names(self, client: TestClient, bench_id: str) -> dict[str, str]:
        player = Player(client)
        instrument = player.make("bass_4_34", name="Old blue")
        setup = player.begin(instrument)
        player.fill(f"{setup}/read/relief", value="0.9")
        keyed(self.app, bench_id, "Spare")
        key = re.search(r'Spare</b>.*?/devices/([^/"]+)/unpair', player.get("/devices").text, re.DOTALL)
        quick = self._quick(player, instrument)
        job = client.post("/air/import", files={"file": ("air.csv", AIR)}, follow_redirects=False)
        take = client.post(f"{setup}/listen/tuning", files={"take": ("a.wav", b"")}, follow_redirects=False)
        whole = {"file": ("bench.json", client.get("/data/bench.json").content)}
        came = client.post("/data/import", files=whole, follow_redirects=False)
        assert key
        return {
            **self._shared(player, instrument),
            **self._taught(player),
            "instrument_id": instrument.rpartition("/")[2],
            "setup_id": setup.rpartition("/")[2],
            "quick_id": quick.rpartition("/")[2],
            "key_id": key[1],
            "came_id": came.headers["location"].rpartition("/")[2],
            "job_id": job.headers["location"].rpartition("/")[2],
            "take_id": take.headers["location"].rpartition("/")[2],
            "what": "tuning",
            "slot_key": "relief",
            "check": "relief",
            "name": "start",
            "number": "1",
            "code": "no-such-code",
            "file": "benchside.css",
        }

    def _quick(self, player: Player, instrument: str) -> str:
        page = f"{instrument}/quick"
        return str(player.fill(page, relief="0.3", height_4="2.5", height_1="2.0").headers["location"])

    def _shared(self, player: Player, instrument: str) -> dict[str, str]:
        """The history of the instrument, behind a link."""
        share = player.fill(f"{instrument}/share").headers["location"]
        return {"share_id": share.rpartition("/")[2], "share_token": _token(player.get(share).text, "shared")}

    def _taught(self, player: Player) -> dict[str, str]:
        """A lesson, a setup that was handed in to it, and one that could be."""
        lesson = player.fill("/lessons/new?kind=bass_4_34", action="/lessons/new", title="First setup")
        home = lesson.headers["location"]
        token = _token(player.get(home).text, "lesson")
        handed, free = (self._lesson_setup(player, token) for _ in range(2))
        player.fill(f"{handed}/hand-in", name="Ann")
        sheet = re.search(rf'{home}/sheet/([\w-]+)"', player.get(f"{home}/sheet").text)
        assert sheet
        return {
            "lesson_id": home.rpartition("/")[2],
            "lesson_token": token,
            "lesson_setup_id": handed.rpartition("/")[2],
            "free_setup_id": free.rpartition("/")[2],
            "hand_in_id": sheet[1],
            "secret": "no-such-secret",
        }

    def _lesson_setup(self, player: Player, token: str) -> str:
        begun = player.fill(f"/lesson/{token}/start", name="Lesson bass").headers["location"]
        setup = str(begun).removesuffix("/next")
        player.fill(f"{setup}/finish")
        return setup

    def address(self, path: str, **theirs: str) -> str:
        """The path with its blanks filled in; what is filled in with UNNAMED needs a line above."""
        return as_named(path).format_map(defaultdict(lambda: UNNAMED, {**self.names, **theirs}))


def as_named(path: str) -> str:
    """The path with its blanks told apart: a quick check is a setup, but not every setup is a quick check."""
    path = path.replace("{setup_id}", "{quick_id}") if "/quick/" in path else path
    if path.endswith(("/lesson", "/hand-in", "/take-back")):
        path = path.replace("{setup_id}", "{lesson_setup_id}")
    for place in ("shared", "lesson"):
        if path.startswith(f"/{place}/"):
            path = path.replace("{token}", f"{{{place.removesuffix('d')}_token}}")
    return path.replace("{token}", "{came_id}") if path.startswith("/data/import/") else path


def _token(page: str, place: str) -> str:
    """The token in a link that a page shows."""
    found = re.search(rf"/{place}/([\w-]{{27}})", page)
    assert found
    return found[1]
