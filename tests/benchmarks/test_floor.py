"""How far Benchside is from the floor: what it costs beyond serving the same bytes after one read or write.

Run as a script it prints the ratios: ``python -m tests.benchmarks.test_floor``. What is aimed at stands
beside each; a busy machine's clock is no test, so only the answers are.
"""

from __future__ import annotations

import http.client
import os
import secrets
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any
from urllib.parse import urlencode, urlsplit

import psutil

import webapp
from tests.benchmarks.floor import KEPT, PREFIX
from tests.forked import PATIENCE_S, free_port
from tests.pages.years import put_on
from webapp.command.demo import fill
from webapp.store import benches, instruments, keys, setups
from webapp.store.engine import Engine, open_store, writing
from webapp.trade.content import load_trade
from webapp.web.settings import assets

TOP = Path(webapp.__file__).parent.parent
PAGE_AIM, STEP_AIM, START_AIM, HISTORY_AIM = 2.5, 2.2, 1.3, 3.0
LIBRARIES = "import fastapi, sqlmodel, numpy, jinja2, uvicorn"
SEEN = "99999999999"
FRESH_SETUPS = 8


def reading() -> bytes:
    """A form that was not sent before."""
    form = {"form_id": secrets.token_urlsafe(12), "seen": SEEN, "tool": "feeler"}
    frets = {"hold": "1", "press": "17", "gap": "8"}
    return urlencode({**form, **frets, "value": "0.3", "value_unit": "mm"}).encode()


@dataclass
class Seat:
    """A bench to measure on: who asks, and for what."""

    port: int
    cookie: str
    card: str = ""
    steps: list[str] = field(default_factory=list)
    few: str = ""
    many: str = ""
    wire: http.client.HTTPConnection = field(init=False)

    def __post_init__(self) -> None:
        self.wire = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)

    def ask(
        self, method: str, path: str, body: bytes = b"", more: dict[str, str] | None = None
    ) -> tuple[int, http.client.HTTPMessage, bytes]:
        """One question and its whole answer, on the wire that is open already, as a browser's."""
        headers = {
            "Cookie": self.cookie,
            "Accept-Encoding": "gzip",
            "Origin": f"http://127.0.0.1:{self.port}",
        }
        if method == "POST":
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        self.wire.request(method, path, body or None, headers | (more or {}))
        answer = self.wire.getresponse()
        return answer.status, answer.headers, answer.read()

    def get(self, path: str) -> bytes:
        status, _, body = self.ask("GET", path)
        assert status == 200, (path, status)
        return body

    def step(self, number: int) -> None:
        """A reading of the relief, recorded."""
        path = self.steps[number % len(self.steps)]
        status, _, _ = self.ask("POST", path, reading())
        assert status == 303, (path, status)

    def put_floor(self, name: str, method: str, path: str, body: bytes = b"") -> None:
        """Lets the floor give what the app gives."""
        status, headers, answer = self.ask(method, path, body)
        assert status in (200, 303), (path, status)
        told = {f"x-{kept}": headers[kept] for kept in KEPT if kept in headers}
        assert self.ask("PUT", PREFIX + name, answer, told | {"x-status": str(status)})[0] == 204

    def floor(self, method: str, name: str) -> None:
        assert self.ask(method, PREFIX + name)[0] in (200, 303)


def furnish(folder: Path, port: int, readings: int) -> Seat:
    """The demo's instruments, some setups just begun, and two with years of quick checks behind them."""
    folder.mkdir(parents=True, exist_ok=True)
    engine, now = open_store(folder / "bench.sqlite3"), datetime.now(UTC)
    trade = load_trade(assets().content)
    # (On one that is filled already, this does nothing.)
    fill(engine, trade, now)
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session).id
        cookie = f"benchside_{benches.get_or_make(session).id}={keys.make_key(session, bench, 'A', now)}"
        seat = Seat(port, cookie, card=instruments.list_all(session, bench)[0].id)
        spec = trade.kinds["electric_6"].spec.model_dump_json()
        for number in range(FRESH_SETUPS):
            made = instruments.add(session, bench, f"fresh-{number}", spec)
            setup = setups.start(session, bench, made, f"fresh-{number}", now - timedelta(minutes=1))
            seat.steps.append(f"/setups/{setup}/read/relief")
    seat.few, seat.many = _years(engine, "few", 100), _years(engine, "many", readings)
    engine.dispose()
    return seat


