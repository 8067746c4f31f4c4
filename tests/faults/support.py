"""A server that can be killed, and clients that write down what they were promised."""

from __future__ import annotations

import random
import re
import secrets
import signal
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from multiprocessing.process import BaseProcess
from pathlib import Path

import httpx
from sqlalchemy import URL

import webapp
from tests.forked import PATIENCE_S, free_port, started, stop, wait_until_it_answers
from tests.store.kept_entries import kept_entries
from webapp.store import benches, instruments, keys, setups
from webapp.store.engine import connect, open_store, reading, writing
from webapp.trade.content import load_trade
from webapp.web.settings import assets

TOP = Path(webapp.__file__).parent.parent
# Nothing that a test's clients saw is newer than this: they write side by side on purpose.
SEEN = "99999999999"


@dataclass
class House:
    """A benchside process on a file in `folder`, or on a database on a server."""

    folder: Path
    url: URL | None = None
    port: int = field(default_factory=free_port)
    process: BaseProcess | None = None

    @property
    def place(self) -> Path | URL:
        return self.url if self.url is not None else self.folder / "bench.sqlite3"

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Starts it, and waits until it answers."""
        place = [] if self.url is None else ["--database", self.url.render_as_string(hide_password=False)]
        told = ("--no-browser", "--data", self.folder, "--port", self.port, *place)
        self.process = started(*told, out=self.log)
        wait_until_it_answers(self.process, self.port, self.log)

    @property
    def log(self) -> Path:
        return self.folder.with_name(f"{self.folder.name}.log")

    def kill(self) -> None:
        """As when the power goes, for the process."""
        if self.process is not None:
            stop(self.process, signal.SIGKILL)
            self.process = None

    def fill(self, setups_wanted: int) -> list[str]:
        """Makes an instrument with some setups under way, and returns their ids."""
        spec = load_trade(assets().content).kinds["bass_4_34"].spec.model_dump_json()
        engine = open_store(self.place)
        now = datetime.now(UTC)
        with writing(engine) as session:
            bench = benches.get_or_create_local_bench(session).id
            instrument = instruments.add(session, bench, "bass", spec)
            made = [setups.start(session, bench, instrument, f"s{n}", now) for n in range(setups_wanted)]
        engine.dispose()
        return made

    def browser(self) -> httpx.Client:
        """A client with a key to the bench."""
        engine = connect(self.place)
        with writing(engine, "instance") as session:
            bench = benches.get_or_create_local_bench(session).id
            secret = keys.make_key(session, bench, "A test", datetime.now(UTC))
            name = f"benchside_{benches.get_or_make(session).id}"
        engine.dispose()
        headers = {"Origin": self.address}
        return httpx.Client(
            base_url=self.address, headers=headers, cookies={name: secret}, timeout=PATIENCE_S
        )

    def notes(self, setup: str) -> list[str]:
        """What is written in a setup's journal."""
        engine = connect(self.place)
        with reading(engine) as session:
            bench = benches.get_or_create_local_bench(session).id
            found = [row.typed for row in kept_entries(session, bench, setup)]
        engine.dispose()
        return found


def note(words: str, form_id: str = "") -> dict[str, str]:
    """The form of a note."""
    return {"form_id": form_id or secrets.token_urlsafe(12), "seen": SEEN, "note": words}


@dataclass
class Writer:
    """Writes notes one after the other, each until it is promised that it is kept."""

    browser: httpx.Client
    setup: str
    name: str
    count: int
    acknowledged: list[str] = field(default_factory=list)
    refused: list[httpx.Response] = field(default_factory=list)
    fault: str = ""

    def run(self) -> None:
        for number in range(self.count):
            words = f"{self.name}-{number}"
            form = note(words)
            until = time.monotonic() + PATIENCE_S
            while not self._sent(form):
                if self.fault or time.monotonic() > until:
                    self.fault = self.fault or f"{words} was never taken"
                    return
                time.sleep(0.05)
            self.acknowledged.append(words)

    def _sent(self, form: dict[str, str]) -> bool:
        """Once more with the same form, whatever became of it before."""
        try:
            answer = self.browser.post(f"/setups/{self.setup}/log", data=form)
        except httpx.TransportError:
            return False
        if answer.status_code in (503, 507):
            self.refused.append(answer)
            return False
        twice = answer.status_code == 409 and "recorded already" in answer.text
        if answer.status_code != 303 and not twice:
            self.fault = f"{answer.status_code}: {re.sub('<[^>]+>', ' ', answer.text)[:300]}"
        return answer.status_code == 303 or twice


def write_through(house: House, writers: list[Writer], trouble: Callable[[int], None]) -> None:
    """Lets all of them write; `trouble` is told, again and again, how many notes were acknowledged."""
    threads = [threading.Thread(target=writer.run) for writer in writers]
    for thread in threads:
        thread.start()
    while any(thread.is_alive() for thread in threads):
        trouble(sum(len(writer.acknowledged) for writer in writers))
        time.sleep(0.005)
    for thread in threads:
        thread.join()
    assert [writer.fault for writer in writers if writer.fault] == [], house.log.read_text()[-2000:]


def assert_each_once(house: House, writers: list[Writer]) -> None:
    """Every note that was acknowledged is in its journal, and none is there twice."""
    for setup in {writer.setup for writer in writers}:
        promised = [words for writer in writers if writer.setup == setup for words in writer.acknowledged]
        assert Counter(house.notes(setup)) == Counter(promised)


def moments(count: int, steps: int, seed: int) -> list[int]:
    """At which numbers of acknowledged notes something shall happen."""
    return sorted(random.Random(seed).sample(range(3, steps - 3), count))
