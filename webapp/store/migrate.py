"""Bringing an older database up to date, the same way on both kinds, after a file was copied aside."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Engine, inspect

from webapp.store.errors import Unusable
from webapp.store.postgres import take_turn
from webapp.store.tables import Base

if TYPE_CHECKING:
    from alembic.config import Config

MIGRATIONS = Path(__file__).parent / "migrations"


def config() -> Config:
    """Alembic's settings, without a file: they must also hold where the app is installed."""
    from alembic.config import Config

    settings = Config()
    settings.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    settings.set_main_option("path_separator", "os")
    return settings


def head() -> str:
    """The revision that this Benchside works with."""
    return _revisions(MIGRATIONS)[0]


def known() -> frozenset[str]:
    """The revisions that this Benchside can bring up to date."""
    return _revisions(MIGRATIONS)[1]


@cache
def _revisions(folder: Path) -> tuple[str, frozenset[str]]:
    """The newest and all of them, by the names of their files: alembic, which could tell, takes a tenth of a
    second to load, and at most starts there is nothing for it to do."""
    all_of_them = sorted(file.name.partition("_")[0] for file in (folder / "versions").glob("[0-9]*_*.py"))
    return all_of_them[-1], frozenset(all_of_them)


def revision_of(connection: Connection, name: str) -> str | None:
    """The database's revision, None for an empty one; raises Unusable for one that is newer or not ours."""
    tables = inspect(connection).get_table_names()
    current: str | None = None
    if "alembic_version" in tables:
        current = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    if current is None and tables:
        raise Unusable(f"The database {name} is not one of Benchside's.")
    if current is not None and current not in known():
        raise Unusable(f"The database {name} was made by a newer Benchside; install that one to open it.")
    return current


def refuse_other_tables(connection: Connection, name: str) -> None:
    """Raises Unusable where the tables are not those that this revision has: the words that say how they are
    made are on the disk too, and a bit of them may flip."""
    found = inspect(connection)
    for table in Base.metadata.sorted_tables:
        if not found.has_table(table.name):
            raise Unusable(f"The database {name} is damaged (the table {table.name} is gone).")
        if not {one["name"] for one in found.get_columns(table.name)} >= {one.name for one in table.columns}:
            raise Unusable(f"The database {name} is damaged (the columns of {table.name}).")
        keys = found.get_foreign_keys(table.name)
        owners = {(*one["constrained_columns"], one["referred_table"]) for one in keys}
        if owners != {(key.parent.name, key.column.table.name) for key in table.foreign_keys}:
            raise Unusable(f"The database {name} is damaged (what {table.name} belongs to).")


def upgrade(engine: Engine, name: str, copy_aside: Callable[[str], Path] | None = None) -> Path | None:
    """Brings the database up to date in one transaction: all of it or nothing.

    `copy_aside` makes a copy first, given the revision; returns that copy. SQLite's `engine` has its foreign
    keys off. Raises Unusable when the database was made by a newer Benchside or by something else.
    """
    with engine.connect() as connection:
        current = revision_of(connection, name)
    if current == head():
        return None
    from alembic import command

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
