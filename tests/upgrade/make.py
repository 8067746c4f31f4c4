"""Makes a small bench of today's state and keeps it here, for every later state to open.

    .venv/bin/python -m tests.upgrade.make NAME

Run it for each tag, with the tag as NAME. It never writes over a state that is kept already.
"""

from __future__ import annotations

import gzip
import sqlite3
import sys
import tempfile
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

from sqlalchemy import Engine

from tests.keyed import keyed
from tests.pages.conftest import Player
from tests.pages.walk import GOOD, Walk
from webapp.app import create_app
from webapp.store import benches, keys, lessons, setups, shares
from webapp.store.air_log import days as air
from webapp.store.bench_file import whole as bench_file
from webapp.store.engine import open_store, reading, writing
from webapp.trade.content import load_trade
from webapp.web.settings import Settings, assets

HERE = Path(__file__).parent


def build(engine: Engine, folder: Path) -> str:
    """Something of everything, made the way a player makes it; returns the secret of a key to it."""
    app = create_app(Settings(data_dir=folder), load_trade(assets().content), engine)
    player = Player(keyed(app))
    bass = player.make("bass_4_34", name="Blåbär <5>")
    first = player.begin(bass)
    typed = {"relief": ["0,62 mm", '0.012"', "0.3 mm"], "height.1": ["3/32", "2.1 mm"]}
    Walk(player, first, typed, _in_order).to_the_end()
    second = player.begin(bass)
    player.fill(f"{second}/read/relief", value="0.41")
    player.fill(f"{second}/log", part="rod", way="plus", amount="1", note="a creak\nand a “quote”")
    player.fill(f"{second}/read/relief", value="12 thou")
    guitar = player.make("electric_6", name="Spare", a4_hz="442")
    player.post(f"{guitar}/archive", {})
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session).id
        benches.set_unit(session, bench, "64ths")
        benches.set_tools(session, bench, ["ruler", "card", "tuner"])
        air.type_day(session, bench, date(2026, 1, 2), 20.5, 41.0)
        air.add_days(session, bench, [air.AirDay(date(2026, 1, 3), 19.25, 38.5, 24, air.LOGGED)])
        now = datetime.now(UTC)
        (newest, *_) = setups.list_for(session, bench, bass.rpartition("/")[2])
        shares.make_for_setup(session, bench, newest.id, False, shares.LASTS, now, b"seed")
        lessons.add(session, bench, "lesson", "{}", 30, now, b"seed")
        secret = keys.make_key(session, bench, "Workshop", now)
    # What the bench says is kept too.
    player.get("/")
    return secret


def _in_order(slot: str) -> str:
    check = slot.partition(".")[0]
    return GOOD[check] if check == "intonation" else f"{GOOD[check]} mm"


def main(name: str) -> None:
    kept, exported, secret_file = (HERE / f"{name}{end}" for end in (".sqlite3.gz", ".json", ".key"))
    if kept.exists():
        raise SystemExit(f"{kept} is kept already")
    with tempfile.TemporaryDirectory() as made:
        path = Path(made) / "bench.sqlite3"
        engine = open_store(path)
        secret = build(engine, Path(made))
        with reading(engine) as session:
            bench = benches.local_bench(session)
            assert bench is not None
            text = bench_file.dump(session, bench.id).as_text()
        engine.dispose()
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("VACUUM")
        kept.write_bytes(gzip.compress(path.read_bytes(), mtime=0))
    exported.write_text(text, encoding="utf-8")
    secret_file.write_text(secret + "\n")


if __name__ == "__main__":
    main(sys.argv[1])
