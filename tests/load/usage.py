"""What the run costs: memory of the workers, processor time of everybody who shares the computer."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import psutil

from tests.load.tally import growth_per_minute

SAMPLE_EVERY_S = 5.0
TICK_S = 0.05
LAST_S = 240.0
MB = 1024 * 1024


class Spent(NamedTuple):
    """Processor seconds so far."""

    at_s: float
    workers_s: tuple[float, ...]
    database_s: float
    load_maker_s: float
    computer_s: float

    @property
    def others_s(self) -> float:
        """What has nothing to do with this run."""
        return self.computer_s - sum(self.workers_s) - self.database_s - self.load_maker_s


def workers_of(server: psutil.Process) -> list[psutil.Process]:
    """The processes that answer: those that the command started, or the command itself."""
    started = [child for child in server.children() if "spawn_main" in " ".join(child.cmdline())]
    return started or [server]


@dataclass
class Usage:
    """Watches from the outside. `database` is the database server's first process, where there is one."""

    workers: Sequence[psutil.Process]
    database: psutil.Process | None
    memory_mb: dict[int, list[tuple[float, float]]] = field(default_factory=dict)
    delays_ms: list[float] = field(default_factory=list)
    gone: set[int] = field(default_factory=set)
    _last_s: dict[int, float] = field(default_factory=dict)

    def sample(self) -> None:
        """Writes the memory of every worker down; one that is gone stays gone."""
        for worker in self.workers:
            try:
                taken = worker.memory_info().rss / MB
                self.memory_mb.setdefault(worker.pid, []).append((time.monotonic(), taken))
            except psutil.NoSuchProcess:
                self.gone.add(worker.pid)

    def spent(self) -> Spent:
        own = psutil.Process().cpu_times()
        for worker in self.workers:
            # Of one that is gone, what it had used when it was last seen.
            self._last_s[worker.pid] = _alive_s(worker) or self._last_s.get(worker.pid, 0.0)
        workers_s = tuple(self._last_s.values())
        whole = psutil.cpu_times()
        # Waiting is no work, and a guest's time is in the user's already.
        busy_s = sum(getattr(whole, kind, 0.0) for kind in ("user", "nice", "system", "irq", "softirq"))
        return Spent(time.monotonic(), workers_s, self._database_s(), own.user + own.system, busy_s)

    def _database_s(self) -> float:
        """Connections come and go: the first process has the times of those that are gone."""
        if self.database is None:
            return 0.0
        times = self.database.cpu_times()
        ended = times.children_user + times.children_system
        going = sum(map(_alive_s, self.database.children(recursive=True)))
        return float(_alive_s(self.database) + ended + going)

    async def watch(self) -> None:
        """Until it is cancelled; also how late this process itself gets to its own work."""
        next_s = time.monotonic()
        while True:
            if time.monotonic() >= next_s:
                self.sample()
                next_s += SAMPLE_EVERY_S
            began = time.perf_counter()
            await asyncio.sleep(TICK_S)
            self.delays_ms.append(1000 * (time.perf_counter() - began - TICK_S))

    @staticmethod
    def samples_each(seconds: float) -> int:
        """How many samples make up such a time."""
        return max(round(seconds / SAMPLE_EVERY_S), 1)

    def growth_mb_a_minute(self, pid: int, from_s: float, until_s: float) -> float:
        """Over the last four minutes of a time, or its second half if it is shorter: before, caches fill."""
        last_s = max((from_s + until_s) / 2, until_s - LAST_S)
        late = [(at, taken) for at, taken in self.memory_mb[pid] if last_s <= at <= until_s]
        return growth_per_minute([at for at, _ in late], [taken for _, taken in late])


def _alive_s(process: psutil.Process) -> float:
    try:
        times = process.cpu_times()
    except psutil.NoSuchProcess:
        return 0.0
    return float(times.user + times.system)
