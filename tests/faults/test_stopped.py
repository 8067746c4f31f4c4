"""Ctrl+C in the first seconds: it ends soon, and the data is whole."""

from __future__ import annotations

import signal
from contextlib import suppress
from pathlib import Path

import pytest

from tests.command.typed import ended
from tests.faults.stops import WITHIN_S, many
from tests.forked import free_port
from webapp.command import server


def test_starts_that_are_stopped_at_any_moment_end_soon(tmp_path: Path) -> None:
    made = many(6, 3)
    assert all(not one.faults for one in made), made
    assert max(one.took_s for one in made) < WITHIN_S, made


def swallows(*_: object) -> None:
    """What the collector does with an exception, or a module that tries something as it is loaded."""
    with suppress(BaseException):
        signal.raise_signal(signal.SIGINT)


@pytest.mark.parametrize("where", ["webapp.command.cli.prepare_folder", "webapp.command.cli._announce"])
def test_one_that_was_swallowed_is_not_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    served: list[object] = []
    monkeypatch.setattr(where, swallows)
    monkeypatch.setattr("tests.command.typed._served", server.run)
    monkeypatch.setattr("webapp.command.server.Server", lambda *told: served.append(told))
    found = ended("--no-browser", "--data", tmp_path, "--port", free_port())
    assert (found.code, served) == (0, []) and found.out.endswith("Stopped.\n")
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
