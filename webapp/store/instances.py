"""This store's own name, and where it was last served."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session, select

from webapp.store.tables import Instance


@dataclass(frozen=True)
class InstanceRow:
    """`address` is empty until the store was served once."""

    id: str
    address: str
    hosted: bool


def get(session: Session) -> InstanceRow | None:
    found = session.exec(select(Instance)).first()
    return None if found is None else _row(found)


def get_or_make(session: Session) -> InstanceRow:
    """The store's name; given once."""
    return _row(_kept(session))


def served_at(session: Session, address: str, hosted: bool) -> None:
    """Remembers where the app is to be found, so that a later command can make a link to it."""
    instance = _kept(session)
    instance.address, instance.hosted = address, hosted
    session.flush()


def _kept(session: Session) -> Instance:
    found = session.exec(select(Instance)).first()
    if found is None:
        found = Instance()
        session.add(found)
        session.flush()
    return found


def _row(instance: Instance) -> InstanceRow:
    return InstanceRow(instance.id, instance.address, instance.hosted)
