"""What a start needs of the computer: a folder to write to, a place to listen, a certificate, a server."""

from __future__ import annotations

import errno
import gc
import os
import socket
import ssl
from pathlib import Path

import uvicorn
from anyio.to_thread import current_default_thread_limiter
from fastapi import FastAPI
from uvicorn.config import LOGGING_CONFIG

from webapp.settings import Settings

# They take turns at the interpreter: with the forty that are usual, a class that comes all at once makes each
# one wait for all the others, and each keeps memory of its own.
THREADS = 8


class CannotStart(Exception):
    """The start is off; the message is one sentence for the player."""


def prepare_folder(folder: Path) -> None:
    """Makes the data folder, for its owner only, and makes sure that it can be written to."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        probe = folder / f".probe-{os.getpid()}"
        probe.touch()
        probe.unlink()
    except OSError as problem:
        raise CannotStart(
            f"the data folder {folder} cannot be written to ({_reason(problem)}); choose another with --data."
        ) from problem


def check_certificate(settings: Settings) -> None:
    """Reads the certificate and its key once, so that a fault in them is one sentence."""
    if settings.tls_cert is None or settings.tls_key is None:
        return
    try:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        # A locked key would make the server ask for its password where nobody answers.
        context.load_cert_chain(settings.tls_cert, settings.tls_key, _no_password)
    except (OSError, ValueError) as problem:
        reason = _reason(problem) if isinstance(problem, OSError) else problem
        raise CannotStart(
            f"the certificate {settings.tls_cert} cannot be used with the key {settings.tls_key} ({reason}); "
            "check --tls-cert and --tls-key."
        ) from problem


def _no_password() -> str:
    raise ValueError("the key is locked with a password")


def listen(host: str, port: int) -> socket.socket:
    """A socket that listens; taken before the data is touched, so that two starts never share it."""
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        listening = socket.socket(family, kind, protocol)
        if os.name == "posix":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
        listening.listen(128)
    except OSError as problem:
        raise CannotStart(_no_listening(host, port, problem)) from problem
    return listening


def _no_listening(host: str, port: int, problem: OSError) -> str:
    if problem.errno == errno.EADDRINUSE:
        return (
            f"port {port} on {host} is taken, perhaps by a Benchside that is already running; "
            "choose another with --port."
        )
    if problem.errno in (errno.EACCES, errno.EPERM):
        return f"port {port} may not be used by you; choose one above 1023 with --port."
    return f"cannot listen on {host}, port {port} ({_reason(problem)}); check --host and --port."


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


def _reason(problem: OSError) -> str:
    return (problem.strerror or str(problem)).lower()
