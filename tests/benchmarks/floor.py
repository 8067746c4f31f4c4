"""The floor: a bare route on the same server that gives the same bytes after one read, or one kept write.

Run as a script it serves Benchside and the floor side by side on one socket, until it is killed:
``python -m tests.benchmarks.floor FOLDER PORT``.
"""

from __future__ import annotations

import sqlite3
import sys
import threading
from contextlib import suppress
from pathlib import Path

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from webapp.app import create_app
from webapp.command.server import run
from webapp.command.serving import listen
from webapp.store.engine import open_store
from webapp.trade.content import load_trade
from webapp.web.settings import Settings, assets

PREFIX = "/floor/"
KEPT = ("content-type", "content-encoding", "location", "vary", "cache-control", "content-security-policy")


class Floor:
    """Answers under /floor/ with what was put there by name; all else goes to the app."""

    def __init__(self, app: ASGIApp, database: Path) -> None:
        self._app, self._database, self._own = app, database, threading.local()
        with sqlite3.connect(database) as connection:
            connection.execute("CREATE TABLE IF NOT EXISTS floor (id INTEGER PRIMARY KEY, words TEXT)")
            connection.execute("INSERT INTO floor (words) VALUES ('a reading')")
        self._answers: dict[str, tuple[int, dict[str, str], bytes]] = {}
        self._bare = Starlette(
            routes=[
                Route(PREFIX + "{name}", self._page, methods=["GET"]),
                Route(PREFIX + "{name}", self._step, methods=["POST"]),
                Route(PREFIX + "{name}", self._put, methods=["PUT"]),
            ]
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        bare = scope["type"] == "http" and scope["path"].startswith(PREFIX)
        await (self._bare if bare else self._app)(scope, receive, send)

    def _page(self, request: Request) -> Response:
        self._connection().execute("SELECT words FROM floor WHERE id = 1").fetchone()
        return self._answer(request)

    def _step(self, request: Request) -> Response:
        connection = self._connection()
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO floor (words) VALUES ('a reading')")
        connection.execute("COMMIT")
        return self._answer(request)

    async def _put(self, request: Request) -> Response:
        """What the app answered: its bytes as they came, packed or not."""
        headers = {name: request.headers[f"x-{name}"] for name in KEPT if f"x-{name}" in request.headers}
        answer = int(request.headers["x-status"]), headers, await request.body()
        self._answers[request.path_params["name"]] = answer
        return Response(status_code=204)

    def _answer(self, request: Request) -> Response:
        status, headers, body = self._answers[request.path_params["name"]]
        return Response(body, status, headers)

    def _connection(self) -> sqlite3.Connection:
        """One for each thread of the server, set to keep what it says it kept, as the app's are."""
        with suppress(AttributeError):
            found: sqlite3.Connection = self._own.connection
            return found
        self._own.connection = sqlite3.connect(self._database, isolation_level=None)
        self._own.connection.execute("PRAGMA synchronous = FULL")
        return self._connection()


def main(folder: Path, port: int) -> None:
    """Serves until it is killed."""
    settings = Settings(folder, port=port, open_browser=False)
    app = create_app(settings, load_trade(assets().content), open_store(settings.database))
    with suppress(KeyboardInterrupt):
        run(Floor(app, folder / "floor.sqlite3"), listen(settings.host, port), settings)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
