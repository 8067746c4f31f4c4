"""`benchside` in processes that begin with everything loaded: a start costs a fifth of a second, and not two.

Each is forked off one that did nothing else, so it shares with the others what is read and nothing that is
written. tests/command also starts it as a player does, from nothing.
"""

from __future__ import annotations

import http.client
import os
import signal
import socket
import sys
import time
from multiprocessing import get_context
from multiprocessing.process import BaseProcess
from pathlib import Path

from webapp.command.cli import main

# A computer that is busy with something else is no failure: so long a person would wait.
PATIENCE_S = 120
_FORKS = get_context("forkserver")
_FORKS.set_forkserver_preload(["tests.loaded"])


def started(*arguments: object, out: Path, err: Path | None = None) -> BaseProcess:
    """The command in a process of its own; what it says goes to the end of `out`, and of `err`."""
    words = [str(one) for one in arguments]
    # What has processes of its own may not be one that ends with the tests by itself.
    alone = "--workers" not in words
    process = _FORKS.Process(target=_run, args=(words, out, err or out), daemon=alone)
    process.start()
    return process


def _run(words: list[str], out: Path, err: Path) -> None:
    for number, path in ((1, out), (2, err)):
        os.dup2(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600), number)
    sys.exit(main(words))


def wait_until_it_answers(process: BaseProcess, port: int, log: Path) -> None:
    """Raises RuntimeError, with its log, where it ends instead."""
    until = time.monotonic() + PATIENCE_S
    while not answers(port):
        if not process.is_alive() or time.monotonic() > until:
            stop(process)
            raise RuntimeError(f"it did not start:\n{log.read_text()}")
        time.sleep(0.02)


def answers(port: int) -> bool:
    """Whether something is served there. Where something listens that does not answer yet, this waits."""
    wire = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    try:
        wire.request("GET", "/static/icon.svg")
        return wire.getresponse().status == 200
    except (OSError, http.client.HTTPException):
        return False
    finally:
        wire.close()


def stop(process: BaseProcess, sign: signal.Signals = signal.SIGTERM) -> int | None:
    """Tells it to stop, waits until it did, and returns how it ended."""
    if process.is_alive() and process.pid is not None:
        os.kill(process.pid, sign)
    process.join(PATIENCE_S)
    if process.is_alive():
        process.kill()
        process.join()
    return process.exitcode


def free_port() -> int:
    """A port that nothing listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    assert isinstance(port, int)
    return port
