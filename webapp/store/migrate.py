"""Bringing an older database up to date, after copying it aside."""

from __future__ import annotations

import os
import sqlite3
from datetime import UTC, datetime
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Engine, inspect

from webapp.store.errors import Unusable

MIGRATIONS = Path(__file__).parent / "migrations"


def config() -> Config:
    """Alembic's settings, without a file: they must also hold where the app is installed."""
    settings = Config()
    settings.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    settings.set_main_option("path_separator", "os")
    return settings


def upgrade(path: Path, engine: Engine) -> Path | None:
    """Upgrades the database at `path` through `engine` (foreign keys off), in one transaction.

    Returns the copy made before, or None when there was nothing to copy. Raises Unusable when the database
    was made by a newer Benchside or by something else.
    """
    scripts = ScriptDirectory.from_config(config())
    head = scripts.get_current_head()
    try:
        current = _current(path, engine, {script.revision for script in scripts.walk_revisions()})
        if current == head:
            return None
        copy = copy_aside(path, current) if current else None
        with engine.execution_options(bench_writes=True).begin() as connection:
            settings = config()
            settings.attributes["connection"] = connection
            command.upgrade(settings, "head")
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
            if broken is not None:
                raise Unusable(path, f"The upgrade of {path} would break it, so nothing was changed.")
    finally:
        engine.dispose()
    return copy


def _current(path: Path, engine: Engine, known: set[str]) -> str | None:
    with engine.connect() as connection:
        current = MigrationContext.configure(connection).get_current_revision()
        tables = inspect(connection).get_table_names()
    if current is None and tables:
        raise Unusable(path, f"The file {path} is a database, but not one of Benchside's.")
    if current is not None and current not in known:
        raise Unusable(
            path, f"The database {path} was made by a newer Benchside; install that one to open it."
        )
    return current


def copy_aside(path: Path, revision: str) -> Path:
    """A complete copy of the database under backups/ beside it, readable by its owner only."""
    folder = path.parent / "backups"
    folder.mkdir(mode=0o700, exist_ok=True)
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%fZ")
    copy = folder / f"{path.stem}-{stamp}-before-{revision}{path.suffix}"
    os.close(os.open(copy, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    source, target = sqlite3.connect(path), sqlite3.connect(copy)
    try:
        source.backup(target)
    finally:
        target.close()
        source.close()
    return copy
