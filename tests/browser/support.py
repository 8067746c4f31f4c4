"""What browser tests work with: a server process, and what a browser complained of."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from multiprocessing.process import BaseProcess
from pathlib import Path

from playwright.sync_api import ConsoleMessage, Page, Request, Response

from tests.forked import started, stop, wait_until_it_answers
from webapp.store import benches, keys
from webapp.store.engine import connect, writing

NewPage = Callable[..., Page]


@dataclass
class Server:
    """A benchside process on a data folder; `restart` keeps the address and the data.

    `begin_with` is a database to copy there before the first start: quicker than to make or to fill it.
    """

    data: Path
    port: int
    begin_with: Path | None = None
    demo: bool = False
    options: tuple[str, ...] = ()
    process: BaseProcess | None = None

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
            name = f"benchside_{benches.get_or_make(session).id}"
        engine.dispose()
        return {name: secret}

    @property
    def log(self) -> Path:
        return self.data.parent / f"{self.data.name}.log"

    def start(self) -> None:
        if self.begin_with is not None and not self.database.exists():
            self.database.parent.mkdir(mode=0o700, parents=True)
            shutil.copy(self.begin_with, self.database)
        told = ("--data", self.data, "--port", self.port, "--no-browser", *(["--demo"] if self.demo else []))
        self.process = started(*told, *self.options, out=self.log)
        wait_until_it_answers(self.process, self.port, self.log)

    def stop(self) -> None:
        if self.process is not None:
            stop(self.process)
        self.process = None

    def restart(self) -> None:
        self.stop()
        self.start()


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
