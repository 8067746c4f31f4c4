from __future__ import annotations

import re
import sqlite3
import stat
import subprocess
import sys
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError

from tests.conftest import on_sqlite
from webapp.store import backups, benches, keys, migrate
from webapp.store.engine import open_store, reading, writing
from webapp.store.errors import Unusable
from webapp.store.migrate import MIGRATIONS, config
from webapp.store.tables import Base

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
HEAD = ScriptDirectory.from_config(config()).get_current_head()


def test_the_migrations_make_what_the_code_expects(engine: Engine) -> None:
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []


def test_the_names_of_the_files_tell_the_revisions() -> None:
    scripts = ScriptDirectory.from_config(config())
    known = {script.revision for script in scripts.walk_revisions()}
    assert (migrate.head(), migrate.known()) == (HEAD, known)


def test_a_start_without_an_upgrade_does_without_alembic(tmp_path: Path) -> None:
    open_store(tmp_path / "bench.sqlite3").dispose()
    start = (
        "import sys; from pathlib import Path; import webapp.app; "
        "from webapp.store.engine import open_store; open_store(Path(sys.argv[1])).dispose(); "
        "sys.exit('alembic' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", start, str(tmp_path / "bench.sqlite3")], check=True)


def test_every_constraint_has_a_name() -> None:
    for table in Base.metadata.tables.values():
        assert all(constraint.name for constraint in table.constraints), table.name


@on_sqlite
def test_connections_are_strict(engine: Engine) -> None:
    with engine.connect() as connection:
        pragmas = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("foreign_keys", "synchronous", "busy_timeout", "journal_mode")
        }
    journal = "wal" if sqlite3.sqlite_version_info >= (3, 51, 3) else "delete"
    assert pragmas == {
        "foreign_keys": 1,
        "synchronous": 2,
        "busy_timeout": 10_000,
        "journal_mode": journal,
    }


@on_sqlite
def test_the_file_is_its_owners_only(engine: Engine, tmp_path: Path) -> None:
    assert stat.S_IMODE((tmp_path / "bench.sqlite3").stat().st_mode) == 0o600


def test_reading_keeps_nothing_and_a_failed_write_keeps_nothing(engine: Engine) -> None:
    # PostgreSQL refuses it at once.
    with suppress(DBAPIError), reading(engine) as session:
        benches.get_or_create_local_bench(session)
    with pytest.raises(RuntimeError), writing(engine) as session:
        benches.get_or_create_local_bench(session)
        raise RuntimeError
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM bench").scalar() == 0


@pytest.mark.parametrize("engine", ["postgres"], indirect=True)
def test_what_is_asked_again_and_again_stays_prepared(engine: Engine) -> None:
    with writing(engine) as session:
        key = keys.make_key(session, benches.make(session, NOON), "A phone", NOON)
    for _ in range(20):
        with reading(engine) as session:
            assert keys.find(session, key, NOON)
    with reading(engine) as session:
        asked = session.connection().exec_driver_sql("SELECT generic_plans FROM pg_prepared_statements")
        assert max(asked.scalars()) > 10


@on_sqlite
def test_opening_a_current_database_changes_and_copies_nothing(engine: Engine, tmp_path: Path) -> None:
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session).id
    engine.dispose()
    before = (tmp_path / "bench.sqlite3").read_bytes()
    again = open_store(tmp_path / "bench.sqlite3")
    again.dispose()
    assert (tmp_path / "bench.sqlite3").read_bytes() == before
    assert not (tmp_path / "backups").exists()
    assert bench.encode() in before


