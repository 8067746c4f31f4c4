from __future__ import annotations

from datetime import UTC, datetime

import pytest
from sqlalchemy import Engine

from webapp.store import benches, instruments, setups
from webapp.store.engine import reading, writing
from webapp.store.errors import AlreadyRecorded, Finished, NotFound, Stale
from webapp.store.tables import Bench

NOON = datetime(2024, 3, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def bench(engine: Engine) -> str:
    with writing(engine) as session:
        return benches.get_or_create_local_bench(session).id


@pytest.fixture
def other(engine: Engine, bench: str) -> str:
    with writing(engine) as session:
        second = Bench(created_at=NOON)
        session.add(second)
        session.flush()
        return second.id


@pytest.fixture
def bass(engine: Engine, bench: str) -> str:
    with writing(engine) as session:
        return instruments.add(session, bench, "form", '{"name": "first"}')


def test_there_is_one_local_bench_and_it_remembers_its_unit(engine: Engine, bench: str) -> None:
    with writing(engine) as session:
        benches.set_unit(session, bench, "thou")
    with writing(engine) as session:
        again = benches.get_or_create_local_bench(session)
        assert (again.id, again.unit, again.is_demo) == (bench, "thou", False)


def test_a_unit_for_no_bench_is_refused(engine: Engine) -> None:
    with writing(engine) as session, pytest.raises(NotFound):
        benches.set_unit(session, "nowhere", "mm")


def test_ids_are_long_and_safe_in_an_address(bass: str) -> None:
    assert len(bass) == 12 and all(mark.isalnum() or mark in "-_" for mark in bass)


def test_the_same_form_makes_one_instrument(engine: Engine, bench: str, bass: str) -> None:
    with writing(engine) as session, pytest.raises(AlreadyRecorded) as refused:
        instruments.add(session, bench, "form", "{}")
    assert refused.value.recorded_id == bass


def test_a_form_id_of_another_bench_is_no_obstacle(engine: Engine, other: str, bass: str) -> None:
    with writing(engine) as session:
        assert instruments.add(session, other, "form", "{}") != bass


def test_a_change_makes_a_new_version_and_the_old_one_stays(engine: Engine, bench: str, bass: str) -> None:
    with writing(engine) as session:
        assert instruments.revise(session, bench, bass, '{"name": "second"}', 1) == 2
    with reading(engine) as session:
        assert instruments.get(session, bench, bass).spec_json == '{"name": "second"}'
        assert instruments.version(session, bench, bass, 1).spec_json == '{"name": "first"}'
        assert [row.version for row in instruments.list_all(session, bench)] == [2]
        with pytest.raises(NotFound):
            instruments.version(session, bench, bass, 3)


def test_a_change_of_nothing_makes_no_version(engine: Engine, bench: str, bass: str) -> None:
    with writing(engine) as session:
        assert instruments.revise(session, bench, bass, '{"name": "first"}', 1) == 1


def test_a_change_based_on_an_older_version_is_refused(engine: Engine, bench: str, bass: str) -> None:
    with writing(engine) as session:
        instruments.revise(session, bench, bass, '{"name": "second"}', 1)
    with writing(engine) as session, pytest.raises(Stale):
        instruments.revise(session, bench, bass, '{"name": "third"}', 1)
    with reading(engine) as session:
        assert instruments.get(session, bench, bass).version == 2


def test_an_archived_instrument_leaves_the_list_only(engine: Engine, bench: str, bass: str) -> None:
    with writing(engine) as session:
        instruments.archive(session, bench, bass)
    with reading(engine) as session:
        assert instruments.list_all(session, bench) == []
        assert [row.id for row in instruments.list_all(session, bench, archived=True)] == [bass]
        assert instruments.get(session, bench, bass).archived_at is not None


def test_another_bench_finds_nothing(engine: Engine, bench: str, other: str, bass: str) -> None:
    with writing(engine) as session:
        setup = setups.start(session, bench, bass, "begin")
    with writing(engine) as session:
        assert instruments.list_all(session, other) == []
        assert setups.list_for(session, other, bass) == []
        for attempt in (
            lambda: instruments.get(session, other, bass),
            lambda: instruments.version(session, other, bass, 1),
            lambda: instruments.revise(session, other, bass, "{}", 1),
            lambda: instruments.archive(session, other, bass),
            lambda: setups.start(session, other, bass, "mine"),
            lambda: setups.get(session, other, setup),
            lambda: setups.finish(session, other, setup, 1, NOON),
            lambda: instruments.add(session, "nowhere", "form", "{}"),
        ):
            with pytest.raises(NotFound):
                attempt()


def test_a_setup_starts_once_per_form_and_finishes_once(engine: Engine, bench: str, bass: str) -> None:
    with writing(engine) as session:
        first = setups.start(session, bench, bass, "begin", datetime(2024, 1, 1, tzinfo=UTC))
        second = setups.start(session, bench, bass, "begin again", NOON)
        with pytest.raises(AlreadyRecorded) as refused:
            setups.start(session, bench, bass, "begin")
        assert refused.value.recorded_id == first
        assert setups.get(session, bench, first).finished_at is None
        with pytest.raises(NotFound):
            setups.finish(session, bench, first, 2, NOON)
        setups.finish(session, bench, first, 1, NOON)
    with writing(engine) as session:
        with pytest.raises(Finished):
            setups.finish(session, bench, first, 1, NOON)
        assert [row.id for row in setups.list_for(session, bench, bass)] == [second, first]
        row = setups.get(session, bench, first)
        assert (row.finished_at, row.finished_version) == (NOON, 1)
