"""Nine benches take a large file in at once; a player on others looks at pages and records readings.

    .venv/bin/python -m tests.faults.imports_beside

prints how long the pages and the readings take without and meanwhile, and what became of the imports. What
else the computer does shows in a second Benchside, where nobody takes anything in: it is asked in turns with
the first.
"""

from __future__ import annotations

import re
import statistics
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

import httpx

from tests.faults.support import House
from tests.pages.conftest import Form
from tests.setups.bench_files import bench, entry, instrument, sent, setup
from webapp.store import benches, instruments, keys, setups
from webapp.store.engine import connect, writing
from webapp.trade.content import load_trade
from webapp.web.settings import assets

BENCHES, SETUPS = 9, 600
PAGES = ("/", "/data", "/devices")
# Each setup is read so often that the last reading takes as long as the first.
PLACES_TO_READ, READINGS_EACH = 60, 8
GOES_ON = 'hx-trigger="every'


def large_file() -> bytes:
    names = [f"s{n}" for n in range(SETUPS)]
    begun = [setup(name, n) for n, name in enumerate(names)]
    return sent(
        bench(instrument(setups=begun, entries=[entry("e", n, name) for n, name in enumerate(names)]))
    )


def browser_of(house: House, places: int = 0) -> tuple[httpx.Client, list[str]]:
    """A browser on a new bench of its own, and so many setups on it, each of an instrument."""
    spec = load_trade(assets().content).kinds["bass_4_34"].spec.model_dump_json()
    engine, now = connect(house.place), datetime.now(UTC)
    with writing(engine) as session:
        owner = benches.make(session, now)
        secret = keys.make_key(session, owner, "A test", now)
        name = f"benchside_{benches.get_or_make(session).id}"
        made = [instruments.add(session, owner, f"i{n}", spec) for n in range(places)]
        begun = [setups.start(session, owner, one, f"s-{one}", now) for one in made]
    engine.dispose()
    browser = httpx.Client(
        base_url=house.address, headers={"Origin": house.address}, cookies={name: secret}, timeout=600
    )
    return browser, begun


@dataclass
class Player:
    """Looks at pages, and records a reading now and then. Times in ms."""

    looking: httpx.Client
    recording: httpx.Client
    setups: list[str]
    pages: list[float] = field(default_factory=list)
    readings: list[float] = field(default_factory=list)
    recorded: int = 0

    def look(self, page: str) -> None:
        with timed(self.pages):
            assert self.looking.get(page).status_code == 200

    def record(self) -> None:
        place = f"/setups/{self.setups[self.recorded // READINGS_EACH % len(self.setups)]}/read/relief"
        form = Form(self.recording.get(place).text, place).fields | {"value": "0.30 mm"}
        self.recorded += 1
        with timed(self.readings):
            assert self.recording.post(place, data=form).status_code == 303


@contextmanager
def timed(found: list[float]) -> Iterator[None]:
    began = time.perf_counter()
    yield
    found.append(1000 * (time.perf_counter() - began))
    time.sleep(0.02)


def said(found: list[float]) -> str:
    ordered = sorted(found)
    return (
        f"median {statistics.median(ordered):6.1f} ms, 95 % {ordered[int(0.95 * len(ordered))]:6.1f} ms, "
        f"longest {ordered[-1]:6.1f} ms, of {len(ordered)}"
    )


def send(browser: httpx.Client, data: bytes, ends: list[tuple[str, float]]) -> None:
    """Sends a file in, and looks once a second, as the page does, until it is in."""
    began = time.perf_counter()
    answer = browser.post("/data/import", files={"file": ("a.json", data)})
    shown = browser.get(answer.headers["location"]) if answer.status_code == 303 else answer
    while GOES_ON in shown.text:
        time.sleep(1)
        shown = browser.get(f"{answer.headers['location']}/progress")
    heading = re.search("<h1>(.*?)</h1>", shown.text)
    ends.append((heading[1] if heading else str(shown.status_code), time.perf_counter() - began))


def play(players: list[Player], until: threading.Event | None = None, rounds: int = 60) -> list[Player]:
    """So many rounds in turns, or until something is over; returns those who played, to go on with."""
    here = [replace(one, pages=[], readings=[]) for one in players]
    while len(here[0].readings) < rounds if until is None else not until.is_set():
        for page in PAGES:
            for one in here:
                one.look(page)
        for one in here:
            one.record()
    return here


def told(when: str, players: list[Player]) -> list[Player]:
    for where, one in zip(("here", "elsewhere"), players, strict=True):
        for what, found in (("pages", one.pages), ("readings", one.readings)):
            print(f"{f'{when} {where}, {what}:':32}{said(found)}", flush=True)
    return players


def main() -> None:
    data = large_file()
    with tempfile.TemporaryDirectory(prefix="benchside-") as folder, ExitStack() as served:
        houses = [House(Path(folder, name)) for name in ("here", "elsewhere")]
        for house in houses:
            house.folder.mkdir(mode=0o700)
            served.callback(house.kill)
            house.start()
        players = [Player(browser_of(house)[0], *browser_of(house, PLACES_TO_READ)) for house in houses]
        print(f"{len(data) // 1000} kB, {SETUPS} setups.", flush=True)
        players = told("Alone", play(play(players, rounds=5)))
        ends: list[tuple[str, float]] = []
        over = threading.Event()
        browsers = [browser_of(houses[0])[0] for _ in range(BENCHES)]
        senders = [threading.Thread(target=send, args=(one, data, ends)) for one in browsers]
        watch = threading.Thread(target=lambda: ([one.join() for one in senders], over.set()))
        for one in (*senders, watch):
            one.start()
        told("Meanwhile", play(players, over))
        for heading, took in sorted(ends, key=lambda one: one[1]):
            print(f"import: {heading} after {took:.1f} s")


if __name__ == "__main__":
    main()
