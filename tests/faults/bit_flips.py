"""Single bytes of a database changed, one at a time, anywhere: what becomes of each.

    .venv/bin/python -m tests.faults.bit_flips --count 1000 --seed 1

prints the table. A change is *harmless* (all that is kept is equal), *refused* at the start, or *named*: by
the doctor, and by each page that would show it. Whatever else it is, is a fault: `silent` (something kept is
different, and nobody says so; or a page shows other words than before and says nothing) or `failed` (a page
answers 500).
"""

from __future__ import annotations

import argparse
import random
import re
import shutil
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.keyed import ORIGIN
from webapp.app import create_app
from webapp.command.upkeep import why_damaged
from webapp.setups.journal import Entry, EntryKind
from webapp.setups.lesson import LessonCheck, LessonSheet
from webapp.store import benches, entries, instruments, keys, lessons, setups, sqlite
from webapp.store.air_log import days as air
from webapp.store.engine import Session, connect, open_store, writing
from webapp.store.errors import Unusable
from webapp.store.upkeep import doctor
from webapp.store.upkeep.move import digests
from webapp.trade.content import Trade, load_trade
from webapp.trade.words import Check
from webapp.web.settings import Settings, assets

HARMLESS, REFUSED, NAMED, SILENT, FAILED = (
    "harmless",
    "refused at the start",
    "named",
    "silent",
    "failed",
)
BEGAN = datetime(2026, 3, 1, 9, tzinfo=UTC)
ENTRIES, INSTRUMENTS, SETUPS, DAYS = 2_000, 4, 10, 60
DAMAGED = "503"


@dataclass(frozen=True)
class Original:
    """A sound database: its bytes, what is kept in it, a key to it, its setups and the instrument of each, by
    their ids, and the words of its pages."""

    content: bytes
    kept: dict[str, tuple[int, str]]
    secret: str
    setups: dict[str, str]
    shown: dict[str, str]


def make(folder: Path, trade: Trade) -> Original:
    path = folder / "original" / "bench.sqlite3"
    path.parent.mkdir()
    engine = open_store(path)
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session).id
        benches.get_or_make(session)
        secret = keys.make_key(session, bench, "A test", datetime.now(UTC))
        made = {setup: name for i in range(INSTRUMENTS) for setup, name in _furnish(session, bench, i, trade)}
        for n in range(DAYS):
            air.type_day(session, bench, (BEGAN + timedelta(days=n)).date(), 20 + n / 10, 45.0)
    shown = _shown(_client(path.parent, trade, engine, secret), _pages(made, made))
    engine.dispose()
    return Original(path.read_bytes(), _kept(path), secret, made, shown)


def _furnish(session: Session, bench: str, i: int, trade: Trade) -> Iterator[tuple[str, str]]:
    """An instrument that was described twice, and its setups: the first was handed in, the last goes on."""
    spec = trade.kinds["bass_4_34"].spec
    first, then = (
        spec.model_copy(update={"name": name}).model_dump_json() for name in (f"Bass {i}", f"Old bass {i}")
    )
    instrument = instruments.add(session, bench, f"i{i}", first)
    sheet = LessonSheet(title=f"Lesson {i}", kinds=("bass_4_34",), checks=(LessonCheck(check=Check.RELIEF),))
    lesson = lessons.add(session, bench, f"l{i}", sheet.model_dump_json(), 20, BEGAN, b"a seed")
    for s in range(SETUPS):
        at = BEGAN + timedelta(days=7 * s)
        setup = setups.start(session, bench, instrument, f"s{i}-{s}", at)
        if s == 0:
            lessons.bind(session, bench, setup, lesson)
        for n in range(ENTRIES // INSTRUMENTS // SETUPS):
            when = at + n * timedelta(minutes=2)
            entries.append(session, bench, setup, f"form-{i}-{s}-{n}", {}, [_entry(n)], when)
        if s < SETUPS - 1:
            setups.finish(session, bench, setup, 1 + (s > 1), at + timedelta(hours=3))
        if s == 0:
            lessons.hand_in(session, bench, setup, "Ann", "{}", at)
        if s == 1:
            instruments.revise(session, bench, instrument, then, 1)
        yield setup, instrument


def _client(folder: Path, trade: Trade, engine: Engine, secret: str) -> TestClient:
    app = create_app(Settings(data_dir=folder), trade, engine)
    client = TestClient(app, base_url=ORIGIN, raise_server_exceptions=False)
    client.cookies.set(app.state.bench_app.cookie, secret, domain="127.0.0.1", path="/")
    return client


def _pages(made: Mapping[str, str], some: Iterable[str]) -> Iterator[str]:
    """The pages that show some of the setups, and their instruments."""
    yield from ("/", "/lessons", "/air")
    for setup in some:
        yield from (f"/setups/{setup}/{page}" for page in ("journal", "report"))
    for instrument in dict.fromkeys(made[setup] for setup in some):
        yield from (f"/instruments/{instrument}{page}" for page in ("", "/history", "/seasons"))


def _shown(client: TestClient, pages: Iterable[str]) -> dict[str, str]:
    """The words of each page; of one that does not answer 200, how it does."""
    answers = {page: client.get(page) for page in pages}
    return {
        page: _words(answer.text) if answer.status_code == 200 else str(answer.status_code)
        for page, answer in answers.items()
    }


def _words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", page).split())


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
        found = " ".join(one.what for one in doctor.examine(path, datetime.now(UTC)) if one.todo)
        try:
            client = _client(folder, trade, engine, original.secret)
        except Exception as problem:
            return (REFUSED, "") if why_damaged(path) else (FAILED, repr(problem))
        differs = set() if found else _difference(path, original)
        wanted = _named(original.setups, found) if found or differs else ()
        shown = _shown(client, _pages(original.setups, wanted))
        if "500" in shown.values():
            return FAILED, f"{found} {shown}"
        other = [page for page, words in shown.items() if words not in (DAMAGED, original.shown[page])]
        if other or (differs and not found):
            return SILENT, f"{found} {differs} {other}"
        return (NAMED, found) if found else (HARMLESS, "")
    finally:
        engine.dispose()


def _named(made: Mapping[str, str], words: str) -> list[str]:
    """The setups that are named, and one of each instrument that is; where neither is, the first."""
    setups = [setup for setup in made if setup in words]
    hurt = {made[setup]: setup for setup in made if made[setup] in words}
    return [*setups, *hurt.values()] or list(made)[:1]


def _difference(path: Path, original: Original) -> set[str]:
    """The tables in which something else stands."""
    now = _kept(path)
    return {name for name in now if now[name] != original.kept[name]}


def _kept(path: Path) -> dict[str, tuple[int, str]]:
    """The digest of each table, but for the one that follows from the others."""
    aside = path.with_name("aside.sqlite3")
    shutil.copy(path, aside)
    with sqlite.raw(aside) as connection:
        connection.execute("DELETE FROM bench_line")
        connection.commit()
    engine = connect(aside)
    try:
        return digests(engine)
    finally:
        engine.dispose()


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
