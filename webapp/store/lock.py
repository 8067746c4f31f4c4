"""One Benchside at a time on one file: a lock of the operating system's, gone when its process is gone."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from webapp.store.errors import InUse

# Locked far behind the words, so that on Windows, too, others can read who holds it.
LOCKED_BYTE = 1 << 30


def lock_file(path: Path) -> Path:
    """The file beside the database that is locked; it stays when the lock goes, and means nothing then."""
    return path.with_name(f"{path.name}.lock")


@contextmanager
def hold(path: Path, who: str = "") -> Iterator[None]:
    """Keeps others off the database at `path`; raises InUse where another process has it.

    `who` is told to whoever is kept off: an address, say.
    """
    handle = os.open(lock_file(path), os.O_CREAT | os.O_RDWR, 0o600)
    try:
        if not _try(handle):
            raise InUse(_sentence(path, os.pread(handle, 1000, 0) if hasattr(os, "pread") else b""))
        os.ftruncate(handle, 0)
        os.write(handle, f"{os.getpid()}\n{who}\n".encode())
        yield
    finally:
        os.close(handle)


def is_held(path: Path) -> bool:
    """Whether a process has the database; looking changes nothing."""
    try:
        handle = os.open(lock_file(path), os.O_RDWR)
    except FileNotFoundError:
        return False
    try:
        return not _try(handle)
    finally:
        os.close(handle)


def _sentence(path: Path, told: bytes) -> str:
    words = told.decode("utf-8", "replace").split("\n")
    where = f" at {words[1]}" if len(words) > 1 and words[1] else ""
    process = f" (process {words[0]})" if words[0].isdigit() else ""
    return (
        f"the data in {path.parent} is in use by a Benchside that runs{where}{process}; "
        "stop that one first, or choose another folder with --data."
    )


if sys.platform == "win32":
    import msvcrt

    def _try(handle: int) -> bool:
        os.lseek(handle, LOCKED_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        finally:
            os.lseek(handle, 0, os.SEEK_SET)
        return True

else:
    import fcntl

    def _try(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
