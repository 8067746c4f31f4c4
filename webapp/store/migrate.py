"""Bringing an older database up to date, the same way on both kinds, after a file was copied aside."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, inspect

from webapp.store.errors import Unusable
from webapp.store.postgres import take_turn

MIGRATIONS = Path(__file__).parent / "migrations"


def config() -> Config:
    """Alembic's settings, without a file: they must also hold where the app is installed."""
    settings = Config()
    settings.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    settings.set_main_option("path_separator", "os")
    return settings


def head() -> str:
    """The revision that this Benchside works with."""
    return _revisions(MIGRATIONS)[0]


@cache
def _revisions(_folder: Path) -> tuple[str, frozenset[str]]:
    scripts = ScriptDirectory.from_config(config())
    newest = scripts.get_current_head()
    assert newest is not None, "there is a first migration"
    return newest, frozenset(script.revision for script in scripts.walk_revisions())


def revision_of(connection: Connection, name: str) -> str | None:
    """The database's revision, None for an empty one; raises Unusable for one that is newer or not ours."""
    current = MigrationContext.configure(connection).get_current_revision()
    if current is None and inspect(connection).get_table_names():
        raise Unusable(f"The database {name} is not one of Benchside's.")
    if current is not None and current not in _revisions(MIGRATIONS)[1]:
        raise Unusable(f"The database {name} was made by a newer Benchside; install that one to open it.")
    return current


def upgrade(engine: Engine, name: str, copy_aside: Callable[[str], Path] | None = None) -> Path | None:
    """Brings the database up to date in one transaction: all of it or nothing.

    `copy_aside` makes a copy first, given the revision; returns that copy. SQLite's `engine` has its foreign
    keys off. Raises Unusable when the database was made by a newer Benchside or by something else.
    """
    with engine.connect() as connection:
        current = revision_of(connection, name)
    if current == head():
        return None
    copy = copy_aside(current) if copy_aside and current else None
    with engine.execution_options(bench_writes=True).begin() as connection:
        if engine.dialect.name == "postgresql":
            # Several processes may start at once; whoever comes second finds the work done.
            take_turn(connection, "migration")
        settings = config()
        settings.attributes["connection"] = connection
        command.upgrade(settings, "head")
        if engine.dialect.name == "sqlite":
            _refuse_broken(connection, name)
    return copy


def _refuse_broken(connection: Connection, name: str) -> None:
    if connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
        raise Unusable(f"The upgrade of {name} would break it, so nothing was changed.")
