from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import Engine

from tests.store.kept_entries import kept_entries
from webapp.command.demo import fill
from webapp.setups.air_log.daily import DailyAir
from webapp.setups.assess import assess
from webapp.setups.invented.story import Story, demo_air, tell
from webapp.setups.journal import Entry, Journal
from webapp.setups.slots import parse_slot
from webapp.setups.states import Act, Assessment
from webapp.store import benches, instruments, setups
from webapp.store.air_log import days as air
from webapp.store.engine import connect, reading
from webapp.store.setups import SetupRow
from webapp.trade.content import Trade, load_trade
from webapp.trade.demo import DemoInstrument
from webapp.trade.spec import InstrumentSpec
from webapp.web.settings import assets

NOW = datetime(2024, 3, 1, 12, 0, tzinfo=UTC)

Told = list[tuple[InstrumentSpec, SetupRow, list[Entry]]]


@pytest.fixture(scope="module")
def trade() -> Trade:
    return load_trade(assets().content)


_STORIES: dict[str, Story] = {}


def told_once(trade: Trade, told: DemoInstrument, daily: DailyAir, now: datetime) -> Story:
    """A story takes a second to tell; that it always comes out the same, tests/setups/invented holds."""
    name = f"{told.model_dump_json()} {now}"
    if name not in _STORIES:
        _STORIES[name] = tell(trade, told, daily, now)
    return _STORIES[name]


@pytest.fixture(scope="module", autouse=True)
def each_told_once() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("webapp.command.demo.tell", told_once)
        yield


@pytest.fixture(scope="module")
def filled(migrated: Path, trade: Trade, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """The demo in a file, for all who only look."""
    path = tmp_path_factory.mktemp("demo") / "demo.sqlite3"
    shutil.copy(migrated, path)
    engine = connect(path)
    fill(engine, trade, NOW)
    yield engine
    engine.dispose()


def kept(engine: Engine) -> Told:
    found: Told = []
    with reading(engine) as session:
        bench = benches.get_or_create_local_bench(session)
        assert bench.is_demo
        for row in instruments.list_all(session, bench.id):
            spec = InstrumentSpec.model_validate_json(row.spec_json)
            for setup in setups.list_for(session, bench.id, row.id):
                found.append((spec, setup, kept_entries(session, bench.id, setup.id)))
    return found


def judged(told: Told, number: int, trade: Trade) -> Assessment:
    """A setup as it stood with its last entry, after all that came before on its instrument."""
    spec, setup, rows = told[number]
    before = [one for one in told if one[1].instrument_id == setup.instrument_id]
    past = [one for one in before if one[1].started_at < setup.started_at]
    journals = tuple(Journal.of(one[2]) for one in sorted(past, key=lambda one: one[1].started_at))
    return assess(spec, trade, rows, rows[-1].at, past=journals)


def test_the_story_is_told_once_and_whole(filled: Engine, trade: Trade) -> None:
    first, air_kept = kept(filled), days_of_air(filled)
    fill(filled, trade, NOW)
    assert kept(filled) == first and days_of_air(filled) == air_kept
    daily = demo_air(trade, NOW)
    stories = [told_once(trade, told, daily, NOW) for told in trade.demo.instrument]
    assert len(first) == sum(len(story.setups) for story in stories)
    entries_told = [entry for story in stories for one in story.setups for entry in one.entries]
    assert sum(len(rows) for _, _, rows in first) == len(entries_told)
    assert air_kept == daily


def told_of(kept_setup: tuple[InstrumentSpec, SetupRow, list[Entry]]) -> str:
    """A setup without the names and numbers that the store gave."""
    spec, _, rows = kept_setup
    return repr((spec, [(row.at, row.kind, row.slot, row.value, row.typed, row.detail) for row in rows]))


@pytest.mark.parametrize("engine", ["postgres"], indirect=True)
def test_a_server_is_told_the_same(engine: Engine, filled: Engine, trade: Trade) -> None:
    fill(engine, trade, NOW)
    assert sorted(map(told_of, kept(engine))) == sorted(map(told_of, kept(filled)))
    assert days_of_air(engine) == days_of_air(filled)


def days_of_air(engine: Engine) -> dict[date, tuple[float, float]]:
    with reading(engine) as session:
        bench = benches.get_or_create_local_bench(session)
        return {one.day: (one.temperature_c, one.humidity_percent) for one in air.days(session, bench.id)}


def test_every_reading_is_of_a_place_on_its_instrument_and_in_the_past(filled: Engine, trade: Trade) -> None:
    for spec, setup, rows in kept(filled):
        assert rows[-1].at < NOW
        assert setup.finished_at is None or rows[-1].at < setup.finished_at < NOW
        for row in rows:
            if row.kind == "reading":
                assert parse_slot(row.slot, spec).check.value == row.check
                assert row.typed and row.tool in trade.tools


def test_a_finished_setup_is_one_that_could_be_finished(filled: Engine, trade: Trade) -> None:
    told = kept(filled)
    for number, (spec, setup, rows) in enumerate(told):
        if not any(row.detail.get("quick") for row in rows):
            step = judged(told, number, trade).next
            finished = setup.finished_at is not None
            assert (step.act is Act.FINISH) == finished, (spec.name, setup.started_at, step)
    assert any(setup.finished_at is None for _, setup, _ in told)
