"""Ways in: entry links and pairing codes. Each makes one key, once, and soon goes out of date."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import update
from sqlmodel import Session, col, delete, select

from webapp.store.errors import NotFound
from webapp.store.tables import Bench, WayIn

ENTRY = "entry"
PAIRING = "pair"
ENTRY_LASTS = timedelta(hours=1)
INVITATION_LASTS = timedelta(days=7)
PAIRING_LASTS = timedelta(minutes=10)
WRONG_TRIES = 5
KEPT_FOR = timedelta(days=8)

# No letter that is taken for a figure: 32 signs, five bits each.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LOOKALIKES = str.maketrans("OIL", "011")
GROUP = 4
LABEL_SIGNS = 4
SECRET_SIGNS = 8


@dataclass(frozen=True)
class Pairing:
    """A pairing code as its maker sees it."""

    code: str
    expires_at: datetime
    used: bool
    locked: bool

    def is_open(self, at: datetime) -> bool:
        return not self.used and not self.locked and at < self.expires_at


def make_entry(session: Session, bench_id: str, at: datetime, lasts: timedelta = ENTRY_LASTS) -> str:
    """A new code for an entry link: 192 bits, good once; raises NotFound."""
    code = secrets.token_urlsafe(24)
    _add(
        session,
        WayIn(bench_id=bench_id, kind=ENTRY, code_hash=_plain(code), made_at=at, expires_at=at + lasts),
    )
    return code


def bench_of_entry(session: Session, code: str, at: datetime) -> str | None:
    """The bench that an entry link would open; looking does not use it up."""
    way = _entry(session, code)
    return way.bench_id if way is not None and _is_open(way, at) else None


def use_entry(session: Session, code: str, at: datetime) -> str | None:
    """Uses an entry link up and returns the bench it opens, or None."""
    way = _entry(session, code)
    return way.bench_id if way is not None and _use(session, way, at) else None


def make_pairing(
    session: Session, bench_id: str, at: datetime, made_by: str | None = None, seed: bytes = b""
) -> Pairing:
    """A new pairing code. The ones that the same device showed before are no longer good.

    The code is worked out from the device's own key (`seed`) and the row's id: so the device can show it
    again (`shown_to`), while here only its hash is kept. Without a seed it is simply random.
    """
    if made_by is not None:
        for earlier in session.exec(select(WayIn).where(WayIn.made_by == made_by, WayIn.kind == PAIRING)):
            earlier.expires_at = min(earlier.expires_at, at)
    way = WayIn(
        bench_id=bench_id, kind=PAIRING, code_hash="", made_by=made_by, made_at=at,
        expires_at=at + PAIRING_LASTS,
    )  # fmt: skip
    code = _code(seed or secrets.token_bytes(32), way.id)
    way.label, way.code_hash = code[:LABEL_SIGNS], _slow(code, way.id)
    _add(session, way)
    return _pairing(way, code)


def shown_to(session: Session, key_id: str, seed: bytes) -> Pairing | None:
    """The newest pairing code that this device made, as it was shown."""
    way = session.exec(
        select(WayIn)
        .where(WayIn.made_by == key_id, WayIn.kind == PAIRING)
        .order_by(col(WayIn.made_at).desc(), col(WayIn.id))
    ).first()
    return None if way is None else _pairing(way, _code(seed, way.id))


def use_pairing(session: Session, typed: str, at: datetime) -> str | None:
    """Uses a pairing code up and returns the bench it opens, or None.

    A wrong try counts against the code whose label it names: after five that code is locked. (The caller
    keeps the session's work also when nothing was found.)
    """
    code = normalised(typed)
    open_ones = [way for way in _labelled(session, code[:LABEL_SIGNS]) if _is_open(way, at)]
    for way in open_ones:
        if hmac.compare_digest(way.code_hash, _slow(code, way.id)) and _use(session, way, at):
            return way.bench_id
    for way in open_ones:
        session.execute(
            update(WayIn).where(col(WayIn.id) == way.id).values(wrong_tries=col(WayIn.wrong_tries) + 1)
        )
    return None


def close_all(session: Session, bench_id: str, at: datetime) -> None:
    """Every link and code into the bench that nobody used yet opens nothing any more."""
    still_open = col(WayIn.used_at).is_(None) & (col(WayIn.expires_at) > at)
    session.execute(update(WayIn).where(col(WayIn.bench_id) == bench_id, still_open).values(expires_at=at))


def normalised(typed: str) -> str:
    """A code as typed, with or without its dashes, in either case."""
    return "".join(sign for sign in typed.upper().translate(LOOKALIKES) if sign in ALPHABET)


def grouped(code: str) -> str:
    """A code as it is shown: in groups of four."""
    return "-".join(code[start : start + GROUP] for start in range(0, len(code), GROUP))


def _add(session: Session, way: WayIn) -> None:
    if session.get(Bench, way.bench_id) is None:
        raise NotFound
    session.execute(delete(WayIn).where(col(WayIn.expires_at) < way.made_at - KEPT_FOR))
    session.add(way)
    session.flush()


def _entry(session: Session, code: str) -> WayIn | None:
    hashed = _plain(code)
    way = session.exec(select(WayIn).where(WayIn.code_hash == hashed, WayIn.kind == ENTRY)).first()
    return way if way is not None and hmac.compare_digest(way.code_hash, hashed) else None


def _labelled(session: Session, label: str) -> list[WayIn]:
    return list(session.exec(select(WayIn).where(WayIn.label == label, WayIn.kind == PAIRING)))


def _is_open(way: WayIn, at: datetime) -> bool:
    return way.used_at is None and at < way.expires_at and way.wrong_tries < WRONG_TRIES


def _use(session: Session, way: WayIn, at: datetime) -> bool:
    """Whoever writes first has it: two at once cannot both."""
    if not _is_open(way, at):
        return False
    unused = col(WayIn.used_at).is_(None)
    done = session.execute(update(WayIn).where(col(WayIn.id) == way.id, unused).values(used_at=at))
    return bool(done.rowcount == 1)  # type: ignore[attr-defined]


def _pairing(way: WayIn, code: str) -> Pairing:
    return Pairing(grouped(code), way.expires_at, way.used_at is not None, way.wrong_tries >= WRONG_TRIES)


def _code(seed: bytes, way_id: str) -> str:
    number = int.from_bytes(hmac.digest(seed, f"pairing code {way_id}".encode(), "sha256"))
    signs = LABEL_SIGNS + SECRET_SIGNS
    return "".join(ALPHABET[(number >> 5 * place) & 31] for place in range(signs))


def _plain(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()


def _slow(code: str, salt: str) -> str:
    """A short code is hashed slowly: a copy of the database must not give it away while it is good."""
    return hashlib.scrypt(code.encode(), salt=salt.encode(), n=2**14, r=8, p=1, dklen=32).hex()
