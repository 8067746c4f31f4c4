"""Opening the database, and the two ways to use it: reading and writing."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session

from webapp.store.errors import Unusable
from webapp.store.migrate import upgrade

__all__ = ["Session", "connect", "check_file", "open_store", "reading", "writing"]

BUSY_MS = 10_000
# Older versions can, rarely, damage a WAL database when a checkpoint meets a reset of the log.
WAL_SAFE_FROM = (3, 51, 3)
MAGIC = b"SQLite format 3\x00"


def open_store(path: Path) -> Engine:
    """The engine on the database at `path`: made if absent, checked, copied aside and upgraded if older.

    Raises Unusable (with one sentence for the player) when the file is damaged, newer, locked or not ours.
    """
    try:
        _make_private(path)
        check_file(path)
        upgrade(path, connect(path, foreign_keys=False))
        _set_journal(path)
    except (sqlite3.Error, DBAPIError, OSError) as problem:
        reason = problem.orig if isinstance(problem, DBAPIError) else problem
        raise Unusable(path, f"The database {path} cannot be opened: {reason}.") from problem
    return connect(path)


def connect(path: Path, *, foreign_keys: bool = True) -> Engine:
    """A bare engine on `path`. Migrations need the foreign keys off while they rebuild tables."""
    # What players typed has no place in a log, so errors do not name the values.
    engine = create_engine(URL.create("sqlite+pysqlite", database=str(path)), hide_parameters=True)

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: object) -> None:
        # We say BEGIN ourselves: Python's driver would begin late, and only before a write.
        connection.isolation_level = None
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
        cursor.execute(f"PRAGMA foreign_keys = {'ON' if foreign_keys else 'OFF'}")
        cursor.execute("PRAGMA synchronous = FULL")
        cursor.close()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        # A writer takes its turn at once: what it reads before it writes cannot change under it.
        writes = connection.get_execution_options().get("bench_writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


@contextmanager
def reading(engine: Engine) -> Iterator[Session]:
    """A session that sees one unchanging state, and keeps nothing."""
    with Session(engine) as session:
        yield session


@contextmanager
def writing(engine: Engine) -> Iterator[Session]:
    """A session whose work is kept whole when the block ends, or not at all when it raises."""
    with Session(engine.execution_options(bench_writes=True)) as session, session.begin():
        yield session


def check_file(path: Path) -> None:
    """Raises Unusable unless `path` is empty or a sound SQLite database."""
    if path.stat().st_size == 0:
        return
    with path.open("rb") as file:
        head = file.read(len(MAGIC))
    if head != MAGIC:
        raise Unusable(path, f"The file {path} is damaged or is not a Benchside database.")
    connection = sqlite3.connect(path, timeout=BUSY_MS / 1000)
    try:
        found = [row[0] for row in connection.execute("PRAGMA quick_check(1)")]
    except sqlite3.DatabaseError as problem:
        if isinstance(problem, sqlite3.OperationalError):
            raise
        found = [str(problem)]
    finally:
        connection.close()
    if found != ["ok"]:
        raise Unusable(path, _damaged(path))


def _damaged(path: Path) -> str:
    copies = path.parent / "backups"
    hint = f" Earlier copies are in {copies}." if copies.is_dir() and any(copies.iterdir()) else ""
    return f"The database {path} is damaged; move it aside, or put a copy of it back.{hint}"


def _make_private(path: Path) -> None:
    """Makes an empty file that only its owner can read; SQLite's own files beside it take its mode."""
    if not path.exists():
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))


def _set_journal(path: Path) -> None:
    """The journal mode is a property of the file, so it is set once, before anyone else has it open."""
    mode = "WAL" if sqlite3.sqlite_version_info >= WAL_SAFE_FROM else "DELETE"
    connection = sqlite3.connect(path, timeout=BUSY_MS / 1000)
    try:
        if connection.execute("PRAGMA journal_mode").fetchone()[0].upper() != mode:
            connection.execute(f"PRAGMA journal_mode = {mode}")
    finally:
        connection.close()
