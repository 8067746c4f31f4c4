"""What browser tests work with: a server process, and what a browser complained of."""

from __future__ import annotations

import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import httpx
from playwright.sync_api import ConsoleMessage, Page, Request, Response

from webapp.store import benches, instances, keys
from webapp.store.engine import connect, writing

TOP = Path(__file__).parent.parent.parent
START_SECONDS = 30

NewPage = Callable[..., Page]


@dataclass
class Server:
    """A benchside process on a data folder; `restart` keeps the address and the data."""

    data: Path
    port: int
    demo: bool = False
    options: tuple[str, ...] = ()
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def entry(self) -> str:
        """The link into the bench that the command printed last."""
        return re.findall(r"^Come in: (\S+)$", self.log.read_text(), re.MULTILINE)[-1]

    @property
    def database(self) -> Path:
        return self.data / "demo" / "demo.sqlite3" if self.demo else self.data / "bench.sqlite3"

    def cookies(self) -> dict[str, str]:
        """A new key to the bench, made in the server's own database."""
        engine = connect(self.database)
        with writing(engine) as session:
            bench = benches.get_or_create_local_bench(session).id
            secret = keys.make_key(session, bench, "A test", datetime.now(UTC))
            name = f"benchside_{instances.get_or_make(session).id}"
        engine.dispose()
        return {name: secret}

    @property
    def log(self) -> Path:
        return self.data.parent / f"{self.data.name}.log"

    def start(self) -> None:
        command = [sys.executable, "-m", "webapp", "--data", str(self.data), "--port", str(self.port)]
        command += ["--no-browser", *(["--demo"] if self.demo else []), *self.options]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(command, stdout=log, stderr=log, cwd=TOP)
        until = time.monotonic() + START_SECONDS
        while not self._answers():
            if self.process.poll() is not None or time.monotonic() > until:
                self.stop()
                raise RuntimeError(f"the server did not start:\n{self.log.read_text()}")
            time.sleep(0.05)

    def stop(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(timeout=10)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        self.process = None

    def restart(self) -> None:
        self.stop()
        self.start()

    def _answers(self) -> bool:
        try:
            return httpx.get(self.url, timeout=5).status_code < 500
        except httpx.TransportError:
            return False


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    assert isinstance(port, int)
    return port


@dataclass
class Complaints:
    """What the browser complained of. A test that provokes a refusal says so in `expected_statuses`."""

    found: list[str] = field(default_factory=list)
    expected_statuses: set[int] = field(default_factory=set)

    def watch(self, page: Page) -> None:
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.found.append(f"script: {error}"))
        page.on("requestfailed", self._failed)
        page.on("response", self._response)

    def _console(self, message: ConsoleMessage) -> None:
        # Chromium also writes each refused answer to the console; those are judged by `_response`.
        refused = message.text.startswith("Failed to load resource: the server responded with a status of")
        if message.type in ("error", "warning") and not refused:
            self.found.append(f"console {message.type}: {message.text}")

    def _failed(self, request: Request) -> None:
        # A page left before its last request was answered is no failure.
        if request.failure != "net::ERR_ABORTED":
            self.found.append(f"failed: {request.method} {request.url} {request.failure}")

    def _response(self, response: Response) -> None:
        if response.status >= 400 and response.status not in self.expected_statuses:
            self.found.append(f"answered {response.status}: {response.request.method} {response.url}")
