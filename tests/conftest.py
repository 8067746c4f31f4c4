"""Rules for the whole collection, and the fixtures that more than one folder needs."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from webapp.store.engine import open_store

TESTS = Path(__file__).parent
AGAINST = ("published", "library", "practice", "memory")
NEEDS_NAME = ("published", "library", "memory")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A test against the world says what it checks against; one that does not is refused."""
    faults = [fault for item in items for fault in faults_of(item)]
    if faults:
        raise pytest.UsageError("\n".join(faults))


def faults_of(item: pytest.Item) -> list[str]:
    if not item.path.is_relative_to(TESTS / "outside"):
        return []
    marks = [mark for mark in item.iter_markers() if mark.name in AGAINST]
    if len(marks) != 1:
        names = ", ".join(mark.name for mark in marks) or "none"
        return [f"{item.nodeid}: needs exactly one of the markers {', '.join(AGAINST)}; it has {names}"]
    mark = marks[0]
    named = len(mark.args) == 1 and isinstance(mark.args[0], str) and mark.args[0].strip()
    if mark.name in NEEDS_NAME and not named:
        return [f'{item.nodeid}: say which: {mark.name}("...")']
    return []


@pytest.fixture
def engine(tmp_path: Path) -> Iterator[Engine]:
    """A store of its own, new and empty."""
    opened = open_store(tmp_path / "bench.sqlite3")
    yield opened
    opened.dispose()
