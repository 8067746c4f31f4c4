"""How often something may be tried, counted where every process sees it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv6Address, ip_address

from sqlalchemy import bindparam, text
from sqlmodel import Session, col, delete, select

from webapp.store.tables import Rate, UtcTime

LONGEST_WINDOW = timedelta(days=1)
# Two who count at once may do so in either order; a window that begins later than that was opened by a clock
# that was wrong, and would otherwise stay open until the clock is as wrong again.
SIDE_BY_SIDE = timedelta(minutes=1)


@dataclass(frozen=True)
class Limit:
    """So many from one address, and so many from all of them together, in one window."""

    name: str
    each: int
    together: int
    window: timedelta


# Only what goes wrong is counted for the first two.
ENTERING = Limit("enter", 10, 100, timedelta(minutes=10))
PAIRING = Limit("pair", 10, 60, timedelta(minutes=10))
# A class has one address.
CODES = Limit("codes", 60, 500, timedelta(minutes=10))
# A bench's takes; a whole setup has some twenty.
LISTENING = Limit("take", 120, 1200, timedelta(hours=1))


def is_spent(session: Session, limit: Limit, who: str, at: datetime) -> bool:
    """Whether the limit was reached, without counting."""
    return any(_count(session, name, limit, at) >= most for name, most in _names(limit, who))


def count(session: Session, limit: Limit, who: str, at: datetime) -> None:
    """Counts one."""
    _hold(session, limit, at)
    # What another writer holds is left for the next one to sweep.
    began = col(Rate.window_start)
    old = select(Rate.name).where((began < at - LONGEST_WINDOW) | (began > at + SIDE_BY_SIDE))
    swept = session.exec(old.with_for_update(skip_locked=True)).all()
    session.execute(delete(Rate).where(col(Rate.name).in_(swept)))
    for name, _ in _names(limit, who):
        rate = session.get(Rate, name, populate_existing=True)
        if rate is None:
            session.add(Rate(name=name, window_start=at, count=1))
        elif _is_over(rate, limit, at):
            rate.window_start, rate.count = at, 1
        else:
            rate.count += 1
    session.flush()


def take(session: Session, limit: Limit, who: str, at: datetime) -> bool:
    """Counts one and says whether it was still within the limit."""
    _hold(session, limit, at)
    if is_spent(session, limit, who, at):
        return False
    count(session, limit, who, at)
    return True


def _hold(session: Session, limit: Limit, at: datetime) -> None:
    """Whoever counts under a limit takes turns at its one row, which is made if it is not there."""
    held = text(
        "INSERT INTO rate (name, window_start, count) VALUES (:name, :at, 0) "
        "ON CONFLICT (name) DO UPDATE SET name = excluded.name"
    )
    session.execute(held.bindparams(bindparam("at", type_=UtcTime), name=limit.name), {"at": at})


def _count(session: Session, name: str, limit: Limit, at: datetime) -> int:
    rate = session.get(Rate, name)
    return 0 if rate is None or _is_over(rate, limit, at) else rate.count


def _is_over(rate: Rate, limit: Limit, at: datetime) -> bool:
    return not -SIDE_BY_SIDE <= at - rate.window_start < limit.window


def _names(limit: Limit, who: str) -> tuple[tuple[str, int], tuple[str, int]]:
    """One caller's own name and everybody's. Whoever calls is kept as a hash only, and for a day at most."""
    hashed = hashlib.sha256(f"{limit.name} {_network(who)}".encode()).hexdigest()[:32]
    return (f"{limit.name} {hashed}", limit.each), (limit.name, limit.together)


def _network(who: str) -> str:
    """A household has 2^64 addresses of the newer kind; they count as one."""
    try:
        address = ip_address(who)
    except ValueError:
        return who
    if isinstance(address, IPv6Address):
        return str(address.ipv4_mapped or int(address) >> 64)
    return who
