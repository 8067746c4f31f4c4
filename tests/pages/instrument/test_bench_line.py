"""What the bench says of an instrument is kept, and is what would be said if it were judged anew."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine, text

from tests.pages.conftest import Player, plain
from tests.pages.driven import Clock, clocked
from tests.pages.shelf import shelve
from tests.setups.journals import BASS, Bench
from webapp.setups.journal import Part
from webapp.store.engine import writing
from webapp.trade.words import Check
from webapp.web.kept import KeptPasts

TURNED = datetime(2026, 3, 1, 12, tzinfo=UTC)


def forget(engine: Engine) -> None:
    with writing(engine) as session:
        session.connection().execute(text("DELETE FROM bench_line"))


def no_journals(monkeypatch: pytest.MonkeyPatch) -> None:
    def of(*_: Any) -> Any:
        raise AssertionError("a journal was asked for")

    monkeypatch.setattr(KeptPasts, "of", of)


@pytest.fixture
def clock(player: Player) -> Iterator[Clock]:
    app = player.client.app
    assert isinstance(app, FastAPI)
    clock = Clock(TURNED)
    with clocked(app, clock):
        yield clock


def read_and_turned(engine: Engine, finished: bool = True) -> None:
    bench = Bench(BASS)
    bench.now = TURNED - timedelta(hours=1)
    bench.start().reading("relief", 0.7)
    bench.now = TURNED
    bench.turn(Part.ROD, 1)
    shelve(engine, bench, finished=finished)


def test_a_bench_that_was_looked_at_is_shown_without_its_journals(
    player: Player, engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(3):
        bench = Bench(BASS)
        bench.now = datetime.now(UTC) - timedelta(days=100)
        shelve(engine, bench.start().read(Check.RELIEF, Check.HEIGHT))
    before = player.get("/").text
    no_journals(monkeypatch)
    assert player.get("/").text == before
    forget(engine)
    with pytest.raises(AssertionError, match="a journal was asked for"):
        player.get("/")


def test_what_falls_due_is_said_in_its_hour_though_nothing_was_written(
    player: Player, engine: Engine, clock: Clock
) -> None:
    read_and_turned(engine)
    hours = 0.0
    said = []
    while hours < 30:
        clock.now = TURNED + timedelta(hours=hours, minutes=1)
        page = plain(player.get("/").text)
        forget(engine)
        assert page == plain(player.get("/").text), hours
        said.append("The rod has settled: read relief again" in page)
        hours += 0.5
    assert said == sorted(said) and True in said and False in said


def test_what_time_does_is_said_soon_enough(player: Player, engine: Engine, clock: Clock) -> None:
    """Over a year of looks, the kept words and those that are judged anew."""
    read_and_turned(engine)
    differ, looks = 0, 0
    for days in (1, 2, 3, 5, 8, 13, 21, 30, 45, 60, 80, 100, 119, 121, 150, 179, 181, 200, 240, 300, 365):
        for hours in (0, 7):
            clock.now = TURNED + timedelta(days=days, hours=hours)
            page = plain(player.get("/").text)
            forget(engine)
            differ += page != plain(player.get("/").text)
            looks += 1
    assert (differ, looks) == (0, 42)


def test_a_line_that_was_judged_under_a_wrong_clock_is_not_believed(
    player: Player, engine: Engine, clock: Clock
) -> None:
    read_and_turned(engine)
    clock.now = TURNED + timedelta(days=200)
    assert "The rod has settled: read relief again" in plain(player.get("/").text)
    clock.now = TURNED + timedelta(minutes=5)
    assert "Read relief again on" in plain(player.get("/").text)


def test_where_nothing_can_be_kept_the_bench_is_shown_all_the_same(
    player: Player, engine: Engine, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    read_and_turned(engine)
    clock.now = TURNED + timedelta(minutes=5)

    def full(*_: Any) -> None:
        raise OSError("no space left on device")

    monkeypatch.setattr("webapp.store.bench_lines.keep", full)
    assert "Read relief again on" in plain(player.get("/").text)