def _years(engine: Engine, name: str, readings: int) -> str:
    """Five readings a quick check."""
    return put_on(engine, checks=readings // 5, days=5 * 365, per_check=5, air=False, name=name)


@contextmanager
def served(folder: Path, port: int) -> Iterator[None]:
    """Benchside and the floor on one server."""
    command = [sys.executable, "-m", "tests.benchmarks.floor", str(folder), str(port)]
    process = subprocess.Popen(command, cwd=TOP)
    try:
        _wait_for(port, process)
        _wait_until_idle(psutil.Process(process.pid))
        yield
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(PATIENCE_S)


def _wait_until_idle(process: psutil.Process) -> None:
    """Until it has done what its start left for later."""
    before, now = -1.0, 0.0
    while now - before > 0.02:
        time.sleep(0.5)
        before, now = now, sum(process.cpu_times()[:2])


def _wait_for(
    port: int,
    process: subprocess.Popen[Any],
    path: str = "/static/icon.svg",
    headers: dict[str, str] | None = None,
) -> None:
    """Until it answers."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until and process.poll() is None:
        try:
            wire = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
            wire.request("GET", path, headers=headers or {})
            assert wire.getresponse().status == 200
            return
        except OSError:
            time.sleep(0.005)
    raise RuntimeError("it did not start")


def side_by_side(runs: int, *works: Callable[[int], object]) -> list[float]:
    """The median ms of each, done in turns, so that whatever else the computer does is shared."""
    took: list[list[float]] = [[] for _ in works]
    for number in range(runs):
        for work, times in zip(works, took, strict=True):
            began = time.perf_counter()
            work(number)
            times.append((time.perf_counter() - began) * 1000)
    return [median(times) for times in took]


def start_s(folder: Path, cookie: str = "") -> float:
    """Processor seconds from the command to its first answer, on data that is there already: the page of the
    link that the browser opens, or with a key the bench."""
    port = free_port()
    command = [sys.executable, "-m", "webapp", "--no-browser", "--data", str(folder), "--port", str(port)]
    process = subprocess.Popen(command, cwd=TOP, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        said = (line for line in process.stdout if line.startswith("Come in: "))
        path = "/" if cookie else urlsplit(next(said).split()[-1]).path
        _wait_for(port, process, path, {"Cookie": cookie} if cookie else {})
        told = psutil.Process(process.pid).cpu_times()
        return told.user + told.system
    finally:
        os.kill(process.pid, signal.SIGINT)
        process.wait(PATIENCE_S)


def libraries_s() -> float:
    """Processor seconds to load what it stands on."""
    before = os.times()
    subprocess.run([sys.executable, "-c", LIBRARIES], check=True)
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def starts(folder: Path, cookie: str, runs: int) -> dict[str, tuple[str, float]]:
    """To the first page and to the bench, in turns with the libraries alone."""
    took = [(libraries_s(), start_s(folder), start_s(folder, cookie)) for _ in range(runs)]
    libraries, first, bench = (median(one) for one in zip(*took, strict=True))
    return {
        "start": _ratio("start to the first page", first * 1000, libraries * 1000, START_AIM),
        "start_bench": _ratio("start to the bench", bench * 1000, libraries * 1000, START_AIM),
    }


def measure(runs: int, readings: int, demo: Path | None = None) -> dict[str, tuple[str, float]]:
    """Each thing that is aimed at: its line, and its number. `demo` is a file that is filled already."""
    folder = Path(tempfile.mkdtemp(prefix="benchside-floor-"))
    try:
        if demo is not None:
            shutil.copy(demo, folder / "bench.sqlite3")
        seat = furnish(folder, free_port(), readings)
        with served(folder, seat.port):
            found = _ratios(seat, runs)
        found |= starts(folder, seat.cookie, max(1, min(5, runs // 10)))
        return found
    finally:
        shutil.rmtree(folder)


def _ratios(seat: Seat, runs: int) -> dict[str, tuple[str, float]]:
    card = f"/instruments/{seat.card}"
    seat.put_floor("card", "GET", card)
    seat.put_floor("step", "POST", seat.steps[0], reading())
    few, many = (f"/instruments/{name}/history" for name in (seat.few, seat.many))
    for path in (card, few, many):
        seat.get(path)
    page, page_floor = side_by_side(runs, lambda _: seat.get(card), lambda _: seat.floor("GET", "card"))
    step, step_floor = side_by_side(runs, seat.step, lambda _: seat.floor("POST", "step"))
    short, long = side_by_side(max(2, runs // 20), lambda _: seat.get(few), lambda _: seat.get(many))
    return {
        "page": _ratio("instrument page", page, page_floor, PAGE_AIM),
        "step": _ratio("step's POST", step, step_floor, STEP_AIM),
        "history": _ratio("long history against a short one", long, short, HISTORY_AIM),
    }


def _ratio(name: str, this: float, that: float, aim: float) -> tuple[str, float]:
    return f"{name}: {this:.1f} ms / {that:.1f} ms = {this / that:.2f} (aim {aim})", this / that


def test_the_floor_and_the_app_answer_side_by_side(demo_database: Path) -> None:
    found = measure(runs=4, readings=500, demo=demo_database)
    assert set(found) == {"page", "step", "history", "start", "start_bench"}
    assert all(number > 0 for _, number in found.values())


if __name__ == "__main__":
    for line, _ in measure(runs=200, readings=10_000).values():
        print(line)
