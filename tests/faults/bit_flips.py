"""Single bytes of a database changed, one at a time, anywhere: what becomes of each.

    .venv/bin/python -m tests.faults.bit_flips --count 1000 --seed 1

prints the table. A change is *harmless* (all that is kept is equal), *refused* at the start, or *named* by
the doctor; whatever else it is, is a fault: `silent` (something kept is different, and nobody says so) or
`failed` (a page answers 500, or shows a damaged reading as a sound one).
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.keyed import ORIGIN
from webapp.app import create_app
from webapp.command.upkeep import why_damaged
from webapp.setups.journal import Entry, EntryKind
from webapp.store import benches, entries, instruments, keys, setups
from webapp.store.engine import open_store, writing
from webapp.store.errors import Unusable
from webapp.store.upkeep import doctor
from webapp.store.upkeep.move import digests
from webapp.trade.content import Trade, load_trade
from webapp.trade.words import Check
from webapp.web.settings import Settings, assets

HARMLESS, REFUSED, NAMED, SILENT, FAILED = (
    "harmless",
    "refused at the start",
    "named by the doctor",
    "silent",
    "failed",
)
BEGAN = datetime(2026, 3, 1, 9, tzinfo=UTC)
ENTRIES, INSTRUMENTS, SETUPS = 2_000, 4, 10


@dataclass(frozen=True)
class Original:
    """A sound database: its bytes, what is kept in it, a key to it, and its setups' ids."""

    content: bytes
    kept: dict[str, tuple[int, str]]
    secret: str
    setups: dict[str, str]


def make(folder: Path, trade: Trade) -> Original:
    path = folder / "original" / "bench.sqlite3"
    path.parent.mkdir()
    engine = open_store(path)
    made: dict[str, str] = {}
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session).id
        benches.get_or_make(session)
        secret = keys.make_key(session, bench, "A test", datetime.now(UTC))
        for i in range(INSTRUMENTS):
            spec = trade.kinds["bass_4_34"].spec.model_copy(update={"name": f"Bass {i}"}).model_dump_json()
            instrument = instruments.add(session, bench, f"i{i}", spec)
            for s in range(SETUPS):
                at = BEGAN + timedelta(days=7 * s)
                setup = setups.start(session, bench, instrument, f"s{i}-{s}", at)
                made[setup] = instrument
                for n in range(ENTRIES // INSTRUMENTS // SETUPS):
                    one = _entry(n)
                    entries.append(
                        session, bench, setup, f"form-{i}-{s}-{n}", {}, [one], at + n * timedelta(minutes=2)
                    )
    kept = digests(engine)
    engine.dispose()
    return Original(path.read_bytes(), kept, secret, made)


def _entry(n: int) -> Entry:
    if n % 5 == 4:
        return Entry(EntryKind.NOTE, Check.START, "log", typed=f"A word on what was done, number {n}")
    value = 0.2 + 0.01 * (n % 20)
    detail = {"method": "feeler", "hold": 1, "press": 13, "gap": 7}
    return Entry(
        EntryKind.READING, Check.RELIEF, "relief", value, "mm", f"{value:.2f}", "feeler", 0.02, detail
    )


def outcome(original: Original, place: int, byte: int, folder: Path, trade: Trade) -> tuple[str, str]:
    """What becomes of one changed byte, and a word on it."""
    path = folder / "bench.sqlite3"
    content = bytearray(original.content)
    content[place] = byte
    path.write_bytes(content)
    path.chmod(0o600)
    try:
        engine = open_store(path)
    except Unusable as refused:
        return REFUSED, refused.sentence
    try:
        found = [one for one in doctor.examine(path, datetime.now(UTC)) if one.todo]
        try:
            app = create_app(Settings(data_dir=folder), trade, engine)
            client = TestClient(app, base_url=ORIGIN, raise_server_exceptions=False)
            client.cookies.set(app.state.bench_app.cookie, original.secret, domain="127.0.0.1", path="/")
        except Exception as problem:
            return (REFUSED, "") if why_damaged(path) else (FAILED, repr(problem))
        if found:
            hurt = [setup for setup in original.setups if any(setup in one.what for one in found)]
            paths = ["/", *(f"/setups/{setup}/journal" for setup in hurt[:1])]
            paths += [f"/instruments/{original.setups[setup]}" for setup in hurt[:1]]
            answers = {path: client.get(path).status_code for path in paths}
            if 500 in answers.values():
                return FAILED, f"{found[0].what} {answers}"
            # Some are read as what was there: a time is one with any sign between its day and its hour.
            if (
                found[0].what.startswith("An entry")
                and answers[paths[1]] != 503
                and _entries_differ(engine, original)
            ):
                return FAILED, f"{found[0].what} {answers}"
            return NAMED, found[0].what
        try:
            same = digests(engine) == original.kept
        except Exception as problem:
            return FAILED, repr(problem)
        return (HARMLESS, "") if same else (SILENT, _difference(engine, original))
    finally:
        engine.dispose()


def _entries_differ(engine: Engine, original: Original) -> bool:
    try:
        return digests(engine)["entry"] != original.kept["entry"]
    except ValueError:
        return True


def _difference(engine: Engine, original: Original) -> str:
    now = digests(engine)
    return ", ".join(name for name in now if now[name] != original.kept[name])


def table(count: int, seed: int, folder: Path) -> tuple[Counter[str], list[str]]:
    """How many of each, and a line on each fault."""
    trade, chance = load_trade(assets().content), random.Random(seed)
    original = make(folder, trade)
    found: Counter[str] = Counter()
    faults = []
    for _ in range(count):
        place = chance.randrange(len(original.content))
        byte = (original.content[place] + chance.randrange(1, 256)) % 256
        what, word = outcome(original, place, byte, folder, trade)
        found[what] += 1
        if what in (SILENT, FAILED):
            faults.append(f"byte {place} to {byte}: {what}: {word}")
    return found, faults


def main() -> None:
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("--count", type=int, default=1000)
    told.add_argument("--seed", type=int, default=1)
    given = told.parse_args()
    with tempfile.TemporaryDirectory(prefix="benchside-") as folder:
        found, faults = table(given.count, given.seed, Path(folder))
    for what in (HARMLESS, REFUSED, NAMED, SILENT, FAILED):
        print(f"{what:22} {found[what]:6}")
    print("\n".join(faults))


if __name__ == "__main__":
    main()
