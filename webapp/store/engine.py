"""Opening the database, wherever it is kept, and the two ways to use it: reading and writing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, Insert, Select, make_url
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session

from webapp.store import backups, migrate, postgres, sqlite
from webapp.store.errors import InUse, Unusable

__all__ = [
    "Place", "Session", "address_of", "connect", "name_of", "open_beside", "open_store", "place_at",
    "reading", "writing",
]  # fmt: skip

Place = Path | URL
"""Where the data is kept: SQLite's file, or the address of a database on a PostgreSQL server."""


def name_of(place: Place) -> str:
    """The place in words, without a password."""
    return postgres.shown(place) if isinstance(place, URL) else str(place)


def connect(place: Place) -> Engine:
    """A bare engine: nothing is checked, made or upgraded."""
    return postgres.connect(place) if isinstance(place, URL) else sqlite.connect(place)


def address_of(engine: Engine) -> str:
    """Where an engine's data is kept, with its password: for a process of our own, and for no log."""
    return engine.url.render_as_string(hide_password=False)


def place_at(address: str) -> Place:
    """The place of such an address."""
    url = make_url(address)
    return Path(url.database or "") if url.get_backend_name() == "sqlite" else url


def open_store(place: Place) -> Engine:
    """The engine on the database: made if absent, checked, copied aside and upgraded if older.

    Raises Unusable (with one sentence for the player) when it is damaged, newer, locked or not ours. A file
    is opened like this by one process at a time (store/lock.py).
    """
    with _told(place):
        return _open_server(place) if isinstance(place, URL) else _open_file(place)
    raise AssertionError("what was caught was told")


def open_beside(place: Place) -> Engine:
    """The engine on a database that a running Benchside may be using: nothing of it is changed by opening."""
    with _told(place):
        engine = connect(place)
        with engine.connect() as connection:
            current = migrate.revision_of(connection, name_of(place))
        if current == migrate.head():
            return engine
        engine.dispose()
        raise InUse(f"The database {name_of(place)} is in use by an older Benchside; stop that one first.")
    raise AssertionError("what was caught was told")


def _open_server(url: URL) -> Engine:
    engine = postgres.connect(url)
    try:
        postgres.check_server(engine, url)
        migrate.upgrade(engine, postgres.shown(url))
    except BaseException:
        engine.dispose()
        raise
    return engine


def _open_file(path: Path) -> Engine:
    gone = backups.why_gone(path)
    if gone:
        raise Unusable(gone)
    sqlite.make_private(path)
    try:
        sqlite.check_file(path)
    except Unusable as damaged:
        raise Unusable(f"{damaged.sentence} {backups.advice(path)}") from damaged
    plain = sqlite.connect(path, foreign_keys=False)
    try:
        migrate.upgrade(
            plain, str(path), lambda revision: backups.make(path, datetime.now(UTC), f"before-{revision}")
        )
    finally:
        plain.dispose()
    sqlite.set_journal(path)
    engine = sqlite.connect(path)
    sqlite.verify(engine, path)
    try:
        with engine.connect() as connection:
            migrate.refuse_other_tables(connection, str(path))
    except Unusable as damaged:
        engine.dispose()
        raise Unusable(f"{damaged.sentence} {backups.advice(path)}") from damaged
    return engine


@contextmanager
def _told(place: Place) -> Iterator[None]:
    """What goes wrong on the way, as one sentence."""
    try:
        yield
    except (sqlite3.Error, DBAPIError, OSError, UnicodeError) as problem:
        reason = problem.orig if isinstance(problem, DBAPIError) else problem
        words = " ".join(str(reason).split())
        raise Unusable(f"The database {name_of(place)} cannot be opened: {words}.") from problem


@contextmanager
def reading(engine: Engine) -> Iterator[Session]:
    """A session that sees one unchanging state, and keeps nothing."""
    with _unchanging(engine).connect() as connection:
        with _session_on(connection) as session:
            yield session
        if engine.dialect.name == "postgresql":
            # Nothing could be written. With a rollback, the driver would have the server forget all questions
            # that it has prepared, and each would be planned anew: ten times the work of answering it.
            connection.commit()


@contextmanager
def writing(engine: Engine, turn: str = "") -> Iterator[Session]:
    """A session whose work is kept whole when the block ends, or not at all when it raises.

    Writers with the same `turn` (a bench's id, say) never work at once: what one reads before it writes
    stays true until it is done. On SQLite there is one writer at a time anyway, whose turn is taken here.
    What the session found can be read after it, too.
    """
    with _writer(engine).begin() as connection, _session_on(connection) as session:
        if turn and engine.dialect.name == "postgresql":
            postgres.take_turn(session, turn)
        yield session
        session.flush()


def _session_on(connection: Connection) -> Session:
    """A session on a connection that is there already. Most questions are put to that itself (`ask`): a
    session that finds its own takes as long as two of them."""
    session = Session(connection, expire_on_commit=False, join_transaction_mode="rollback_only")
    session.info[_ITS] = connection
    return session


_ITS = "connection"


def _of(session: Session) -> Connection:
    found = session.info[_ITS]
    assert isinstance(found, Connection)
    return found


# An engine with other settings shares the first one's connections; it is made once.
@lru_cache(maxsize=8)
def _writer(engine: Engine) -> Engine:
    return engine.execution_options(bench_writes=True)


@lru_cache(maxsize=8)
def _unchanging(engine: Engine) -> Engine:
    """PostgreSQL would otherwise show every statement what was kept a moment ago; SQLite never does."""
    if engine.dialect.name != "postgresql":
        return engine
    return engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)


Line = tuple[Any, ...]


def ask(session: Session, question: Select[Any], **told: Any) -> Sequence[Line]:
    """All the lines that answer it, within the session's transaction."""
    return _of(session).execute(question, told).all()


def ask_one(session: Session, question: Select[Any], **told: Any) -> Line | None:
    """The first line that answers it, if any."""
    return _of(session).execute(question, told).first()


def put(session: Session, into: Insert, **told: Any) -> int:
    """Adds a line to a table that counts its lines itself; returns its number."""
    number = _of(session).execute(into, told).inserted_primary_key
    assert number is not None, "one line was added, and it has a number"
    return int(number[0])


# With `key_share`, others may go on adding rows that belong to the one that is held.
HELD: dict[str, Any] = {"key_share": True}
