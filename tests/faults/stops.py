"""Starts that are stopped by Ctrl+C at a random moment of their first seconds.

    .venv/bin/python -m tests.faults.stops --count 200

prints how long each took to end, and whether its data is whole. The busier the computer, the better.
"""

from __future__ import annotations

import argparse
import random
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import webapp
from tests.forked import free_port
from webapp.store.upkeep import doctor

TOP = Path(webapp.__file__).parent.parent
WITHIN_S, GIVEN_UP_S = 5.0, 60.0


@dataclass(frozen=True)
class Stop:
    """One of them: after how many seconds it was told, how long it took, how it ended, what was wrong."""

    after_s: float
    took_s: float
    code: int
    faults: tuple[str, ...]


def stop_at(after_s: float, folder: Path, demo: bool) -> Stop:
    told = ["--no-browser", "--data", str(folder), "--port", str(free_port()), *(["--demo"] if demo else [])]
    words = [sys.executable, "-m", "webapp", *told]
    process = subprocess.Popen(words, cwd=TOP, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    time.sleep(after_s)
    began = time.monotonic()
    process.send_signal(signal.SIGINT)
    try:
        _, errors = process.communicate(timeout=GIVEN_UP_S)
    except subprocess.TimeoutExpired:
        process.kill()
        _, errors = process.communicate()
    took = time.monotonic() - began
    path = folder / "demo" / "demo.sqlite3" if demo else folder / "bench.sqlite3"
    found = doctor.examine(path, datetime.now(UTC)) if path.exists() and path.stat().st_size else []
    return Stop(after_s, took, process.returncode, tuple(one.what for one in found if one.todo))


def many(count: int, seed: int, up_to_s: float = 3.0) -> list[Stop]:
    chance = random.Random(seed)
    made = []
    for number in range(count):
        with tempfile.TemporaryDirectory(prefix="benchside-") as folder:
            made.append(stop_at(chance.uniform(0, up_to_s), Path(folder), demo=number % 2 == 1))
    return made


def main() -> None:
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("--count", type=int, default=200)
    told.add_argument("--seed", type=int, default=1)
    given = told.parse_args()
    made = many(given.count, given.seed)
    took = sorted(one.took_s for one in made)
    late = [one for one in made if one.took_s > WITHIN_S or one.faults]
    print(
        f"{len(made)} starts stopped: half within {took[len(took) // 2]:.2f} s, all within {took[-1]:.2f} s"
    )
    print(f"later than {WITHIN_S:.0f} s, or with data that is not whole: {len(late)}")
    for one in late:
        print(one)


if __name__ == "__main__":
    main()
