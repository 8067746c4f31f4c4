"""A Benchside of the run's own: started as its users start it, stopped and forgotten in the end."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httpx
import psutil
from sqlalchemy import URL, text

import webapp
from tests.forked import free_port
from tests.load.usage import MB, workers_of
from tests.postgres import running, wheel
from webapp.store.engine import connect

TOP = Path(webapp.__file__).parent.parent
NAME = "bench.example.org"
SCHOOL = "203.0.113.7"
AGENT = "Mozilla/5.0 (Linux; Android 14) Mobile"
START_WITHIN_S, STOP_WITHIN_S = 30, 15


class NotStarted(Exception):
    """The server did not start; the message says why."""


@dataclass
class House:
    """The process, its data, and how a browser speaks to it."""

    folder: Path
    database: URL | None = None
    workers: int = 1
    kept: bool = True
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def store(self) -> URL | Path:
        return self.database if self.database is not None else self.folder / "data" / "bench.sqlite3"

    @property
    def log(self) -> Path:
        return self.folder / "log"

    def headers(self, caller: str = SCHOOL) -> Mapping[str, str]:
        """What a browser sends; where the house is hosted, as the reverse proxy passes it on."""
        lasts = {} if self.kept else {"Connection": "close"}
        if self.database is None:
            return {"Origin": self.address, "User-Agent": AGENT, **lasts}
        said = {"X-Forwarded-Proto": "https", "X-Forwarded-For": caller}
        return {"Host": NAME, "Origin": f"https://{NAME}", "User-Agent": AGENT, **said, **lasts}

    def start(self) -> None:
        """Starts it, and waits until every worker answers."""
        command = [sys.executable, "-m", *self._command(), "--port", str(self.port)]
        with self.log.open("ab") as log:
            # A session of its own: Ctrl+C is ours, and we stop it when we are done with it.
            self.process = subprocess.Popen(command, stdout=log, stderr=log, cwd=TOP, start_new_session=True)
        until_s = time.monotonic() + START_WITHIN_S
        while not (self._answers() and self._all_there()):
            if self.process.poll() is not None or time.monotonic() > until_s:
                raise NotStarted(f"the server did not start:\n{self.log.read_text()[-3000:]}")
            time.sleep(0.1)

    def stop(self) -> None:
        if self.process is None or self.process.poll() is not None:
            return
        self.process.send_signal(signal.SIGTERM)
        try:
            self.process.wait(STOP_WITHIN_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()

    def processes(self) -> list[psutil.Process]:
        """The workers."""
        assert self.process is not None
        return workers_of(psutil.Process(self.process.pid))

    def entry(self) -> str:
        """The path of a link into a bench: a new one where the house is hosted, else the player's own."""
        said = self._said("bench", "new") if self.database is not None else self.log.read_text()
        found = re.search(r"Come in: https?://[^/\s]+(/\S+)", said)
        if found is None:
            raise NotStarted(f"no link into the bench:\n{said}")
        return found[1]

    def troubles(self, most: int = 3) -> list[str]:
        """What the server itself complained of: in its own log, or below it."""
        found, plain = [], []
        for line in self.log.read_text(errors="replace").splitlines():
            try:
                told = json.loads(line)
            except ValueError:
                plain.append(line)
                continue
            if told.get("level") in ("warning", "error", "critical"):
                found.append(f"{told.get('what')}: {str(told.get('trace', '')).strip()[-600:]}")
        _, _, after = "\n".join(plain).partition("Stop with Ctrl+C.")
        return found[:most] or [line for line in [after.strip()[-1500:]] if line]

    def _command(self) -> list[str]:
        if self.database is None:
            return ["webapp", "--no-browser", "--data", str(self.folder / "data")]
        hosted = ["webapp", "serve", "--name", NAME, "--proxy", "127.0.0.1", "--workers", str(self.workers)]
        return [*hosted, *self._where()]

    def _where(self) -> list[str]:
        assert self.database is not None
        url = self.database.render_as_string(hide_password=False)
        return ["--data", str(self.folder / "data"), "--database", url]

    def _said(self, *arguments: str) -> str:
        ended = subprocess.run(
            [sys.executable, "-m", "webapp", *arguments, *self._where()],
            capture_output=True, text=True, timeout=60, cwd=TOP,
        )  # fmt: skip
        return ended.stdout + ended.stderr

    def _answers(self) -> bool:
        try:
            answer = httpx.get(
                f"{self.address}/static/icon.svg", headers=self.headers(), timeout=5, trust_env=False
            )
        except httpx.TransportError:
            return False
        return answer.status_code == 200

    def _all_there(self) -> bool:
        """The first worker that is ready answers for all; the others are when they have grown as large."""
        sizes_mb = [worker.memory_info().rss / MB for worker in self.processes()]
        return len(sizes_mb) == self.workers and min(sizes_mb) > 0.9 * max(sizes_mb)


@contextmanager
def hosted(workers: int, kept: bool) -> Iterator[tuple[House, psutil.Process]]:
    """The hosted form on a PostgreSQL that keeps its promises; with it the database's first process."""
    if wheel() is None:
        raise NotStarted("the test extra has no PostgreSQL for this platform.")
    with ExitStack() as stack:
        with _held_back():
            server = stack.enter_context(running(durable=True))
        url = server.new_database()
        folder = Path(stack.enter_context(_folder()))
        yield stack.enter_context(started(House(folder, url, workers, kept))), _first_process(url)


@contextmanager
def at_home() -> Iterator[tuple[House, None]]:
    """Benchside on one's own computer."""
    with _folder() as folder, started(House(Path(folder))) as house:
        yield house, None


def _folder() -> tempfile.TemporaryDirectory[str]:
    return tempfile.TemporaryDirectory(prefix="benchside-load-")


@contextmanager
def started(house: House) -> Iterator[House]:
    """It runs until the block ends."""
    try:
        house.start()
        yield house
    finally:
        house.stop()


@contextmanager
def _held_back() -> Iterator[None]:
    """Ctrl+C waits for what could not be found again if it were left half started."""
    came: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if came:
        raise KeyboardInterrupt


def _first_process(url: URL) -> psutil.Process:
    engine = connect(url)
    with engine.connect() as connection:
        own = psutil.Process(connection.execute(text("SELECT pg_backend_pid()")).scalar_one())
        first = own.parent()
    engine.dispose()
    assert first is not None
    return first


def kept_forms(store: URL | Path) -> set[str]:
    """The names of all forms that are in the journals."""
    engine = connect(store)
    with engine.connect() as connection:
        found = {row[0] for row in connection.execute(text("SELECT form_id FROM entry"))}
    engine.dispose()
    return found
