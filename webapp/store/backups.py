"""Copies of the database beside it: made whole, checked, and thinned out.

A copy is written under another name, checked, brought to the disk and only then given its own name: whatever
carries that name is complete.
"""

from __future__ import annotations

import os
import re
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from webapp.store import seals, sqlite
from webapp.store.errors import Unusable

LAST = 7
MONTHS = 12
EVERY = timedelta(days=1)
STAMP = "%Y%m%dT%H%M%S%fZ"
_NAME = re.compile(r"(?P<stem>.+)-(?P<stamp>\d{8}T\d{12}Z)-(?P<why>[\w-]+)")


@dataclass(frozen=True)
class KeptCopy:
    path: Path
    made_at: datetime
    why: str


def folder_of(path: Path) -> Path:
    """Where the database's copies lie."""
    return path.parent / "backups"


def listed(path: Path) -> list[KeptCopy]:
    """The database's own copies, the newest first (by the time in their names)."""
    found = []
    for file in folder_of(path).glob(f"{path.stem}-*{path.suffix}"):
        name = _NAME.fullmatch(file.stem)
        if name is None or name["stem"] != path.stem:
            continue
        with suppress(ValueError):
            found.append(
                KeptCopy(file, datetime.strptime(name["stamp"], STAMP).replace(tzinfo=UTC), name["why"])
            )
    return sorted(found, key=lambda backup: backup.made_at, reverse=True)


def make(path: Path, now: datetime, why: str) -> Path:
    """One more copy, and fewer old ones; `why` stands in its name."""
    folder = folder_of(path)
    folder.mkdir(mode=0o700, exist_ok=True)
    target = folder / f"{path.stem}-{now.astimezone(UTC).strftime(STAMP)}-{why}{path.suffix}"
    copy_to(path, target)
    thin(path, target)
    return target


def daily(path: Path, now: datetime) -> Path | None:
    """The day's copy, unless there is one, or nothing to copy.

    A copy from the future (the clock was wrong) is not counted.
    """
    if _is_empty(path) or any(now - EVERY < backup.made_at <= now for backup in listed(path)):
        return None
    return make(path, now, "daily")


def _is_empty(path: Path) -> bool:
    with sqlite.raw(path) as connection:
        return connection.execute("SELECT 1 FROM instrument LIMIT 1").fetchone() is None


def copy_to(path: Path, target: Path) -> None:
    """A complete copy of a database that may be in use. Raises Unusable where the copy is not sound, and
    OSError or sqlite3.Error where there is no room; then nothing is left of it."""
    draft = target.with_name(f".{target.name}-{os.getpid()}.part")
    try:
        os.close(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        with sqlite.raw(path) as source, closing(sqlite3.connect(draft)) as copy:
            source.backup(copy)
            # One file only: a copy keeps no log beside it.
            copy.execute("PRAGMA journal_mode = DELETE")
        fault = sqlite.fault_of(draft)
        if fault:
            raise Unusable(f"The copy {target} would not be sound ({fault}), so it was not made.")
        sync(draft)
        os.replace(draft, target)
        sync_folder(target.parent)
    finally:
        draft.unlink(missing_ok=True)


def thin(path: Path, keep: Path) -> None:
    """Keeps the last seven, the first of each month for twelve months, and `keep`.

    Counted, not measured against today: a clock that was set wrong must not sweep the past away. Those that a
    clock made in the future are counted apart: seven of them must not leave room for none of today's.
    """
    found = listed(path)
    now = next((backup.made_at for backup in found if backup.path == keep), datetime.max.replace(tzinfo=UTC))
    kept = {keep}
    for some in ([one for one in found if one.made_at <= now], [one for one in found if one.made_at > now]):
        firsts = {backup.made_at.strftime("%Y-%m"): backup.path for backup in some}
        kept |= {*(backup.path for backup in some[:LAST]), *list(firsts.values())[:MONTHS]}
    for backup in found:
        if backup.path not in kept:
            backup.path.unlink(missing_ok=True)


def newest_good(path: Path) -> KeptCopy | None:
    """The newest copy that SQLite finds no fault with, and whose lines are as they were recorded."""
    for backup in listed(path):
        with suppress(Unusable, sqlite3.Error, OSError):
            sqlite.check_file(backup.path)
            if backup.path.stat().st_size and not seals.fault_of(backup.path):
                return backup
    return None


def why_gone(path: Path) -> str:
    """What to ask where the database is not there, but a good copy with something in it is; else empty."""
    if path.exists() and path.stat().st_size:
        return ""
    copy = newest_good(path)
    if copy is None or _is_empty(copy.path):
        return ""
    return (
        f"The database {path} is gone, but there is a good copy of it of {day_of(copy)}. Put it back with: "
        f"benchside restore {copy.path} - or, to begin anew instead, move {folder_of(path)} aside."
    )


def advice(path: Path) -> str:
    """What to do about a damaged database."""
    good = newest_good(path)
    if good is None:
        return f"There is no good copy of it in {folder_of(path)}; move it aside to start anew."
    return f"Its newest good copy is of {day_of(good)}; put it back with: benchside restore {good.path}"


def day_of(backup: KeptCopy) -> str:
    """When a copy was made, as people say it."""
    made = backup.made_at.astimezone()
    return f"{made.day} {made:%B %Y, %H:%M}"


def sync(file: Path) -> None:
    """Brings a file to the disk."""
    handle = os.open(file, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Brings a folder's names to the disk, where the system knows how."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
