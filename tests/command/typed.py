"""What is typed after `benchside`: done in this process where it ends by itself, else in one of its own."""

from __future__ import annotations

import io
import signal
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.forked import PATIENCE_S, started, stop
from webapp.command.cli import main


class Ended(NamedTuple):
    """How a command ended, and what it said."""

    code: int
    out: str
    err: str


def ended(*arguments: object) -> Ended:
    """Does what was typed; it must not be something that serves."""
    out, err = io.StringIO(), io.StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        patch.setattr("webapp.command.server.run", _served)
        code = main([str(one) for one in arguments])
    return Ended(code, out.getvalue(), err.getvalue())


def _served(*_: object) -> None:
    raise AssertionError("it was to be refused, and serves")


def said_by(*arguments: object) -> str:
    """What it says when all is well."""
    found = ended(*arguments)
    assert (found.code, found.err) == (0, "")
    return found.out.strip()


def refused(*arguments: object) -> str:
    """What it says on its way out: one sentence, and nothing else."""
    return one_sentence(ended(*arguments))


def one_sentence(found: Ended) -> str:
    assert (found.code, found.out) == (1, "")
    (line,) = found.err.strip().splitlines()
    assert line.startswith("benchside: ")
    return line


class Running(NamedTuple):
    """One that serves, and what it said before it began to."""

    process: BaseProcess
    said: list[str]
    errors: Path


@contextmanager
def running(*arguments: object) -> Iterator[Running]:
    """The app, from its last line before it serves until it is told to stop."""
    with tempfile.TemporaryDirectory() as folder:
        out, errors = Path(folder, "out"), Path(folder, "errors")
        process = started(*arguments, out=out, err=errors)
        try:
            yield Running(process, _lines(process, out, errors), errors)
        finally:
            stop(process, signal.SIGINT)


def _lines(process: BaseProcess, out: Path, errors: Path) -> list[str]:
    until = time.monotonic() + PATIENCE_S
    while not (out.exists() and "Stop with Ctrl+C.\n" in out.read_text()):
        assert process.is_alive() and time.monotonic() < until, errors.read_text()
        time.sleep(0.02)
    return out.read_text().splitlines()
