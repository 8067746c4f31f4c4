"""The server that the app runs in. Apart from what else a start needs: most commands do without it."""

from __future__ import annotations

import gc
import socket
import time
from functools import partial
from threading import Thread
from typing import Any, cast

import uvicorn
from anyio.to_thread import current_default_thread_limiter
from fastapi import FastAPI
from uvicorn.config import LOGGING_CONFIG

from webapp.command import memory
from webapp.command.connections import AT_ONCE, QUEUED, Caller, Room, most_of, raise_descriptors
from webapp.command.later import WAIT_S, do_later
from webapp.command.serving import certificate
from webapp.command.stopping import was_asked
from webapp.web.log import limit_lines
from webapp.web.settings import Settings
from webapp.web.stopping import STOPPING

# Every half minute: ten ticks are a second.
TIDY_TICKS = 300
# They take turns at the interpreter: with the forty that are usual, a class that comes all at once makes each
# one wait for all the others, and each keeps memory of its own.
THREADS = 8


def run(app: FastAPI, listening: socket.socket, settings: Settings) -> None:
    """Serves until it is told to stop; raises KeyboardInterrupt where that was by Ctrl+C."""
    if was_asked():
        raise KeyboardInterrupt
    Server(app, settings).run(sockets=[listening])


class Server(uvicorn.Server):
    """The server, with as many threads as help, room for so many connections, and with what was loaded at the
    start left in peace."""

    def __init__(self, app: FastAPI, settings: Settings) -> None:
        self._room = Room(most_of(raise_descriptors()), certificate(settings))
        self._later: Thread | None = None
        self._settings = settings
        super().__init__(_config(app, settings, self._room))

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        limit_lines()
        current_default_thread_limiter().total_tokens = THREADS
        # What is there by now stays: the collector need not look through it again and again.
        gc.freeze()
        await super().startup(sockets)
        self.should_exit = self.should_exit or was_asked()
        for listening in sockets or []:
            # The number that was given to the server is how many it takes in at once.
            listening.listen(QUEUED)

    async def on_tick(self, counter: int) -> bool:
        if counter % 10 == 0:
            self._room.sweep(time.monotonic())
        if counter % TIDY_TICKS == 0:
            memory.give_back()
        if self._later is None and (self.server_state.total_requests or counter > WAIT_S * 10):
            self._later = Thread(target=do_later, args=(self._settings,), name="later")
            self._later.start()
        return await super().on_tick(counter)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._room.close()
        STOPPING.set()
        await super().shutdown(sockets)


def _config(app: FastAPI, settings: Settings, room: Room) -> uvicorn.Config:
    """How the server is set, with one process or with several."""
    return uvicorn.Config(
        app,
        http=cast(Any, partial(Caller, room=room)),
        ws="none",
        backlog=AT_ONCE,
        # The hosted form has set its own log up; left alone, the server would put its own in its place.
        log_config=None if settings.hosted else LOGGING_CONFIG,
        log_level="warning",
        access_log=False,
        server_header=False,
        lifespan="off",
        timeout_graceful_shutdown=3,
        # At the bench a minute goes by between two readings; a new connection would cost the phone two waits.
        timeout_keep_alive=75,
        # The server would believe what this computer itself says it forwards; only named proxies may.
        proxy_headers=False,
    )
