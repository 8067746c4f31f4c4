"""Each word of each sealed line changes in turn: a page that shows it says so, or shows what it showed."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from httpx import Response
from sqlalchemy import UniqueConstraint

from tests.pages.conftest import Player, plain
from tests.world import World, routes_of
from webapp.app import create_app
from webapp.store.engine import open_store
from webapp.store.seal_sums import SEALED
from webapp.store.tables import Base
from webapp.trade.content import Trade
from webapp.web.settings import Settings
from webapp.web.state import AppState

# A column is tried on every third page, the next one on the next third: all take half a minute.
STRIDE = 3
# Read only while an import adds to it: tests/store/air_log.
ON_NO_PAGE = {"air_log_day"}


@pytest.fixture
def app(tmp_path: Path, trade: Trade) -> Iterator[FastAPI]:
    engine = open_store(tmp_path / "bench.sqlite3")
    yield create_app(Settings(tmp_path), trade, engine)
    engine.dispose()


def unindexed(table: str) -> list[str]:
    """The sealed columns that are in no index: of the others, SQLite's own check finds what changed."""
    found = Base.metadata.tables[table]
    indexed = {column.name for column in found.primary_key}
    for group in (*found.indexes, *(one for one in found.constraints if isinstance(one, UniqueConstraint))):
        indexed |= {column.name for column in group.columns}
    return [name for name in SEALED[table] if name not in indexed]


def changed(value: Any) -> Any:
    """Something else that can be read as well as what was there."""
    if value is None:
        return 1
    if isinstance(value, int | float):
        return value + 1
    if isinstance(value, bytes):
        return value[:-1] + bytes([value[-1] ^ 1])
    try:
        return value.replace("20", "19", 1) if datetime.fromisoformat(value) else value
    except ValueError:
        pass
    for here, there in (("Old blue", "Old glue"), ("Lesson bass", "Lesson base"), ("First", "Worst")):
        if here in value:
            return value.replace(here, there)
    return value[:-1] + ("n" if value[-1] != "n" else "m") if value else "m"


def words_of(answer: Response) -> str:
    """What it says, but for the second at which it was made."""
    return re.sub(r"DTSTAMP:\w+", "", plain(answer.text))


def pages_of(world: World) -> dict[str, str]:
    """The words of each page that shows the same when it is asked again; packed ones carry the time."""
    addresses = {world.address(path) for method, path in routes_of(world.app.routes) if method == "GET"}
    found = {}
    for address in sorted(addresses):
        first, again = (world.own.get(address, follow_redirects=False) for _ in range(2))
        packed = "zip" in first.headers["content-type"] if first.status_code == 200 else True
        if not packed and words_of(first) == words_of(again):
            found[address] = words_of(first)
    return found


def forget(state: AppState) -> None:
    """As after a start."""
    state.kept._pasts.clear()
    for kept in (state.air, state.drifts):
        kept._found.clear()


def test_no_page_shows_a_changed_word_as_if_it_were_kept(app: FastAPI, tmp_path: Path) -> None:
    world = World(app)
    player = Player(world.own)
    instrument = f"/instruments/{world.names['instrument_id']}"
    player.fill(f"{instrument}/edit", name="Old blue bass")
    player.fill("/air", temperature="20", humidity="45")
    before = pages_of(world)
    state: AppState = app.state.bench_app
    silent, said = [], set()
    for table in sorted(SEALED.keys() - ON_NO_PAGE):
        for number, name in enumerate(unindexed(table)):
            with closing(sqlite3.connect(tmp_path / "bench.sqlite3")) as database:
                database.create_function("changed", 1, changed)
                kept = database.execute(f'SELECT rowid, "{name}" FROM {table}').fetchall()
                assert kept, table
                database.execute(f'UPDATE {table} SET "{name}" = changed("{name}")')
                database.commit()
                for address in list(before)[number % STRIDE :: STRIDE]:
                    words = before[address]
                    forget(state)
                    answer = world.own.get(address, follow_redirects=False)
                    if answer.status_code == 503 and "was damaged" in answer.text:
                        said.add(table)
                    elif answer.status_code != 200 or words_of(answer) != words:
                        silent.append((table, name, address, answer.status_code))
                database.executemany(
                    f'UPDATE {table} SET "{name}" = ? WHERE rowid = ?', [(value, row) for row, value in kept]
                )
                database.commit()
    # What goes on by itself meanwhile, an import say, is no page for this.
    after = pages_of(world)
    still = {address for address, words in before.items() if after.get(address) == words}
    assert len(still) > 40
    assert [one for one in silent if one[2] in still] == []
    assert said == set(SEALED) - ON_NO_PAGE
