from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from sqlalchemy import Engine

from webapp.command.demo import fill
from webapp.setups.assess import assess
from webapp.setups.invented.story import demo_air, tell
from webapp.setups.journal import Entry, EntryKind, Journal
from webapp.setups.slots import parse_slot
from webapp.setups.states import Act, Assessment
from webapp.store import benches, entries, instruments, setups
from webapp.store.air_log import days as air
from webapp.store.engine import reading
from webapp.store.rows import EntryRow
from webapp.store.setups import SetupRow
from webapp.trade.content import Trade, load_trade
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check
from webapp.web.settings import assets

NOW = datetime(2024, 3, 1, 12, 0, tzinfo=UTC)

Told = list[tuple[InstrumentSpec, SetupRow, list[EntryRow]]]


@pytest.fixture
def trade() -> Trade:
    return load_trade(assets().content)


def kept(engine: Engine) -> Told:
    found: Told = []
    with reading(engine) as session:
        bench = benches.get_or_create_local_bench(session)
        assert bench.is_demo
        for row in instruments.list_all(session, bench.id):
            spec = InstrumentSpec.model_validate_json(row.spec_json)
            for setup in setups.list_for(session, bench.id, row.id):
                found.append((spec, setup, entries.for_setup(session, bench.id, setup.id)))
    return found


def journal_of(rows: list[EntryRow]) -> Journal:
    return Journal.of(
        Entry(
            id=row.id, at=row.at, kind=EntryKind(row.kind), check=Check(row.check), slot=row.slot,
            value=row.value, unit=row.unit, typed=row.typed, tool=row.tool, error=row.error,
            detail=row.detail,
        )
        for row in rows
    )  # fmt: skip


def judged(told: Told, number: int, trade: Trade) -> Assessment:
    """A setup as it stood with its last entry, after all that came before on its instrument."""
    spec, setup, rows = told[number]
    before = [one for one in told if one[1].instrument_id == setup.instrument_id]
    past = [one for one in before if one[1].started_at < setup.started_at]
    journals = tuple(journal_of(one[2]) for one in sorted(past, key=lambda one: one[1].started_at))
    return assess(spec, trade, journal_of(rows).entries, rows[-1].at, past=journals)


def test_the_story_is_told_once_and_whole(engine: Engine, trade: Trade) -> None:
    fill(engine, trade, NOW)
    first, air_kept = kept(engine), days_of_air(engine)
    fill(engine, trade, NOW)
    assert kept(engine) == first and days_of_air(engine) == air_kept
    daily = demo_air(trade, NOW)
    stories = [tell(trade, told, daily, NOW) for told in trade.demo.instrument]
    assert len(first) == sum(len(story.setups) for story in stories)
    entries_told = [entry for story in stories for one in story.setups for entry in one.entries]
    assert sum(len(rows) for _, _, rows in first) == len(entries_told)
    assert air_kept == daily


def days_of_air(engine: Engine) -> dict[date, tuple[float, float]]:
    with reading(engine) as session:
        bench = benches.get_or_create_local_bench(session)
        return {one.day: (one.temperature_c, one.humidity_percent) for one in air.days(session, bench.id)}


def test_every_reading_is_of_a_place_on_its_instrument_and_in_the_past(engine: Engine, trade: Trade) -> None:
    fill(engine, trade, NOW)
    for spec, setup, rows in kept(engine):
        assert rows[-1].at < NOW
        assert setup.finished_at is None or rows[-1].at < setup.finished_at < NOW
        for row in rows:
            if row.kind == "reading":
                assert parse_slot(row.slot, spec).check.value == row.check
                assert row.typed and row.tool in trade.tools


def test_a_finished_setup_is_one_that_could_be_finished(engine: Engine, trade: Trade) -> None:
    fill(engine, trade, NOW)
    told = kept(engine)
    for number, (spec, setup, rows) in enumerate(told):
        if not any(row.detail.get("quick") for row in rows):
            step = judged(told, number, trade).next
            finished = setup.finished_at is not None
            assert (step.act is Act.FINISH) == finished, (spec.name, setup.started_at, step)
    assert any(setup.finished_at is None for _, setup, _ in told)
