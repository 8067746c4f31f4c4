from __future__ import annotations

import os
import sqlite3
from collections import namedtuple
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Engine, make_url

from tests.conftest import on_sqlite
from webapp.store import backups, benches, instruments, lock
from webapp.store.engine import writing
from webapp.store.upkeep import doctor

NOW = datetime(2026, 3, 10, 12, tzinfo=UTC)
Usage = namedtuple("Usage", "total used free")


@pytest.fixture
def path(engine: Engine, tmp_path: Path) -> Path:
    with writing(engine) as session:
        instruments.add(session, benches.get_or_create_local_bench(session).id, "f", "{}")
    return tmp_path / "bench.sqlite3"


def todos(path: Path) -> list[str]:
    return [one.todo for one in doctor.examine(path, NOW) if one.todo]


def says(path: Path) -> str:
    return " ".join(one.what for one in doctor.examine(path, NOW))


@on_sqlite
def test_where_all_is_well_there_is_nothing_to_do(path: Path) -> None:
    copy = backups.make(path, NOW, "daily")
    before = sorted(path.parent.rglob("*"))
    assert todos(path) == []
    assert f"newest good copy is of {backups.day_of(backups.listed(path)[0])}: {copy}" in says(path)
    assert "No Benchside runs" in says(path) and "up to date" in says(path)
    assert sorted(path.parent.rglob("*")) == before
    with lock.hold(path):
        assert "A Benchside runs" in says(path)


def test_where_there_is_nothing_yet(tmp_path: Path) -> None:
    assert todos(tmp_path / "nowhere" / "bench.sqlite3") == []
    assert not (tmp_path / "nowhere").exists()


@on_sqlite
def test_others_may_read_it(path: Path) -> None:
    path.chmod(0o644)
    assert todos(path) == [f"chmod 600 {path}"]


@on_sqlite
def test_too_little_room(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shutil.disk_usage", lambda folder: Usage(10**9, 10**9, 20_000_000))
    assert todos(path) == ["Make room: 50.0 MB are wanted."]


@on_sqlite
def test_an_old_copy(path: Path) -> None:
    backups.make(path, NOW - timedelta(days=9), "daily")
    assert todos(path) == ["That is long ago. Make one now: benchside backup FILE"]


@on_sqlite
@pytest.mark.parametrize(
    "harm",
    [
        "UPDATE instrument_version SET spec = '{\"a\": '",
        "UPDATE instrument SET bench_id = 'nobody'",
        "UPDATE alembic_version SET version_num = '9999'",
    ],
)
def test_a_fault_within_leads_to_the_newest_good_copy(path: Path, harm: str) -> None:
    copy = backups.make(path, NOW, "daily")
    with sqlite3.connect(path) as connection:
        connection.execute(harm)
    connection.close()
    (todo,) = set(todos(path))
    assert f"benchside restore {copy}" in todo


@on_sqlite
def test_a_damaged_file(path: Path) -> None:
    copy = backups.make(path, NOW, "daily")
    os.truncate(path, path.stat().st_size - 4096)
    (todo,) = todos(path)
    assert f"benchside restore {copy}" in todo


@pytest.mark.parametrize("engine", ["postgres"], indirect=True)
def test_a_server(engine: Engine) -> None:
    findings = doctor.examine_server(engine.url)
    assert [one.todo for one in findings if one.todo] == []
    assert "PostgreSQL" in findings[0].what and "up to date" in findings[1].what


def test_a_server_that_is_not_there(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("webapp.store.postgres.RETRY_FOR_S", 0.0)
    (finding,) = doctor.examine_server(make_url(f"postgresql+psycopg://a:secret@/x?host={tmp_path}"))
    assert "cannot be reached" in finding.todo and "secret" not in finding.todo
