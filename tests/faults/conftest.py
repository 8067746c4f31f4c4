from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.support import House
from tests.pages.conftest import client, make_app, player, shelf, trade
from tests.postgres import Server

__all__ = ["client", "make_app", "player", "shelf", "trade"]


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Path]:
    """Where a killed process counts and not a dead disk, memory will do for a disk."""
    memory = Path("/dev/shm")
    if not os.access(memory, os.W_OK):
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(dir=memory, prefix="benchside-") as made:
        yield Path(made)


@pytest.fixture(params=["sqlite", "postgres"])
def house(request: pytest.FixtureRequest, folder: Path) -> Iterator[House]:
    """A Benchside that is not started yet, on each of the two databases."""
    folder = folder / "data"
    folder.mkdir(mode=0o700)
    if request.param == "sqlite":
        made = House(folder)
        yield made
        made.kill()
        return
    server: Server = request.getfixturevalue("postgres")
    url = server.new_database()
    made = House(folder, url)
    yield made
    made.kill()
    server.drop(url)
