"""Shares: links by which anyone may look at one report or one history, for a time, until taken back."""

from __future__ import annotations

import hmac
from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlmodel import Session, col, delete, func, select

from webapp.store import instruments, setups
from webapp.store.errors import NotFound
from webapp.store.keys import hashed, token
from webapp.store.rates import Limit
from webapp.store.tables import Share

LASTS = timedelta(days=30)
# The link itself is shown for as long after it was made, by the device that made it.
SHOWN_FOR = timedelta(minutes=10)
TOUCH_EVERY = timedelta(minutes=1)
# A share that is over stays in the list for a while, to be recognised.
KEPT_FOR = timedelta(days=90)
AT_MOST = 100
MAKING = Limit("share", 30, 1000, timedelta(hours=1))
MISSING = Limit("shared", 60, 2000, timedelta(minutes=10))


class TooMany(Exception):
    """The bench has as many good links as one may have."""


def make_for_setup(
    session: Session, bench_id: str, setup_id: str, with_notes: bool, lasts: timedelta, at: datetime,
    seed: bytes,
) -> Share:  # fmt: skip
    """Shares a setup's report; raises NotFound, TooMany."""
    setup = setups.get(session, bench_id, setup_id)
    return _make(session, bench_id, setup.instrument_id, setup_id, with_notes, lasts, at, seed)


def make_for_instrument(
    session: Session, bench_id: str, instrument_id: str, lasts: timedelta, at: datetime, seed: bytes
) -> Share:
    """Shares an instrument's history; raises NotFound, TooMany."""
    instruments.get(session, bench_id, instrument_id)
    return _make(session, bench_id, instrument_id, None, False, lasts, at, seed)


def _make(
    session: Session, bench_id: str, instrument_id: str, setup_id: str | None, with_notes: bool,
    lasts: timedelta, at: datetime, seed: bytes,
) -> Share:  # fmt: skip
    over = col(Share.expires_at) < at - KEPT_FOR
    session.execute(delete(Share).where(col(Share.bench_id) == bench_id, over))
    good = select(func.count()).where(
        Share.bench_id == bench_id, col(Share.revoked_at).is_(None), col(Share.expires_at) > at
    )
    if session.exec(good).one() >= AT_MOST:
        raise TooMany
    share = Share(
        bench_id=bench_id, instrument_id=instrument_id, setup_id=setup_id, token_hash="",
        with_notes=with_notes, made_at=at, expires_at=at + lasts,
    )  # fmt: skip
    share.token_hash = hashed(_token(seed, share.id))
    session.add(share)
    session.flush()
    return share


def shown(session: Session, bench_id: str, share_id: str, at: datetime, seed: bytes) -> str:
    """The share's token, for the device that made it and only just; else empty. Raises NotFound."""
    share = _find(session, bench_id, share_id)
    made = _token(seed, share.id)
    fresh = -SHOWN_FOR < at - share.made_at < SHOWN_FOR and share.is_good(at)
    return made if fresh and hmac.compare_digest(share.token_hash, hashed(made)) else ""


def get(session: Session, bench_id: str, share_id: str) -> Share:
    """One share of the bench; raises NotFound."""
    return _find(session, bench_id, share_id)


def list_for(session: Session, bench_id: str) -> Sequence[Share]:
    """The bench's shares, the newest first."""
    found = session.exec(
        select(Share).where(Share.bench_id == bench_id).order_by(col(Share.made_at).desc(), col(Share.id))
    )
    return found.all()


def revoke(session: Session, bench_id: str, share_id: str, at: datetime) -> None:
    """Takes the link back: from now on it opens nothing. Raises NotFound."""
    share = _find(session, bench_id, share_id)
    if share.revoked_at is None:
        share.revoked_at = at
        session.flush()


def open_by(session: Session, token: str, at: datetime) -> Share | None:
    """What a token opens; None for one that is unknown, too old or taken back."""
    wanted = hashed(token)
    share = session.exec(select(Share).where(Share.token_hash == wanted)).first()
    if share is None or not hmac.compare_digest(share.token_hash, wanted) or not share.is_good(at):
        return None
    return share


def is_due(share: Share, at: datetime) -> bool:
    """Whether `touch` has something to write."""
    return share.opened_at is None or not -TOUCH_EVERY < at - share.opened_at < TOUCH_EVERY


def touch(session: Session, share_id: str, at: datetime) -> None:
    """Remembers that the link was opened."""
    share = session.get(Share, share_id)
    if share is not None and (share.opened_at is None or share.opened_at < at):
        share.opened_at = at
        session.flush()


def _find(session: Session, bench_id: str, share_id: str) -> Share:
    share = session.get(Share, share_id)
    if share is None or share.bench_id != bench_id:
        raise NotFound
    return share


def _token(seed: bytes, share_id: str) -> str:
    return token(seed, f"share {share_id}")
