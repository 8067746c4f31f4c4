"""Nine benches take a large file in at once, and a player on a tenth looks at their pages.

    .venv/bin/python -m tests.faults.imports_beside

prints how long the pages take without and meanwhile, and what became of the imports.
"""

from __future__ import annotations

import statistics
import tempfile
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import httpx

from tests.faults.support import House
from tests.forked import stop
from tests.setups.bench_files import bench, entry, instrument, sent, setup
from webapp.store import benches, keys
from webapp.store.engine import connect, writing

BENCHES, SETUPS = 9, 600
PAGES = ("/", "/data", "/devices")


def large_file() -> bytes:
    names = [f"s{n}" for n in range(SETUPS)]
    setups = [setup(name, n) for n, name in enumerate(names)]
    return sent(
        bench(instrument(setups=setups, entries=[entry("e", n, name) for n, name in enumerate(names)]))
    )


def browser_of(house: House) -> httpx.Client:
    """A browser on a new bench of its own."""
    engine = connect(house.place)
    with writing(engine) as session:
        secret = keys.make_key(session, benches.make(session, datetime.now(UTC)), "A test", datetime.now(UTC))
        name = f"benchside_{benches.get_or_make(session).id}"
    engine.dispose()
    return httpx.Client(
        base_url=house.address, headers={"Origin": house.address}, cookies={name: secret}, timeout=600
    )


def times(browser: httpx.Client, until: threading.Event | None = None, rounds: int = 20) -> list[float]:
    """How long the pages take: so many rounds of them, or until something is over."""
    found: list[float] = []
    while (until is not None and not until.is_set()) or (until is None and len(found) < rounds * len(PAGES)):
        for page in PAGES:
            began = time.perf_counter()
            assert browser.get(page).status_code == 200
            found.append(1000 * (time.perf_counter() - began))
            time.sleep(0.02)
    return found


def said(found: list[float]) -> str:
    ordered = sorted(found)
    return (
        f"median {statistics.median(ordered):6.1f} ms, 95 % {ordered[int(0.95 * len(ordered))]:6.1f} ms, "
        f"longest {ordered[-1]:6.1f} ms, of {len(ordered)}"
    )


def main() -> None:
    data = large_file()
    with tempfile.TemporaryDirectory(prefix="benchside-") as folder:
        house = House(Path(folder, "data"))
        house.folder.mkdir(mode=0o700)
        house.start()
        try:
            player = browser_of(house)
            times(player, rounds=5)
            print(f"{len(data) // 1000} kB, {SETUPS} setups. Alone:     {said(times(player))}", flush=True)
            answers: list[tuple[int, float]] = []
            over = threading.Event()

            def send(browser: httpx.Client) -> None:
                began = time.perf_counter()
                answer = browser.post("/data/import", files={"file": ("a.json", data)})
                answers.append((answer.status_code, time.perf_counter() - began))

            senders = [threading.Thread(target=send, args=(browser_of(house),)) for _ in range(BENCHES)]
            watch = threading.Thread(target=lambda: ([one.join() for one in senders], over.set()))
            for one in (*senders, watch):
                one.start()
            print(f"Meanwhile:                    {said(times(player, over))}")
            for status, took in sorted(answers, key=lambda one: one[1]):
                print(f"import: {status} after {took:.1f} s")
        finally:
            if house.process is not None:
                stop(house.process)


if __name__ == "__main__":
    main()
