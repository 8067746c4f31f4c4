"""Files that come with a form: taken in, kept on disk while something is done with them, and swept."""

from __future__ import annotations

import hashlib
import os
import secrets
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from fastapi import Request
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from webapp.web.settings import Settings

CHUNK = 65_536
KEPT_SECONDS, ON_ITS_WAY_SECONDS = 24 * 3600, 3600
# On their way to disk, and waiting for nothing but their turn: nobody comes back to these.
ON_ITS_WAY = (".part", ".bench")
NOT_WHOLE = "The file did not arrive whole. Choose it again."
NO_ROOM = "The file could not be kept: is the disk of this computer full?"


@dataclass(frozen=True)
class Sent:
    """The file that came with a form, or the sentence about why it did not come."""

    file: UploadFile | None = None
    fault: str = ""
    status: int = 422

    @property
    def name(self) -> str:
        """What the file is called, without its folders."""
        name = self.file.filename if self.file else None
        return (name or "").replace("\\", "/").rpartition("/")[2][-120:]


async def read_sent(request: Request, no_file: str, too_large: str, field: str = "file") -> Sent:
    """Takes a form's file in, piece by piece, onto the disk; the guard refuses a larger one before that."""
    try:
        form = await request.form(max_files=1, max_fields=10)
    except HTTPException as refusal:
        return Sent(fault=too_large, status=413) if refusal.status_code == 413 else Sent(fault=NOT_WHOLE)
    file = form.get(field)
    if not isinstance(file, UploadFile) or not file.filename:
        return Sent(fault=no_file)
    return Sent(file)


@dataclass(frozen=True)
class Spooled:
    """A file that has arrived and lies on disk under a name of its own."""

    path: Path
    digest: str
    size: int
    head: bytes


def folder_of(settings: Settings) -> Path:
    """Where files wait for their import."""
    return settings.folder / "imports"


def spool(settings: Settings, source: BinaryIO, head_bytes: int = 0) -> Spooled:
    """Copies an upload into the data folder, for its owner only; raises OSError where the disk is full."""
    folder = folder_of(settings)
    folder.mkdir(mode=0o700, exist_ok=True)
    sweep(folder)
    path = folder / f"{secrets.token_urlsafe(9)}.part"
    digest, head, size = hashlib.sha256(), b"", 0
    try:
        with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as target:
            while piece := source.read(CHUNK):
                target.write(piece)
                digest.update(piece)
                size += len(piece)
                head += piece[: head_bytes - len(head)]
    except OSError:
        path.unlink(missing_ok=True)
        raise
    return Spooled(path, digest.hexdigest(), size, head)


def sweep(folder: Path) -> None:
    """Files that nobody came back to, and what a killed process left. At each start and each upload."""
    for old in folder.iterdir() if folder.is_dir() else ():
        most = ON_ITS_WAY_SECONDS if old.suffix in ON_ITS_WAY else KEPT_SECONDS
        with suppress(FileNotFoundError):
            if abs(time.time() - old.stat().st_mtime) > most:
                old.unlink()
