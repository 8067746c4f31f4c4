"""The secret half of a link. The database has only its hash; here is how it is made again to be shown."""

from __future__ import annotations

import base64
import hashlib
import hmac
import os
import secrets
from pathlib import Path

KEY_BYTES = 32
TOKEN_BYTES = 20
KEY_FILE = "links.key"


def token(seed: bytes, what: str) -> str:
    """A token of 160 bits: random to all who do not hold the seed, and the same whenever it is asked for."""
    made = hmac.digest(seed, what.encode(), "sha256")[:TOKEN_BYTES]
    return base64.urlsafe_b64encode(made).decode().rstrip("=")


def hashed(token: str) -> str:
    """What is kept of a token. A plain hash will do: nobody guesses 160 random bits."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def links_key(folder: Path) -> bytes:
    """The seed of the links that must be shown again and again (a lesson's, on every printed sheet).

    It lies beside the database, not in it, readable by its owner only; made once, whoever comes first.
    """
    file = folder / KEY_FILE
    if not file.exists():
        _make(folder, file)
    return file.read_bytes()


def _make(folder: Path, file: Path) -> None:
    """Written whole under another name first, so that no other process reads half of it."""
    draft = folder / f".{KEY_FILE}-{os.getpid()}-{secrets.token_hex(4)}"
    handle = os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    with os.fdopen(handle, "wb") as out:
        out.write(secrets.token_bytes(KEY_BYTES))
    try:
        # Unlike a rename, a link does not replace what another process has put there meanwhile.
        os.link(draft, file)
    except FileExistsError:
        pass
    finally:
        draft.unlink()
