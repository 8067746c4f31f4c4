"""Looking at the data without changing it: is it sound, is there room, what is there to do."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path

from sqlalchemy import URL, text
from sqlalchemy.exc import SQLAlchemyError

from webapp.store import backups, lock, migrate, postgres, seals, sqlite
from webapp.store.errors import Unusable

ROOM_AT_LEAST = 50_000_000
OLD_COPY = timedelta(days=8)
SHOWN = 10


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at; `todo` is empty where it is well."""

    what: str
    todo: str = ""


def examine(path: Path, now: datetime) -> list[Finding]:
    """Everything about a file, its folder and its copies. Never raises: what cannot be read is a finding."""
    folder = _folder(path.parent)
    gone, _, todo = backups.why_gone(path).partition(". ")
    if gone and not folder.todo:
        return [folder, Finding(f"{gone}.", todo)]
    if folder.todo or not path.exists():
        return [folder, Finding(f"{path}: not there yet; the first start makes it.")]
    database = [_private(path), *_database(path)]
    return [folder, *database, _room(path), _running(path), _copies(path, now), _library()]


def examine_server(url: URL) -> list[Finding]:
    """Everything about a database on a PostgreSQL server."""
    try:
        engine = postgres.connect(url)
        postgres.check_server(engine, url)
        with engine.connect() as connection:
            version = connection.execute(text("SHOW server_version")).scalar()
            revision = migrate.revision_of(connection, postgres.shown(url))
            size = connection.execute(text("SELECT pg_database_size(current_database())")).scalar() or 0
            found = (
                list(islice(seals.broken(seals.asked(connection)), SHOWN))
                if revision == migrate.head()
                else []
            )
        engine.dispose()
    except (Unusable, SQLAlchemyError) as problem:
        return [Finding("The server.", " ".join(str(problem).split()))]
    return [
        Finding(f"The server answers: PostgreSQL {version}, {_megabytes(size)} in this database."),
        _revision(revision),
        *_unsealed(found, "Put the server's newest copy from before back (pg_restore)."),
        Finding("Copies are the server's own work (pg_dump); `benchside move` also makes a file of it."),
    ]


def _folder(folder: Path) -> Finding:
    if not folder.is_dir():
        return Finding(f"{folder}: not there yet; the first start makes it.")
    if not os.access(folder, os.W_OK | os.X_OK) or _mounted_read_only(folder):
        return Finding(
            f"{folder} cannot be written to.", "Give yourself the right to write there, or use --data."
        )
    return Finding(f"{folder} can be written to.")


def _mounted_read_only(folder: Path) -> bool:
    return hasattr(os, "statvfs") and bool(os.statvfs(folder).f_flag & os.ST_RDONLY)


def _private(path: Path) -> Finding:
    mode = stat.S_IMODE(path.stat().st_mode)
    if os.name == "posix" and mode & 0o077:
        return Finding(f"Others on this computer can read {path} (mode {mode:o}).", f"chmod 600 {path}")
    return Finding("The database is its owner's only.")


def _database(path: Path) -> Iterator[Finding]:
    try:
        sqlite.check_file(path)
        yield Finding(f"The database is sound ({_megabytes(path.stat().st_size)}).")
        with sqlite.raw(path) as connection:
            broken = connection.execute("PRAGMA foreign_key_check").fetchone()
        if broken:
            yield Finding(f"A line of {broken[0]} belongs to nothing.", backups.advice(path))
        engine = sqlite.connect(path)
        with engine.connect() as opened:
            revision = migrate.revision_of(opened, str(path))
            if revision == migrate.head():
                migrate.refuse_other_tables(opened, str(path))
                yield from _unsealed(
                    list(islice(seals.broken(seals.asked(opened)), SHOWN)), backups.advice(path)
                )
        engine.dispose()
        yield _revision(revision)
    except Unusable as damaged:
        yield Finding(damaged.sentence, backups.advice(path))
    except (sqlite3.Error, SQLAlchemyError, OSError, ValueError, TypeError, OverflowError) as problem:
        words = " ".join(str(problem).split())
        yield Finding(f"The database cannot be read: {words}.", backups.advice(path))


def _unsealed(found: list[seals.Broken], todo: str) -> Iterator[Finding]:
    if not found:
        yield Finding("Every entry is as it was recorded.")
    for one in found:
        yield Finding(one.sentence, todo)


def _revision(revision: str | None) -> Finding:
    if revision == migrate.head():
        return Finding(f"Its tables are up to date ({revision}).")
    return Finding(
        f"Its tables are of an older Benchside ({revision or 'none'}); the next start updates them."
    )


def _room(path: Path) -> Finding:
    free, wanted = shutil.disk_usage(path.parent).free, max(ROOM_AT_LEAST, 3 * path.stat().st_size)
    said = f"{_megabytes(free)} of room on the disk."
    return Finding(said, f"Make room: {_megabytes(wanted)} are wanted.") if free < wanted else Finding(said)


def _running(path: Path) -> Finding:
    return Finding(f"{'A' if lock.is_held(path) else 'No'} Benchside runs on it just now.")


def _copies(path: Path, now: datetime) -> Finding:
    good = backups.newest_good(path)
    if good is None:
        return Finding("There is no copy yet; the next start of a new day makes one.")
    said = f"The newest good copy is of {backups.day_of(good)}: {good.path}"
    if now - good.made_at > OLD_COPY:
        return Finding(said, "That is long ago. Make one now: benchside backup FILE")
    return Finding(said)


def _library() -> Finding:
    journal = (
        "log beside the file" if sqlite3.sqlite_version_info >= sqlite.WAL_SAFE_FROM else "rollback journal"
    )
    return Finding(f"SQLite {sqlite3.sqlite_version}, {journal}.")


def _megabytes(size: int) -> str:
    return f"{size / 1_000_000:.1f} MB"
