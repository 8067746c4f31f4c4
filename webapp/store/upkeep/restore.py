"""Putting a copy back in the database's place, with what was there kept aside."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from webapp.store import backups, migrate, seals, sqlite
from webapp.store.errors import Unusable


@dataclass(frozen=True)
class Restored:
    """`aside` is where the data that was there is now; None where there was none."""

    aside: Path | None


def restore(path: Path, source: Path, now: datetime) -> Restored:
    """Makes `source` the database at `path`. The caller holds the lock: nobody else has it open.

    Raises Unusable, with nothing changed, for a file that is missing, damaged, of something else or newer.
    """
    check_source(source)
    draft = path.with_name(f".{path.name}-{os.getpid()}.part")
    try:
        # A copy, not the file itself: the copy stays a copy, and its log, if it has one, comes in.
        backups.copy_to(source, draft)
        aside = _put_aside(path, now) if path.exists() else None
        # From here to the end, the name always leads to one whole database: the old one or the new one.
        os.replace(draft, path)
        backups.sync_folder(path.parent)
    finally:
        draft.unlink(missing_ok=True)
    return Restored(aside)


def check_source(source: Path) -> None:
    """Raises Unusable unless the file is a sound database that this Benchside can open."""
    if not source.is_file():
        raise Unusable(f"There is no file {source}.")
    if source.stat().st_size == 0:
        raise Unusable(f"The file {source} is empty.")
    sqlite.check_file(source)
    engine = sqlite.connect(source)
    try:
        with engine.connect() as connection:
            if migrate.revision_of(connection, str(source)) is None:
                raise Unusable(f"The file {source} is empty.")
    finally:
        engine.dispose()
    fault = seals.fault_of(source)
    if fault:
        raise Unusable(f"The file {source} is damaged: {fault}")


def _put_aside(path: Path, now: datetime) -> Path:
    """Gives the present database a second name. What SQLite left beside it must not meet the new one."""
    with suppress(sqlite3.Error), sqlite.raw(path) as connection:
        # Ends what a killed process had begun, where the file is still sound enough for that.
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    folder = path.parent / "set-aside"
    folder.mkdir(mode=0o700, exist_ok=True)
    aside = folder / f"{path.stem}-{now.strftime(backups.STAMP)}{path.suffix}"
    try:
        os.link(path, aside)
    except OSError:
        # Not every disk knows second names.
        shutil.copy2(path, aside)
    for end in sqlite.COMPANIONS:
        left = path.with_name(path.name + end)
        if left.exists():
            os.replace(left, aside.with_name(aside.name + end))
    backups.sync_folder(folder)
    return aside
