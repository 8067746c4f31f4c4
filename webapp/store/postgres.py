"""PostgreSQL: the hosted form's database, for several processes and several computers at once."""

from __future__ import annotations

import time
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DisconnectionError, OperationalError
from sqlalchemy.orm import Session as AnySession
from sqlalchemy.pool import ConnectionPoolEntry

from webapp.store.errors import Unusable

DRIVER = "postgresql+psycopg"
# As many as a process has threads (command/server.py), and a few: one that is closed again after each use
# would cost more than all the questions.
POOL_SIZE = 10
MOST_CONNECTIONS = 20
WAIT_FOR_ONE_S = 10
CONNECT_WITHIN_S = 5
# A server that is being restarted is back after a moment: long enough for that, short for one who waits.
RETRY_FOR_S = 4.0
RETRY_EVERY_S = 0.2
TRUSTED_FOR_S = 0.5


def read_url(address: str) -> URL:
    """The address of a database as typed; raises Unusable where it is none of PostgreSQL's."""
    try:
        url = make_url(address)
    except ArgumentError:
        url = URL.create("")
    if url.drivername in ("postgresql", "postgres"):
        url = url.set(drivername=DRIVER)
    if url.drivername != DRIVER or not url.database:
        raise Unusable(
            f"That is not the address of a database: use one such as {DRIVER}://name@host/benchside."
        )
    return url


def shown(url: URL) -> str:
    """The address without its password."""
    return url.render_as_string(hide_password=True)


def connect(url: URL) -> Engine:
    """A pooled engine. A connection that died in the pool is found before it is used, and replaced."""
    try:
        engine = create_engine(
            url,
            hide_parameters=True,
            pool_size=POOL_SIZE,
            max_overflow=MOST_CONNECTIONS - POOL_SIZE,
            pool_timeout=WAIT_FOR_ONE_S,
            connect_args={"connect_timeout": CONNECT_WITHIN_S, "application_name": "benchside"},
        )
    except ModuleNotFoundError as missing:
        raise Unusable(
            "PostgreSQL needs its driver, which is not installed: pip install 'benchside[postgres]'."
        ) from missing

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: object) -> None:
        # The questions are few and each names its rows by a key: planning them anew each time takes longer
        # than to answer them.
        with connection.cursor() as cursor:
            cursor.execute("SET plan_cache_mode = force_generic_plan")
        connection.commit()

    @event.listens_for(engine, "checkin")
    def put_back(_connection: object, record: ConnectionPoolEntry) -> None:
        record.info["used_at"] = time.monotonic()

    @event.listens_for(engine, "checkout")
    def taken_out(connection: Any, record: ConnectionPoolEntry, _proxy: object) -> None:
        # Asked only where it lay for a moment: for a class that is at work, each question counts.
        if time.monotonic() - record.info.get("used_at", time.monotonic()) > TRUSTED_FOR_S:
            try:
                engine.dialect.do_ping(connection)
            except connection.OperationalError as dead:
                raise DisconnectionError from dead

    @event.listens_for(engine, "do_connect")
    def patiently(dialect: Any, _record: object, arguments: Any, options: Any) -> Any:
        until = time.monotonic() + RETRY_FOR_S
        while True:
            try:
                return dialect.connect(*arguments, **options)
            except dialect.loaded_dbapi.OperationalError:
                if time.monotonic() >= until:
                    raise
                time.sleep(RETRY_EVERY_S)

    return engine


def take_turn(session: AnySession | Connection, turn: str) -> None:
    """Waits until whoever has this turn is done; the turn ends with the transaction."""
    session.execute(text("SELECT pg_advisory_xact_lock(hashtextextended(:turn, 0))"), {"turn": turn})


def check_server(engine: Engine, url: URL) -> None:
    """Raises Unusable where the server does not answer, or would not keep text as it is."""
    try:
        with engine.connect() as connection:
            encoding = connection.execute(text("SHOW server_encoding")).scalar()
    except OperationalError as problem:
        reason = " ".join(str(problem.orig).split())
        raise Unusable(f"The database {shown(url)} cannot be reached: {reason}") from problem
    if encoding != "UTF8":
        raise Unusable(f"The database {shown(url)} keeps text as {encoding}; make it with ENCODING 'UTF8'.")
