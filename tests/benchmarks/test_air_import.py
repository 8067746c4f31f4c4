"""A logger's file, from the click to the last daily mean: of 200,000 lines, below 10 s and 150 MB.

``python tests/benchmarks/test_air_import.py 200000`` prints what that took. The suite imports a fifth of it,
and holds it to the memory.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import webapp
from webapp.pages.air import import_work as air_work
from webapp.setups.air_log.csv_reading import Plan
from webapp.setups.air_log.dates import DateOrder
from webapp.store import benches
from webapp.store.air_log import days as air
from webapp.store.air_log import imports
from webapp.store.air_log.imports import JobState
from webapp.store.engine import open_store, reading, writing
from webapp.web.settings import Settings

LINES, MEGABYTES = 40_000, 150.0
PLAN = Plan("utf-8", ";", 1, 0, None, 1, 2, False, DateOrder.DAY)


@dataclass(frozen=True)
class Took:
    seconds: float
    megabytes: float
    looks: list[int]
    rows: int
    days: int


def write(path: Path, lines: int) -> int:
    """Local dates and decimal commas: the slowest that a logger can do. Returns the size in bytes."""
    start = datetime(2022, 1, 1)
    with path.open("w") as file:
        file.write("Datum;Temperatur;Feuchte\n")
        for n in range(lines):
            at = start + timedelta(minutes=10 * n)
            values = f"{20 + n % 37 / 10:.1f};{40 + n % 211 / 10:.1f}".replace(".", ",")
            file.write(f"{at:%d.%m.%Y %H:%M:%S};{values}\n")
    return path.stat().st_size


def memory_mb() -> float:
    """The most this process has ever used."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def measure(lines: int) -> Took:
    """Imports the file in a thread, as the app does, and looks at its progress meanwhile."""
    with tempfile.TemporaryDirectory() as folder:
        engine = open_store(Path(folder) / "bench.sqlite3")
        # Of the app, the work needs no more than this.
        app: Any = SimpleNamespace(engine=engine, settings=Settings(Path(folder)))
        (Path(folder) / "imports").mkdir()
        size = write(Path(folder) / "imports" / "log.csv", lines)
        with writing(engine) as session:
            bench = benches.get_or_create_local_bench(session).id
            job = imports.create(session, bench, "log.csv", "d" * 64, size, datetime.now(UTC))
            imports.begin(session, bench, job, "{}", datetime.now(UTC))
        (Path(folder) / "imports" / "log.csv").rename(air_work.kept_file(app, job))
        before, began, looks = memory_mb(), time.perf_counter(), []
        worker = threading.Thread(target=air_work.run, args=(app, bench, job, PLAN))
        worker.start()
        while worker.is_alive():
            worker.join(0.1)
            with reading(engine) as session:
                looks.append(imports.get(session, bench, job).bytes_done)
        took, more = time.perf_counter() - began, memory_mb() - before
        with reading(engine) as session:
            row = imports.get(session, bench, job)
            days = len(air.days(session, bench))
        assert row.state is JobState.DONE and row.bad == 0
        engine.dispose()
        return Took(took, more, sorted(set(looks)), row.rows_new, days)


def test_a_long_file_is_taken_in_with_little_memory() -> None:
    """In a process of its own, whose memory nothing else has filled before."""
    paths = {**os.environ, "PYTHONPATH": str(Path(webapp.__file__).parent.parent)}
    told = [sys.executable, __file__, str(LINES)]
    done = subprocess.run(told, capture_output=True, text=True, check=True, env=paths)
    took = Took(**json.loads(done.stdout))
    print(f"{LINES:,} lines: {took.seconds:.1f} s, {took.megabytes:.0f} MB more, seen at {took.looks}")
    assert (took.rows, took.days) == (LINES, 278)
    assert took.megabytes < MEGABYTES
    assert len(took.looks) >= 2


if __name__ == "__main__":
    print(json.dumps(measure(int(sys.argv[1])).__dict__))
