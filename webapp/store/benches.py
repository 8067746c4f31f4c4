"""A bench, one person's space; and the store's own name, and where it was last served."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

from sqlmodel import Session, select

from webapp.store.errors import NotFound
from webapp.store.tables import Bench, Instance


def local_bench(session: Session) -> Bench | None:
    """The one bench of a player's own computer, once there is one."""
    return session.exec(select(Bench).order_by(Bench.created_at, Bench.id)).first()  # type: ignore[arg-type]


def get_or_create_local_bench(session: Session, *, is_demo: bool = False) -> Bench:
    """The one bench of a player's own computer; made at the first start."""
    bench = local_bench(session)
    if bench is None:
        bench = Bench(created_at=datetime.now(UTC), is_demo=is_demo)
        session.add(bench)
        session.flush()
    return bench


def make(session: Session, at: datetime, unit: str = "mm") -> str:
    """Makes one more bench and returns its id."""
    bench = Bench(created_at=at, unit=unit)
    session.add(bench)
    session.flush()
    return bench.id


def unit_of(session: Session, bench_id: str) -> str:
    """The unit in which the player likes to type lengths; raises NotFound."""
    bench = session.get(Bench, bench_id)
    if bench is None:
        raise NotFound
    return bench.unit


def air_mark_of(session: Session, bench_id: str) -> int:
    """The number that grows with every change of the bench's air; raises NotFound."""
    bench = session.get(Bench, bench_id)
    if bench is None:
        raise NotFound
    return bench.air_mark


def set_unit(session: Session, bench_id: str, unit: str) -> None:
    """Remembers the unit in which the player likes to type lengths."""
    bench = session.get(Bench, bench_id)
    if bench is None:
        raise NotFound
    bench.unit = unit
    session.flush()


def set_tools(session: Session, bench_id: str, tools: Iterable[str]) -> None:
    """Remembers which measuring tools the player has at hand, by their keys; raises NotFound."""
    bench = session.get(Bench, bench_id)
    if bench is None:
        raise NotFound
    bench.tools = " ".join(tools)
    session.flush()


def get(session: Session) -> Instance | None:
    """The store's name, once it was given one."""
    return session.exec(select(Instance)).first()


def get_or_make(session: Session) -> Instance:
    """The store's name; given once."""
    found = get(session)
    if found is None:
        found = Instance()
        session.add(found)
        session.flush()
    return found


def served_at(session: Session, address: str, hosted: bool) -> None:
    """Remembers where the app is to be found, so that a later command can make a link to it."""
    instance = get_or_make(session)
    instance.address, instance.hosted = address, hosted
    session.flush()
