"""This store's own name, and where it was last served."""

from __future__ import annotations

from sqlmodel import Session, select

from webapp.store.tables import Instance


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
