"""The command: `benchside`."""

from __future__ import annotations

import argparse
import errno
import os
import socket
import sys
import threading
import webbrowser
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import uvicorn

from webapp.app import create_app
from webapp.demo import fill
from webapp.settings import DEFAULT_HOST, DEFAULT_PORT, Settings, assets, default_data_dir
from webapp.store.engine import open_store
from webapp.store.errors import Unusable
from webapp.trade.load import ContentError, load_trade


class CannotStart(Exception):
    """The start is off; the message is one sentence for the player."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Starts the app and serves until it is told to stop. Returns the exit code."""
    settings = read_arguments(arguments)
    try:
        serve(settings)
    except CannotStart as reason:
        print(f"benchside: {reason}", file=sys.stderr)
        return 1
    return 0


def read_arguments(arguments: Sequence[str] | None) -> Settings:
    parser = argparse.ArgumentParser(
        prog="benchside", description="A full setup of your bass or guitar, step by step, at the workbench."
    )
    parser.add_argument("--demo", action="store_true", help="start on a filled demo bench of its own")
    parser.add_argument("--data", type=Path, metavar="FOLDER", help="where to keep the data")
    parser.add_argument("--port", type=_port, default=DEFAULT_PORT, help=f"default {DEFAULT_PORT}")
    parser.add_argument(
        "--host",
        default=DEFAULT_HOST,
        help=f"address to listen on; default {DEFAULT_HOST}, this computer only. "
        "On another address anyone who reaches it can read and change the bench",
    )
    parser.add_argument("--no-browser", action="store_true", help="do not open the browser")
    given = parser.parse_args(arguments)
    return Settings(
        data_dir=(given.data or default_data_dir()).expanduser().absolute(),
        host=given.host.strip("[]"),
        port=given.port,
        demo=given.demo,
        open_browser=not given.no_browser,
        extra_hosts=_own_names() if given.host in ("0.0.0.0", "::") else (),
    )


def serve(settings: Settings) -> None:
    """Opens everything that can fail first, so that what fails is one sentence."""
    try:
        trade = load_trade(assets().content)
    except ContentError as bad:
        raise CannotStart(str(bad)) from bad
    prepare_folder(settings.folder)
    listening = listen(settings.host, settings.port)
    with listening:
        try:
            engine = open_store(settings.database)
        except Unusable as unusable:
            raise CannotStart(unusable.sentence) from unusable
        if settings.demo:
            fill(engine, trade, datetime.now(UTC))
        app = create_app(settings, trade, engine)
        _announce(settings)
        _run(app, listening)
        engine.dispose()


def prepare_folder(folder: Path) -> None:
    """Makes the data folder, for its owner only, and makes sure that it can be written to."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        probe = folder / f".probe-{os.getpid()}"
        probe.touch()
        probe.unlink()
    except OSError as problem:
        raise CannotStart(
            f"the data folder {folder} cannot be written to ({_reason(problem)}); "
            "choose another with --data."
        ) from problem


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


def _announce(settings: Settings) -> None:
    print(f"Benchside{' (demo bench)' if settings.demo else ''}: {settings.address}", flush=True)
    print(f"Data: {settings.database}", flush=True)
    if not settings.is_loopback:
        print("Anyone who can reach this address can read and change this bench.", flush=True)
    print("Stop with Ctrl+C.", flush=True)
    if settings.open_browser and _has_browser():
        # The socket already listens: the browser's first request waits until the app answers.
        threading.Thread(target=webbrowser.open, args=(settings.address,), daemon=True).start()


def _run(app: object, listening: socket.socket) -> None:
    config = uvicorn.Config(
        app,  # type: ignore[arg-type]
        log_level="warning",
        access_log=False,
        server_header=False,
        lifespan="off",
        timeout_graceful_shutdown=3,
    )
    try:
        uvicorn.Server(config).run(sockets=[listening])
    except KeyboardInterrupt:
        print("Stopped.", flush=True)


def _has_browser() -> bool:
    """Without a screen, a browser would open in the terminal and take it over."""
    if sys.platform.startswith("linux"):
        return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    return True


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port: use a whole number from 1 to 65535")
    return int(text)


def _own_names() -> tuple[str, ...]:
    name = socket.gethostname().lower()
    return (name, f"{name}.local") if name else ()


def _reason(problem: OSError) -> str:
    return (problem.strerror or str(problem)).lower()
