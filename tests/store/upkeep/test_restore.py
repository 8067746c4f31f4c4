from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

import webapp
from webapp.store import backups, benches, lock
from webapp.store.engine import open_store, reading, writing
from webapp.store.errors import InUse, Unusable
from webapp.store.upkeep.restore import restore

NOW = datetime(2026, 3, 10, 12, tzinfo=UTC)
TOP = Path(webapp.__file__).parent.parent


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "data" / "bench.sqlite3"


@pytest.fixture(autouse=True)
def two_states(path: Path, tmp_path: Path) -> None:
    """A copy that says thou, and after it data that says 64ths."""
    path.parent.mkdir()
    set_unit(path, "thou")
    backups.copy_to(path, tmp_path / "copy.sqlite3")
    set_unit(path, "64ths")


def set_unit(path: Path, unit: str) -> None:
    engine = open_store(path)
    with writing(engine) as session:
        benches.set_unit(session, benches.get_or_create_local_bench(session).id, unit)
    engine.dispose()


def unit_in(path: Path) -> str:
    engine = open_store(path)
    try:
        with reading(engine) as session:
            bench = benches.local_bench(session)
            assert bench is not None
            return bench.unit
    finally:
        engine.dispose()


def test_a_copy_takes_the_datas_place_and_what_was_there_is_kept(path: Path, tmp_path: Path) -> None:
    done = restore(path, tmp_path / "copy.sqlite3", NOW)
    assert unit_in(path) == "thou"
    assert done.aside is not None and unit_in(done.aside) == "64ths"
    assert (tmp_path / "copy.sqlite3").exists()
    assert sorted(file.name for file in path.parent.iterdir()) == ["bench.sqlite3", "set-aside"]


def test_onto_nothing(path: Path, tmp_path: Path) -> None:
    path.unlink()
    assert restore(path, tmp_path / "copy.sqlite3", NOW).aside is None
    assert unit_in(path) == "thou"


def test_onto_a_damaged_file_that_is_kept_as_it_is(path: Path, tmp_path: Path) -> None:
    damaged = path.read_bytes()[:-4096]
    path.write_bytes(damaged)
    done = restore(path, tmp_path / "copy.sqlite3", NOW)
    assert unit_in(path) == "thou"
    assert done.aside is not None and done.aside.read_bytes() == damaged


def test_what_a_killed_process_left_half_done_does_not_meet_the_copy(path: Path, tmp_path: Path) -> None:
    """A journal beside the old database would be played back into the new one."""
    half = (
        "import sqlite3, sys, os, signal\n"
        "c = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "c.execute('PRAGMA cache_size = 1'); c.execute('BEGIN IMMEDIATE')\n"
        "c.execute(\"UPDATE bench SET unit = 'in'\")\n"
        "for n in range(3000): c.execute(\"INSERT INTO rate VALUES (?, '2026', 1)\", (f'{n:080}',))\n"
        "os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    ended = subprocess.run([sys.executable, "-c", half, str(path)], cwd=TOP)
    assert ended.returncode == -signal.SIGKILL
    assert path.with_name("bench.sqlite3-journal").exists()
    done = restore(path, tmp_path / "copy.sqlite3", NOW)
    assert unit_in(path) == "thou"
    assert done.aside is not None and unit_in(done.aside) == "64ths"
    assert not path.with_name("bench.sqlite3-journal").exists()


@pytest.mark.parametrize(
    "content, why",
    [(None, "no file"), (b"", "empty"), (b"a letter", "damaged"), (b"SQLite format 3\x00" * 9, "damaged")],
)
def test_a_file_that_is_none_changes_nothing(
    path: Path, tmp_path: Path, content: bytes | None, why: str
) -> None:
    if content is not None:
        (tmp_path / "other").write_bytes(content)
    with pytest.raises(Unusable, match=why):
        restore(path, tmp_path / "other", NOW)
    assert unit_in(path) == "64ths"
    assert [file.name for file in path.parent.iterdir()] == ["bench.sqlite3"]


@pytest.mark.parametrize(
    "statement, why",
    [
        ("UPDATE alembic_version SET version_num = '9999'", "newer Benchside"),
        ("DROP TABLE alembic_version", "not one of"),
    ],
)
def test_a_newer_database_or_anothers_changes_nothing(
    path: Path, tmp_path: Path, statement: str, why: str
) -> None:
    copy = tmp_path / "copy.sqlite3"
    with sqlite3.connect(copy) as connection:
        connection.execute(statement)
    connection.close()
    with pytest.raises(Unusable, match=why):
        restore(path, copy, NOW)
    assert unit_in(path) == "64ths"


def test_a_lock_keeps_others_off_and_goes_with_its_process(path: Path) -> None:
    holder = subprocess.Popen(
        [sys.executable, "-c",
         "import sys, time; from pathlib import Path; from webapp.store import lock\n"
         "with lock.hold(Path(sys.argv[1]), 'http://127.0.0.1:1/'):\n"
            "    print('held', flush=True); time.sleep(60)",
         str(path)],
        stdout=subprocess.PIPE, text=True, cwd=TOP,
    )  # fmt: skip
    assert holder.stdout is not None and holder.stdout.readline() == "held\n"
    assert lock.is_held(path)
    with (
        pytest.raises(InUse, match=rf"runs at http://127.0.0.1:1/ \(process {holder.pid}\)"),
        lock.hold(path),
    ):
        pass
    os.kill(holder.pid, signal.SIGKILL)
    holder.communicate()
    with lock.hold(path):
        assert lock.is_held(path)
    assert not lock.is_held(path)