@on_sqlite
def test_an_older_database_is_copied_whole_before_it_is_upgraded(
    engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session).id
    engine.dispose()
    path = tmp_path / "bench.sqlite3"
    later = with_a_further_migration(tmp_path, "op.add_column('bench', sa.Column('note', sa.Text()))")
    monkeypatch.setattr("webapp.store.migrate.MIGRATIONS", later)
    open_store(path).dispose()
    (copy,) = (tmp_path / "backups").iterdir()
    assert re.fullmatch(rf"bench-\d{{8}}T\d{{12}}Z-before-{HEAD}\.sqlite3", copy.name)
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    assert _query(copy, "SELECT * FROM bench")[0][0] == bench
    assert _query(path, "SELECT id, note FROM bench") == [(bench, None)]


@on_sqlite
def test_an_upgrade_that_fails_half_way_changes_nothing(
    engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine.dispose()
    path = tmp_path / "bench.sqlite3"
    later = with_a_further_migration(tmp_path, "op.drop_column('bench', 'unit'); op.drop_table('nowhere')")
    monkeypatch.setattr("webapp.store.migrate.MIGRATIONS", later)
    with pytest.raises(Unusable, match=r"^The database .* cannot be opened: no such table: nowhere\.$"):
        open_store(path)
    assert _query(path, "SELECT count(unit) FROM bench") == [(0,)]
    assert _query(path, "SELECT version_num FROM alembic_version") == [(HEAD,)]


@on_sqlite
def test_a_newer_database_is_refused_untouched(engine: Engine, tmp_path: Path) -> None:
    engine.dispose()
    path = tmp_path / "bench.sqlite3"
    _query(path, "UPDATE alembic_version SET version_num = '9999'")
    before = path.read_bytes()
    with pytest.raises(Unusable, match="newer Benchside"):
        open_store(path)
    assert path.read_bytes() == before


def test_a_database_of_something_else_is_refused_untouched(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite3"
    _query(path, "CREATE TABLE recipes (id INTEGER)")
    with pytest.raises(Unusable, match="not one of Benchside's"):
        open_store(path)
    assert _query(path, "SELECT name FROM sqlite_master") == [("recipes",)]


def test_a_file_that_is_no_database_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bench.sqlite3"
    path.write_text("this is a letter, not a database")
    with pytest.raises(Unusable, match="damaged or is not a Benchside database"):
        open_store(path)
    assert path.read_text() == "this is a letter, not a database"


@on_sqlite
def test_a_damaged_database_is_refused_and_its_copies_are_named(engine: Engine, tmp_path: Path) -> None:
    with writing(engine) as session:
        benches.get_or_create_local_bench(session)
    engine.dispose()
    path = tmp_path / "bench.sqlite3"
    copy = backups.make(path, datetime.now(UTC), "daily")
    with path.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xff" * (path.stat().st_size - 4096))
    with pytest.raises(Unusable, match=rf"is damaged .*benchside restore {copy}"):
        open_store(path)


@on_sqlite
def test_a_database_cut_short_is_refused(engine: Engine, tmp_path: Path) -> None:
    engine.dispose()
    path = tmp_path / "bench.sqlite3"
    path.write_bytes(path.read_bytes()[:-4096])
    with pytest.raises(Unusable, match="is damaged"):
        open_store(path)


def _query(path: Path, statement: str) -> list[tuple[object, ...]]:
    connection = sqlite3.connect(path)
    try:
        found = connection.execute(statement).fetchall()
        connection.commit()
        return found
    finally:
        connection.close()


def with_a_further_migration(tmp_path: Path, change: str) -> Path:
    """The real migrations, and after them one that a later version might bring."""
    folder = tmp_path / "migrations"
    (folder / "versions").mkdir(parents=True)
    for source in [MIGRATIONS / "env.py", *(MIGRATIONS / "versions").glob("*.py")]:
        (folder / source.relative_to(MIGRATIONS)).write_text(source.read_text())
    (folder / "versions" / "9001_later.py").write_text(
        "import sqlalchemy as sa\nfrom alembic import op\n"
        f"revision = '9001'\ndown_revision = {HEAD!r}\n"
        f"def upgrade():\n    {change}\n"
    )
    return folder
