"""Long work that is asked for by a page: one piece at a time, the others wait in a row that has an end.

Whoever waits holds no thread, and whoever works makes room for the pages in between.
"""

from __future__ import annotations

import asyncio
import sys
import threading
import time
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager

from fastapi import HTTPException

# Set when this process is told to stop.
STOPPING = threading.Event()
IN_THE_ROW = 12
LONGEST_REST_S = 0.25
# A page asks the database a dozen times, and after each answer waits for its turn at the interpreter; the
# usual five milliseconds would add up to more than the page itself.
SWITCH_S = 0.0005


class Waits(Exception):
    """It cannot be taken on now; `mine` where the same bench has something in the row already."""

    def __init__(self, mine: bool) -> None:
        super().__init__("mine" if mine else "full")
        self.mine = mine


class Turns:
    """The row of this process."""

    def __init__(self, most: int = IN_THE_ROW) -> None:
        self._most, self._lock = most, asyncio.Lock()
        self._in: set[str] = set()

    @asynccontextmanager
    async def of(self, bench_id: str) -> AsyncIterator[None]:
        """The bench's turn, when it comes; raises Waits where it has one already, or the row is full."""
        if bench_id in self._in:
            raise Waits(mine=True)
        if len(self._in) >= self._most:
            raise Waits(mine=False)
        self._in.add(bench_id)
        try:
            async with self._lock:
                yield
        finally:
            self._in.discard(bench_id)


class Rests:
    """Called between the pieces of long work: rests for as long as the last piece took."""

    def __init__(self) -> None:
        self._since = time.thread_time()

    def __call__(self) -> None:
        # A stop does not wait for what can be sent again.
        if STOPPING.wait(min(LONGEST_REST_S, time.thread_time() - self._since)):
            raise HTTPException(503)
        self._since = time.thread_time()


@contextmanager
def beside_pages() -> Iterator[Rests]:
    """Long work in a thread, with what it calls between its pieces."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(min(before, SWITCH_S))
    try:
        yield Rests()
    finally:
        sys.setswitchinterval(before)
