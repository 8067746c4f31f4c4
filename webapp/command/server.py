"""The server that the app runs in. Apart from what else a start needs: most commands do without it."""

from __future__ import annotations

import gc
import socket

import uvicorn
from anyio.to_thread import current_default_thread_limiter
from fastapi import FastAPI
from uvicorn.config import LOGGING_CONFIG

from webapp.web.settings import Settings

# They take turns at the interpreter: with the forty that are usual, a class that comes all at once makes each
# one wait for all the others, and each keeps memory of its own.
THREADS = 8


def run(app: FastAPI, listening: socket.socket, settings: Settings) -> None:
    """Serves until it is told to stop."""
    try:
        Server(server_config(app, settings)).run(sockets=[listening])
    except KeyboardInterrupt:
        print("Stopped.", flush=True)


class Server(uvicorn.Server):
    """The server, with as many threads as help, and with what was loaded at the start left in peace."""

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        current_default_thread_limiter().total_tokens = THREADS
        # What is there by now stays: the collector need not look through it again and again.
        gc.freeze()
        await super().startup(sockets)


def server_config(app: FastAPI, settings: Settings) -> uvicorn.Config:
    """How the server is set, with one process or with several."""
    return uvicorn.Config(
        app,
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
        ssl_certfile=settings.tls_cert,
        ssl_keyfile=settings.tls_key,
    )
