"""Keys: the long secret that opens one bench on one device. Only its hash is kept."""

from __future__ import annotations

import base64
import hashlib
import hmac
import os
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import bindparam
from sqlalchemy import select as select_columns
from sqlmodel import Session, col, select

from webapp.store.engine import ask_one
from webapp.store.errors import NotFound
from webapp.store.sealed import sealed, sound
from webapp.store.tables import Bench, DeviceKey, columns

# Browsers keep a cookie for 400 days at most; a key that nobody used for as long is not used again.
UNUSED_FOR = timedelta(days=400)
TOUCH_EVERY = timedelta(minutes=1)
LONGEST_NAME = 60
SECRET_BYTES = 32


@dataclass(frozen=True)
class KeyRow:
    """A key in use, and the bench that it opens."""

    id: str
    bench_id: str
    device_name: str
    made_at: datetime
    last_used_at: datetime
    unit: str = ""
    """The unit that the bench likes; this and what follows only where the key was found by its secret."""
    air_mark: int = 0
    """Another number means another air (store/air.py)."""
    tools: str | None = None
    """The tools at hand, as the bench keeps them."""


# Made once, and with what every page needs of the bench: it is asked before every page.
_KEY, _BENCH = columns(DeviceKey), columns(Bench)
_WITH_HASH = select_columns(
    _KEY.secret_hash, _KEY.revoked_at, _KEY.id, _KEY.bench_id, _KEY.device_name, _KEY.made_at,
    _KEY.last_used_at, _BENCH.air_mark, *sealed(Bench),
).where(_KEY.secret_hash == bindparam("hashed"), _KEY.bench_id == _BENCH.id)  # fmt: skip


def make_key(session: Session, bench_id: str, device_name: str, at: datetime) -> str:
    """Makes a key to the bench and returns its secret, which is not seen again; raises NotFound."""
    if session.get(Bench, bench_id) is None:
        raise NotFound
    secret = secrets.token_urlsafe(SECRET_BYTES)
    name = device_name.strip()[:LONGEST_NAME] or "Device"
    session.add(
        DeviceKey(
            bench_id=bench_id, secret_hash=hash_of(secret), device_name=name, made_at=at, last_used_at=at
        )
    )
    session.flush()
    return secret


def find(session: Session, secret: str, at: datetime) -> KeyRow | None:
    """The key with this secret, unless it was taken back or lay unused for too long.

    Raises Damaged where the line of its bench is.
    """
    hashed = hash_of(secret)
    found = ask_one(session, _WITH_HASH, hashed=hashed)
    if found is None:
        return None
    secret_hash, revoked_at, *own, last_used_at, air_mark = found[:8]
    if not hmac.compare_digest(secret_hash, hashed):
        return None
    if revoked_at is not None or last_used_at + UNUSED_FOR < at:
        return None
    (bench,) = sound(found[8:], Bench)
    key_id, bench_id, name, made_at = own
    return KeyRow(key_id, bench_id, name, made_at, last_used_at, bench["unit"], air_mark, bench["tools"])


def is_due(key: KeyRow, at: datetime) -> bool:
    """Whether `touch` has something to write: a page with ten pictures is one use."""
    # One that was used in the future was used under a wrong clock.
    return not -TOUCH_EVERY < at - key.last_used_at < TOUCH_EVERY


def touch(session: Session, key_id: str, at: datetime) -> None:
    """Remembers that the key was used."""
    key = session.get(DeviceKey, key_id)
    if key is not None and key.revoked_at is None:
        key.last_used_at = at
        session.flush()


def list_for(session: Session, bench_id: str) -> Sequence[KeyRow]:
    """The bench's keys that were not taken back, the one used last first."""
    found = session.exec(
        select(DeviceKey)
        .where(DeviceKey.bench_id == bench_id, col(DeviceKey.revoked_at).is_(None))
        .order_by(col(DeviceKey.last_used_at).desc(), col(DeviceKey.id))
    )
    return [_row(key) for key in found]


def revoke(session: Session, bench_id: str, key_id: str, at: datetime) -> None:
    """Takes the key back: its next request is refused. Raises NotFound for another bench's key."""
    key = session.get(DeviceKey, key_id)
    if key is None or key.bench_id != bench_id:
        raise NotFound
    if key.revoked_at is None:
        key.revoked_at = at
        session.flush()


def hash_of(secret: str) -> str:
    """A plain hash will do: nobody guesses 256 random bits."""
    return hashlib.sha256(secret.encode()).hexdigest()


def _row(key: DeviceKey) -> KeyRow:
    return KeyRow(key.id, key.bench_id, key.device_name, key.made_at, key.last_used_at)


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
