from __future__ import annotations

import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Engine

from tests.conftest import on_sqlite
from webapp.store import backups, benches, instruments
from webapp.store.engine import connect, reading, writing
from webapp.store.errors import Unusable

pytestmark = on_sqlite
NOON = datetime(2026, 3, 10, 12, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def path(engine: Engine, tmp_path: Path) -> Path:
    """A database with something in it."""
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session).id
        instruments.add(session, bench, "f", "{}")
    return tmp_path / "bench.sqlite3"


def days_kept(path: Path) -> list[str]:
    return [f"{one.made_at:%Y-%m-%d}" for one in reversed(backups.listed(path))]


def test_a_copy_is_whole_private_and_made_while_others_write(path: Path, engine: Engine) -> None:
    with writing(engine) as session:
        benches.set_unit(session, benches.get_or_create_local_bench(session).id, "thou")
        copy = backups.make(path, NOON, "daily")
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    opened = connect(copy)
    with reading(opened) as session:
        bench = benches.local_bench(session)
        assert bench is not None and bench.unit == "mm"  # what was not kept yet is not in it
        assert len(instruments.list_all(session, bench.id)) == 1
    opened.dispose()


def test_one_copy_a_day(path: Path) -> None:
    made = [backups.daily(path, NOON + hours * timedelta(hours=1)) for hours in (0, 1, 23, 24, 25, 49)]
    assert [copy is not None for copy in made] == [True, False, False, True, False, True]


def test_an_empty_bench_is_not_worth_a_copy(engine: Engine, tmp_path: Path) -> None:
    assert backups.daily(tmp_path / "bench.sqlite3", NOON) is None
    assert not (tmp_path / "backups").exists()


def test_the_last_seven_are_kept_and_the_first_of_each_month_for_a_year(path: Path) -> None:
    start = datetime(2024, 12, 1, 12, tzinfo=UTC)
    for day in range(500):
        stamp = (start + day * DAY).strftime(backups.STAMP)
        (tmp := backups.folder_of(path)).mkdir(exist_ok=True)
        (tmp / f"bench-{stamp}-daily.sqlite3").write_bytes(path.read_bytes() if day == 499 else b"")
    last = backups.make(path, start + 500 * DAY, "daily")
    kept = days_kept(path)
    assert kept[-1] == f"{start + 500 * DAY:%Y-%m-%d}" and last.exists()
    assert kept[-7:] == [f"{start + day * DAY:%Y-%m-%d}" for day in range(494, 501)]
    assert kept[:-7] == [f"2025-{month:02}-01" for month in range(5, 13)] + [
        f"2026-{month:02}-01" for month in range(1, 5)
    ]


def test_a_clock_that_was_set_back_sweeps_nothing_away(path: Path) -> None:
    for day in range(9):
        backups.make(path, NOON + day * DAY, "daily")
    before = days_kept(path)
    long_ago = datetime(1970, 1, 1, tzinfo=UTC)
    assert backups.daily(path, long_ago) is not None
    assert set(before) <= set(days_kept(path)) and "1970-01-01" in days_kept(path)
    assert backups.daily(path, long_ago + timedelta(hours=1)) is None


def test_a_clock_that_was_ahead_does_not_stop_the_daily_copy(path: Path) -> None:
    backups.make(path, NOON + 1000 * DAY, "daily")
    assert backups.daily(path, NOON) is not None


def test_only_the_databases_own_copies_are_its_own(path: Path) -> None:
    copy = backups.make(path, NOON, "before-0001")
    for name in ("bench-mine.sqlite3", "bench-2-20260310T120000000000Z-daily.sqlite3", "notes.txt"):
        (copy.parent / name).write_text("mine")
    assert [one.path for one in backups.listed(path)] == [copy]
    for day in range(1, 20):
        backups.make(path, NOON + day * DAY, "daily")
    assert (copy.parent / "bench-mine.sqlite3").exists()


def test_the_newest_good_copy_is_not_a_damaged_one(path: Path) -> None:
    good, bad = (backups.make(path, NOON + day * DAY, "daily") for day in (0, 1))
    bad.write_bytes(bad.read_bytes()[:-5000])
    found = backups.newest_good(path)
    assert found is not None and found.path == good
    assert f"10 March 2026, {NOON.astimezone():%H:%M}" in backups.advice(path)
    assert backups.advice(path).endswith(f"benchside restore {good}")
    good.unlink()
    assert "no good copy" in backups.advice(path)


def test_a_copy_that_cannot_be_made_leaves_nothing_behind(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("webapp.store.sqlite.fault_of", lambda file: "a hole in it")
    with pytest.raises(Unusable, match="a hole in it"):
        backups.make(path, NOON, "daily")
    assert list((path.parent / "backups").iterdir()) == []


def test_seven_copies_from_the_future_leave_room_for_todays(path: Path) -> None:
    for day in range(10):
        backups.make(path, NOON + (400 + day) * DAY, "daily")
    for day in range(10):
        backups.make(path, NOON + day * DAY, "daily")
    kept = days_kept(path)
    assert {f"{NOON + day * DAY:%Y-%m-%d}" for day in range(3, 10)} <= set(kept)
    assert f"{NOON + 409 * DAY:%Y-%m-%d}" in kept, "and the others are not swept away"
