"""One player's browser: asks, follows, keeps its cookies, and writes down how long everything took."""

from __future__ import annotations

import re
import time
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from tests.load.connection import Answer, Connection, NoAnswer
from tests.load.fields import form_fields, statics, words
from tests.load.tally import Asked, Fault, Tally

MOST_HOPS = 5
_IN_JOURNAL = re.compile(r"^/setups/[\w-]+/(read|adjust|ask)/")


class Refused(Exception):
    """What was asked for did not come; the tally has it already."""


@dataclass(frozen=True)
class Page:
    """A page that was reached. `sent_ms` is what the form before it took, where one was sent."""

    path: str
    html: str
    sent_ms: float = 0.0


class Browser:
    """Its own connection and its own cookies, like a phone's."""

    def __init__(self, address: str, headers: Mapping[str, str], tally: Tally) -> None:
        self._connection = Connection(address, headers)
        self._cookies: dict[str, str] = {}
        self._tally = tally

    def close(self) -> None:
        self._connection.close()

    async def open(self, path: str) -> Page:
        """A page, wherever its address leads."""
        return await self._follow(await self.ask("GET", path), path)

    async def send(self, path: str, fields: Mapping[str, object]) -> Page:
        """Sends a form; returns the page that a browser shows afterwards."""
        began = time.perf_counter()
        answer = await self.ask("POST", path, urlencode(fields, doseq=True))
        sent_ms = 1000 * (time.perf_counter() - began)
        if _IN_JOURNAL.search(path):
            self._tally.kept.append(str(fields["form_id"]))
        page = await self._follow(answer, path)
        return Page(page.path, page.html, sent_ms)

    async def fill(self, page: Page, action: str, filled: Mapping[str, object]) -> Page:
        """Fills some fields of a form on the page, and sends it."""
        return await self.send(action, {**self.fields(page, action), **filled})

    def fields(self, page: Page, action: str) -> dict[str, str]:
        """The fields of the page's form that posts there."""
        found = form_fields(page.html, action)
        if found is None:
            raise self.refuse("GET", page.path, f"no form for it on this page: {words(page.html)}")
        return found

    async def fetch_statics(self, page: Page) -> None:
        """As a browser that was never here; later it has them."""
        for path in statics(page.html):
            await self.ask("GET", path)

    def refuse(self, method: str, path: str, told: str) -> Refused:
        """Writes a fault down and returns what to raise."""
        self._tally.faults.append(Fault(method, path, told))
        return Refused(told)

    async def ask(self, method: str, path: str, form: str | None = None) -> Answer:
        """One request, wherever its answer leads; raises Refused."""
        cookie = "; ".join(f"{name}={value}" for name, value in self._cookies.items())
        began = time.perf_counter()
        try:
            answer = await self._connection.ask(method, path, cookie, form)
        except NoAnswer as problem:
            self._asked(method, path, 0, began)
            raise self.refuse(method, path, str(problem)) from problem
        self._asked(method, path, answer.status, began)
        for said, value in answer.headers:
            if said == "set-cookie":
                name, _, kept = value.partition(";")[0].partition("=")
                self._cookies[name] = kept
        if answer.status not in ((303,) if method == "POST" else (200, 303)):
            raise self.refuse(method, path, f"{answer.status}: {words(answer.text)}")
        return answer

    async def _follow(self, answer: Answer, path: str) -> Page:
        for _ in range(MOST_HOPS):
            if answer.status != 303:
                return Page(path.partition("?")[0], answer.text)
            path = answer.header("location")
            answer = await self.ask("GET", path)
        raise self.refuse("GET", path, f"led on more than {MOST_HOPS} times")

    def _asked(self, method: str, path: str, status: int, began: float) -> None:
        self._tally.asked.append(Asked(method, path, status, 1000 * (time.perf_counter() - began)))
