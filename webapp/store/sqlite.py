"""SQLite: one file on the player's own computer, set to keep what it said it kept."""

from __future__ import annotations

import os
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event

from webapp.store.errors import Unusable

BUSY_MS = 10_000
# Older versions can, rarely, damage a WAL database when a checkpoint meets a reset of the log.
WAL_SAFE_FROM = (3, 51, 3)
MAGIC = b"SQLite format 3\x00"
COMPANIONS = ("-journal", "-wal", "-shm")
# Above this, the full check (which also compares every index with its table) would be felt at the start.
FULL_CHECK_UP_TO = 50_000_000
PRAGMAS = {
    "busy_timeout": BUSY_MS,
    "foreign_keys": 1,
    "synchronous": 2,  # FULL
    # Without it, macOS calls a write done while it is still in the disk's own memory.
    **({"fullfsync": 1, "checkpoint_fullfsync": 1} if sys.platform == "darwin" else {}),
}


def connect(path: Path, *, foreign_keys: bool = True) -> Engine:
    """A bare engine on `path`. Migrations need the foreign keys off while they rebuild tables."""
    # What players typed has no place in a log, so errors do not name the values.
    engine = create_engine(
        URL.create("sqlite+pysqlite", database=str(path)), hide_parameters=True, max_overflow=35
    )
    wanted = {**PRAGMAS, "foreign_keys": int(foreign_keys)}

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: object) -> None:
        # We say BEGIN ourselves: Python's driver would begin late, and only before a write.
        connection.isolation_level = None
        cursor = connection.cursor()
        for name, value in wanted.items():
            cursor.execute(f"PRAGMA {name} = {value}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        # A writer takes its turn at once: what it reads before it writes cannot change under it.
        writes = connection.get_execution_options().get("bench_writes", False)
        if writes:
            connection.exec_driver_sql("BEGIN IMMEDIATE")
        else:
            # This takes no lock, so there is no failure for the engine to put in words; half the time.
            connection.connection.cursor().execute("BEGIN")

    return engine


def verify(engine: Engine, path: Path) -> None:
    """Raises Unusable where SQLite did not take a setting: it says nothing of one that it does not know."""
    with engine.connect() as connection:
        for name, wanted in PRAGMAS.items():
            got = connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            if got != wanted:
                raise Unusable(
                    f"The database {path} cannot be kept safely here: SQLite's {name} is {got} "
                    f"and should be {wanted}."
                )


def check_file(path: Path) -> None:
    """Raises Unusable unless `path` is empty or a sound SQLite database."""
    if path.stat().st_size == 0:
        return
    with path.open("rb") as file:
        head = file.read(len(MAGIC))
    if head != MAGIC:
        raise Unusable(f"The file {path} is damaged or is not a Benchside database.")
    fault = fault_of(path)
    if fault:
        raise Unusable(f"The database {path} is damaged ({fault}).")


def fault_of(path: Path) -> str:
    """What SQLite's own check finds wrong with a file; empty where it is sound."""
    if _is_cut_short(path):
        return "it was cut short"
    check = "integrity_check" if path.stat().st_size <= FULL_CHECK_UP_TO else "quick_check"
    try:
        with raw(path) as connection:
            found = [str(row[0]) for row in connection.execute(f"PRAGMA {check}(1)")]
    except sqlite3.OperationalError:
        # Not the content's fault: the disk is full, or the file may not be read.
        raise
    except sqlite3.DatabaseError as problem:
        return str(problem)
    return "" if found == ["ok"] else " ".join(" ".join(found).split())


def _is_cut_short(path: Path) -> bool:
    """Whether the file ends before its last page. SQLite reads on where the missing end was of no use.

    Its header says how many pages there are; not so while a log or journal beside it has the last word.
    """
    if any(path.with_name(path.name + end).exists() for end in COMPANIONS):
        return False
    with path.open("rb") as file:
        head = file.read(100)
    page = int.from_bytes(head[16:18], "big")
    page = 65_536 if page == 1 else page
    count, counted = head[28:32], head[24:28] == head[92:96]
    return page > 0 and counted and path.stat().st_size < page * int.from_bytes(count, "big")


@contextmanager
def raw(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection of Python's own to a file that is there."""
    address = f"{path.absolute().as_uri()}?mode=rw"
    with closing(sqlite3.connect(address, uri=True, timeout=BUSY_MS / 1000)) as connection:
        connection.text_factory = readable
        yield connection


def readable(raw: bytes) -> str:
    """Text, also where a bit of it flipped and it is none any more."""
    return raw.decode("utf-8", "backslashreplace")


def make_private(path: Path) -> None:
    """Makes an empty file that only its owner can read; SQLite's own files beside it take its mode."""
    if not path.exists():
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))


def set_journal(path: Path) -> None:
    """The journal mode is a property of the file, so it is set once, before anyone else has it open."""
    mode = "WAL" if sqlite3.sqlite_version_info >= WAL_SAFE_FROM else "DELETE"
    with raw(path) as connection:
        if connection.execute("PRAGMA journal_mode").fetchone()[0].upper() == mode:
            return
        got = connection.execute(f"PRAGMA journal_mode = {mode}").fetchone()[0].upper()
    if got != mode:
        raise Unusable(f"The database {path} could not be set to keep a {mode} journal.")
