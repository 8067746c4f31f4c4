"""Rules for the whole collection, and the fixtures that more than one folder needs."""

from __future__ import annotations

import fcntl
import gc
import os
import re
import shutil
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import Engine

from tests.postgres import Server, running, wheel
from webapp.command.demo import fill
from webapp.store.engine import connect, open_store
from webapp.trade.content import load_trade
from webapp.web.settings import assets

# Servers are started by the dozen, and every process of a run reads all tests: each would compile them anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
# Each process of a run has a core: a second thread for small sums would only take another's.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Thousands of small databases, each written a few times: memory will do for a disk.
MEMORY = Path("/dev/shm")
if os.access(MEMORY, os.W_OK):
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))

TESTS = Path(__file__).parent
AGAINST = ("published", "library", "practice", "memory")
NEEDS_NAME = ("published", "library", "memory")
# What a citation must hold so that a stranger can find it: a year (of an undated page, when it was read),
# or the number of a standard.
YEAR = re.compile(r"\b(1[5-9]|20)\d\d\b")
STANDARD = re.compile(r"\b(ISO|IEC|EN|ASTM|ASME)(/IEC)? [A-Z]?\d")
# The files and folders that take longest, the longest first: a process that began one of them last would keep
# the whole run waiting.
LONGEST = (
    "browser/test_every_page.py", "browser/", "trial/", "command/", "faults/", "test_routes_access.py",
    "setups/seasons/test_season_trial.py", "pages/lessons/", "pages/setup/", "setups/test_walk.py",
    "test_forms_fuzz.py", "pages/", "store/", "benchmarks/", "test_layers.py", "physics/", "setups/invented/",
)  # fmt: skip
NO_CHROMIUM = "no Chromium was found"
NO_POSTGRES = "no PostgreSQL for the tests"
# What the last lines say of the tests that were skipped for one of these reasons.
NOT_RUN = {
    NO_CHROMIUM: "Browser tests were not run: no Chromium was found. Install it to run them too.",
    NO_POSTGRES: "The tests on PostgreSQL were not run: the test extra has no server for this platform.",
}


def pytest_xdist_auto_num_workers() -> int:
    """One process more than there are cores: some tests only wait, for what is given up after a while."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A test against the world says what it checks against; one that does not is refused."""
    faults = [fault for item in items for fault in faults_of(item)]
    if faults:
        raise pytest.UsageError("\n".join(faults))
    items.sort(key=_place_in_line)


def pytest_collection_finish() -> None:
    """What is loaded by now stays: the collector need not look through it again and again."""
    gc.collect()
    gc.freeze()


def _place_in_line(item: pytest.Item) -> int:
    """Whole files go to one process each: the small ones come last, and fill up what is left."""
    path = item.path.relative_to(TESTS).as_posix()
    return next((n for n, start in enumerate(LONGEST) if path.startswith(start)), len(LONGEST))


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
    if mark.name == "published" and not is_findable(mark.args[0]):
        return [f"{item.nodeid}: the source needs a year or a standard's number: {mark.args[0]}"]
    return []


def is_findable(citation: str) -> bool:
    """Whether a citation names a year or a standard's number."""
    return bool(YEAR.search(citation) or STANDARD.search(citation))


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """A PostgreSQL server of the tests' own. Without one, the half of the tests that needs it is skipped."""
    if wheel() is None:
        if os.environ.get("BENCHSIDE_POSTGRES") in ("required", "all"):
            pytest.fail("no PostgreSQL for the tests, and BENCHSIDE_POSTGRES asks for one", pytrace=False)
        pytest.skip(NO_POSTGRES)
    with running() as server:
        yield server


@pytest.hookimpl(trylast=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Read off the reports, since the tests themselves may run in other processes."""
    reasons = {str(report.longrepr) for report in terminalreporter.stats.get("skipped", [])}
    for reason, words in NOT_RUN.items():
        if any(reason in told for told in reasons):
            terminalreporter.write_line(words, yellow=True)


@pytest.fixture(scope="session")
def migrated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new and empty database file with today's tables."""
    path = tmp_path_factory.mktemp("migrated") / "bench.sqlite3"
    open_store(path).dispose()
    return path


@pytest.fixture(scope="session")
def demo_database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of the demo, filled today; once for all the processes of a run."""
    own = tmp_path_factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    path = shared / "demo.sqlite3"
    with (shared / "demo.lock").open("w") as turn:
        fcntl.flock(turn, fcntl.LOCK_EX)
        if not path.exists():
            engine = open_store(own / "filling.sqlite3")
            fill(engine, load_trade(assets().content), datetime.now(UTC))
            engine.dispose()
            (own / "filling.sqlite3").rename(path)
    return path


@pytest.fixture(params=["sqlite", "postgres"])
def engine(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """A store of its own, new and empty; every test that takes it runs on both databases."""
    if request.param == "sqlite":
        # A copy of one that was migrated once: ten times quicker than to migrate each.
        shutil.copy(request.getfixturevalue("migrated"), tmp_path / "bench.sqlite3")
        opened = connect(tmp_path / "bench.sqlite3")
        yield opened
        opened.dispose()
        return
    opened = connect(request.getfixturevalue("postgres").swept_database())
    yield opened
    opened.dispose()


on_sqlite = pytest.mark.parametrize("engine", ["sqlite"], indirect=True)
"""For a test that is about the file itself."""
