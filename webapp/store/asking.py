"""Putting a question that was made once: plain columns in, rows out, no objects in between.

All of them see what was flushed: whoever adds objects to the session flushes them, as all of the store does.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Insert, Select
from sqlmodel import Session

Line = tuple[Any, ...]


def ask(session: Session, question: Select[Any], **told: Any) -> Sequence[Line]:
    """All the lines that answer it, within the session's transaction."""
    return session.connection().execute(question, told).all()


def ask_one(session: Session, question: Select[Any], **told: Any) -> Line | None:
    """The first line that answers it, if any."""
    return session.connection().execute(question, told).first()


def put(session: Session, into: Insert, **told: Any) -> int:
    """Adds a line to a table that counts its lines itself; returns its number."""
    number = session.connection().execute(into, told).inserted_primary_key
    assert number is not None, "one line was added, and it has a number"
    return int(number[0])
