"""What a start needs of the computer: a folder to write to, a place to listen, a certificate."""

from __future__ import annotations

import errno
import os
import socket
import ssl
import sys
from pathlib import Path
from typing import Any

from webapp.web.settings import Settings


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


def certificate(settings: Settings) -> ssl.SSLContext | None:
    """The certificate and its key, ready to serve with; None without. A fault in them is one sentence."""
    if settings.tls_cert is None or settings.tls_key is None:
        return None
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
    return context


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


def listen_for_each(listening: socket.socket, count: int) -> list[socket.socket]:
    """A socket for each of several processes, on the address of one that listens there alone, and is closed.

    Of one that they share, whoever is idle takes all that comes in a quiet moment, and browsers keep what
    they were given: of a class nearly all stayed with one process. Linux shares out by itself; elsewhere all
    have the one.
    """
    if sys.platform != "linux":
        return [listening] * count
    address = listening.getsockname()
    listening.close()
    try:
        return [_shared(listening.family, address) for _ in range(count)]
    except OSError as problem:
        raise CannotStart(_no_listening(str(address[0]), address[1], problem)) from problem


def _shared(family: int, address: tuple[Any, ...]) -> socket.socket:
    listening = socket.socket(family, socket.SOCK_STREAM)
    for option in (socket.SO_REUSEADDR, socket.SO_REUSEPORT):
        listening.setsockopt(socket.SOL_SOCKET, option, 1)
    listening.bind(address)
    listening.listen(128)
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


def _reason(problem: OSError) -> str:
    return (problem.strerror or str(problem)).lower()
