"""When the database cannot do its work just now: what that was, and what to say about it."""

from __future__ import annotations

import errno
import sqlite3
from dataclasses import dataclass

from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoneFree

CANNOT: tuple[type[Exception], ...] = (DBAPIError, NoneFree, sqlite3.Error, OSError)
"""What is raised then; `trouble_of` tells it from other faults of the same kinds."""


@dataclass(frozen=True)
class Trouble:
    """`full`: there is no room on the disk. `key` is for the log."""

    key: str
    title: str
    sentence: str
    full: bool = False


FULL = Trouble(
    "full", "The disk is full", "There is no room left on the disk of Benchside’s computer. Make some.", True
)
READ_ONLY = Trouble(
    "read-only",
    "The data cannot be written to",
    "Benchside may not write to its folder just now. On its computer, `benchside doctor` says more.",
)
DISK = Trouble(
    "disk", "The disk did not take it", "Benchside’s computer could not write to its disk. See to the disk."
)
BUSY = Trouble("busy", "Too busy just now", "Something else is using the data. Wait a moment.")
AWAY = Trouble("away", "No answer just now", "Benchside’s database does not answer. It is usually soon back.")
DAMAGED = Trouble(
    "damaged",
    "The data seems damaged",
    "Stop Benchside, and let `benchside doctor` on its computer say what to do.",
)

_SQLITE = {
    "SQLITE_FULL": FULL,
    "SQLITE_READONLY": READ_ONLY,
    "SQLITE_PERM": READ_ONLY,
    "SQLITE_CANTOPEN": READ_ONLY,
    "SQLITE_IOERR": DISK,
    "SQLITE_BUSY": BUSY,
    "SQLITE_LOCKED": BUSY,
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_NOTADB": DAMAGED,
}
_POSTGRES = {
    "53100": FULL,
    "25006": READ_ONLY,
    "58030": DISK,
    "53300": BUSY,
    "55P03": BUSY,
    "40P01": BUSY,
    "40001": BUSY,
}
_SYSTEM = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EFBIG: FULL,
    errno.EROFS: READ_ONLY,
    errno.EACCES: READ_ONLY,
    errno.EPERM: READ_ONLY,
    errno.EIO: DISK,
}


def trouble_of(problem: BaseException) -> Trouble | None:
    """What kept the database from its work; None where it was something else, such as a slip of ours."""
    if isinstance(problem, NoneFree):
        return BUSY
    if isinstance(problem, DBAPIError):
        cause = problem.orig
        state = str(getattr(cause, "sqlstate", None) or "")
        if state in _POSTGRES:
            return _POSTGRES[state]
        if isinstance(cause, sqlite3.Error):
            return trouble_of(cause)
        # A server that goes away says so in many words, or in none.
        gone = problem.connection_invalidated or isinstance(problem, OperationalError | InterfaceError)
        return AWAY if gone else None
    if isinstance(problem, sqlite3.Error):
        # "SQLITE_IOERR_WRITE" and its like are kinds of "SQLITE_IOERR".
        if str(problem).startswith("Could not decode to UTF-8"):
            return DAMAGED
        name = "_".join((getattr(problem, "sqlite_errorname", "") or "").split("_")[:2])
        return _SQLITE.get(name)
    if isinstance(problem, OSError) and problem.errno is not None:
        return _SYSTEM.get(problem.errno)
    return None
