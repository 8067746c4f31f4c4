"""What every earlier state of the project made opens in this one, with equal content."""

from __future__ import annotations

import gzip
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import Engine, update
from starlette.testclient import TestClient

from tests.keyed import ORIGIN
from tests.setups.bench_files import taken
from webapp.app import create_app
from webapp.setups.bench_file.schema import BenchFile
from webapp.store import benches, instruments, seals, setups
from webapp.store.bench_file import merge as bench_merge
from webapp.store.bench_file import whole as bench_file
from webapp.store.engine import open_store, reading, writing
from webapp.store.tables import DeviceKey
from webapp.trade.content import load_trade
from webapp.web.settings import Settings, assets

HERE = Path(__file__).parent
STATES = sorted(path.name.removesuffix(".sqlite3.gz") for path in HERE.glob("*.sqlite3.gz"))
Rows = list[tuple[object, ...]]


def test_there_is_a_state_to_start_from() -> None:
    assert STATES


@pytest.fixture(params=STATES)
def state(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def path(state: str, tmp_path: Path) -> Path:
    """The database as that state left it."""
    unpacked = tmp_path / "bench.sqlite3"
    unpacked.write_bytes(gzip.decompress((HERE / f"{state}.sqlite3.gz").read_bytes()))
    return unpacked


def names_in(connection: sqlite3.Connection, table: str) -> list[str]:
    return [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]


def everything(path: Path, columns: dict[str, str] | None = None) -> dict[str, tuple[str, Rows]]:
    """Each table's rows but for their sums; of a later state, those columns that an earlier one had."""
    with closing(sqlite3.connect(path)) as connection:
        found = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        tables = [name for (name,) in found if not name.startswith(("sqlite_", "alembic_"))]
        wanted = columns or {
            name: ", ".join(f'"{word}"' for word in names_in(connection, name) if word != "seal")
            for name in tables
        }
        return {
            name: (names, connection.execute(f"SELECT {names} FROM {name} ORDER BY {names}").fetchall())
            for name, names in wanted.items()
        }


def exported(engine: Engine) -> BenchFile:
    with reading(engine) as session:
        bench = benches.local_bench(session)
        assert bench is not None
        return bench_file.dump(session, bench.id)


def test_the_database_opens_with_every_row_as_it_was(path: Path) -> None:
    before = everything(path)
    open_store(path).dispose()
    assert everything(path, {name: names for name, (names, _) in before.items()}) == before
    assert seals.fault_of(path) == ""
    assert all(before[name][1] for name in ("bench", "instrument", "setup", "entry", "air_day", "device_key"))


def test_it_says_the_same_as_the_export_of_its_day(path: Path, state: str) -> None:
    engine = open_store(path)
    assert exported(engine) == taken((HERE / f"{state}.json").read_bytes())
    engine.dispose()


def test_the_export_of_its_day_comes_in_whole(engine: Engine, state: str) -> None:
    file = taken((HERE / f"{state}.json").read_bytes())
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session).id
    assert bench_merge.load(engine, bench, file).refusals == []
    assert exported(engine) == file


def test_its_key_still_opens_its_pages(path: Path, state: str, tmp_path: Path) -> None:
    engine = open_store(path)
    with engine.execution_options(bench_writes=True).begin() as connection:
        # As if it had been used today: one that lay unused for long opens nothing.
        connection.execute(update(DeviceKey).values(last_used_at=datetime.now(UTC)))
    app = create_app(Settings(data_dir=tmp_path), load_trade(assets().content), engine)
    client = TestClient(app, base_url=ORIGIN)
    secret = (HERE / f"{state}.key").read_text().strip()
    client.cookies.set(app.state.bench_app.cookie, secret, domain="127.0.0.1", path="/")
    with reading(engine) as session:
        bench = benches.local_bench(session)
        assert bench is not None
        found = instruments.list_all(session, bench.id, archived=True)
        passes = [setup.id for row in found for setup in setups.list_for(session, bench.id, row.id)]
    paths = ["/", *(f"/instruments/{row.id}{more}" for row in found for more in ("", "/history"))]
    paths += [f"/setups/{setup}{more}" for setup in passes for more in ("", "/report", "/journal")]
    assert {path: client.get(path).status_code for path in paths} == dict.fromkeys(paths, 200)
    engine.dispose()
