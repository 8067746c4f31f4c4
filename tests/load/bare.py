"""The bare route that a class is held against: one read for a page; one read and one kept write for a step.

It answers with what was recorded from Benchside and packs it as that does, and keeps what the form says; else
it does nothing.

    python -m tests.load.bare ANSWERS DATABASE WORKERS --port PORT
"""

from __future__ import annotations

import pickle
import signal
import socket
import sys
import threading
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any, NamedTuple

import psycopg
import uvicorn
from anyio.to_thread import current_default_thread_limiter
from sqlalchemy import URL
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from tests.load.house import House
from webapp.app import GZIP_LEVEL
from webapp.command.server import THREADS

ROWS = 1_000
# What holds for one answer alone; the server says it anew, and what packs says how it is packed.
OF_THE_WAY = frozenset(
    {"content-length", "content-encoding", "transfer-encoding", "connection", "date", "set-cookie", "vary"}
)


class Exchange(NamedTuple):
    """What was once asked and answered, unpacked; `form` is None for a page."""

    method: str
    path: str
    form: str | None
    status: int
    headers: Sequence[tuple[str, str]]
    body: bytes


@dataclass
class BareHouse(House):
    """The bare route's server, beside a Benchside's. `answers` are what it gives, by their number."""

    answers: Sequence[Exchange] = ()

    def start(self) -> None:
        lay_out(self._address)
        self._answers_file.write_bytes(pickle.dumps(list(self.answers)))
        super().start()

    @property
    def _address(self) -> str:
        assert self.database is not None
        return address_of(self.database)

    @property
    def _answers_file(self) -> Path:
        return self.folder / "answers"

    def _command(self) -> list[str]:
        return ["tests.load.bare", str(self._answers_file), self._address, str(self.workers)]


def address_of(database: URL) -> str:
    """The database's address as its driver takes it."""
    return database.set(drivername="postgresql").render_as_string(hide_password=False)


def lay_out(database: str) -> None:
    """The one table, with lines to read."""
    with psycopg.connect(database) as connection:
        connection.execute("CREATE TABLE bare (id serial PRIMARY KEY, words text NOT NULL)")
        connection.execute("INSERT INTO bare (words) SELECT 'a line' FROM generate_series(1, %s)", [ROWS])


class Bare:
    """One worker: a connection for each of its threads, of which there are as many as Benchside's."""

    def __init__(self, answers: Sequence[Exchange], database: str) -> None:
        self._answers, self._database, self._own = answers, database, threading.local()
        self.app = Starlette(
            routes=[
                Route("/{number:int}", self._page, methods=["GET"]),
                Route("/{number:int}", self._step, methods=["POST"]),
                Route("/{other:path}", lambda _: Response()),
            ],
            middleware=[Middleware(GZipMiddleware, minimum_size=1000, compresslevel=GZIP_LEVEL)],
            lifespan=self._with_threads,
        )

    @staticmethod
    @asynccontextmanager
    async def _with_threads(_app: Starlette) -> AsyncIterator[None]:
        current_default_thread_limiter().total_tokens = THREADS
        yield

    def _page(self, request: Request) -> Response:
        number = request.path_params["number"]
        self._read(number)
        return self._answer(number)

    async def _step(self, request: Request) -> Response:
        async with request.form() as form:
            words = str(form.get("form_id"))
        return await run_in_threadpool(self._kept, request.path_params["number"], words)

    def _kept(self, number: int, words: str) -> Response:
        with self._connection().transaction():
            self._read(number)
            self._connection().execute("INSERT INTO bare (words) VALUES (%s)", [words])
        return self._answer(number)

    def _read(self, number: int) -> None:
        asked = "SELECT id, words FROM bare WHERE id = %s", [number % ROWS + 1]
        assert self._connection().execute(*asked).fetchone() is not None

    def _answer(self, number: int) -> Response:
        told = self._answers[number]
        headers = {name: value for name, value in told.headers if name not in OF_THE_WAY}
        return Response(told.body, told.status, headers)

    def _connection(self) -> psycopg.Connection[Any]:
        if not hasattr(self._own, "connection"):
            self._own.connection = psycopg.connect(self._database, autocommit=True)
        found: psycopg.Connection[Any] = self._own.connection
        return found


def _work(listening: socket.socket, answers: Path, database: str) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    bare = Bare(pickle.loads(answers.read_bytes()), database)
    config = uvicorn.Config(bare.app, log_level="warning", access_log=False, timeout_keep_alive=75)
    uvicorn.Server(config).run(sockets=[listening])


def main(answers: str, database: str, workers: str, _: str, port: str) -> None:
    """Serves until it is told to stop."""
    listening = socket.create_server(("127.0.0.1", int(port)), backlog=512)
    spawn = get_context("spawn")
    processes = [
        spawn.Process(target=_work, args=(listening, Path(answers), database), daemon=True)
        for _ in range(int(workers))
    ]
    # Those who are left are ended with the one that started them.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit())
    for process in processes:
        process.start()
    for process in processes:
        process.join()


if __name__ == "__main__":
    main(*sys.argv[1:])
