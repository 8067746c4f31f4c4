"""The air of a bench: what was read once counts once, and an import comes in whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import astuple, dataclass
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine, text

from webapp.setups.bench_file.schema import AirDay
from webapp.store import benches
from webapp.store.air_log import days as air
from webapp.store.air_log import imports
from webapp.store.air_log.imports import Busy, JobOver, JobState
from webapp.store.engine import Session, open_store, reading, writing
from webapp.store.errors import NotFound

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
ONE, TWO = date(2026, 5, 1), date(2026, 5, 2)
Reading = tuple[int, float, float]


@dataclass
class Readings:
    moment_ms: Sequence[int]
    temperature_c: Sequence[float]
    humidity_percent: Sequence[float]


def readings(*some: Reading) -> Readings:
    return Readings([one[0] for one in some], [one[1] for one in some], [one[2] for one in some])


class Room:
    """A bench whose air is measured."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        with writing(engine) as session:
            self.bench = benches.make(session, NOW)

    def upload(self, bench: str = "") -> str:
        with writing(self.engine) as session:
            return imports.create(session, bench or self.bench, "log.csv", "d" * 64, 100, NOW)

    def begin(self, job: str, at: datetime = NOW) -> None:
        with writing(self.engine) as session:
            imports.begin(session, self.bench, job, "{}", at)

    def finish(self, job: str, days: dict[date, Readings]) -> int:
        with writing(self.engine) as session:
            return imports.finish(session, self.bench, job, days, 9, 1, [(3, "no")], NOW).rows_new

    def bring(self, days: dict[date, Readings]) -> tuple[str, int]:
        """A whole import; returns its job and how many readings were new."""
        with writing(self.engine) as session:
            job = imports.create(session, self.bench, "log.csv", "d" * 64, 100, NOW)
            imports.begin(session, self.bench, job, "{}", NOW)
            return job, imports.finish(session, self.bench, job, days, 9, 1, [(3, "no")], NOW).rows_new

    def days(self, since: date | None = None) -> list[AirDay]:
        with reading(self.engine) as session:
            return air.days(session, self.bench, since)

    def state(self, job: str) -> JobState:
        with reading(self.engine) as session:
            return imports.get(session, self.bench, job).state

    def everything(self) -> list[tuple[object, ...]]:
        """All that an import could change on the bench, but for the job itself."""
        with self.engine.connect() as connection:
            days = connection.execute(text("SELECT * FROM air_day ORDER BY day, source"))
            logs = connection.execute(text("SELECT * FROM air_log_day ORDER BY job_id, day"))
            return [tuple(row) for row in [*days, *logs]]


@pytest.fixture
def room(engine: Engine) -> Room:
    return Room(engine)


def test_every_change_of_the_air_moves_its_mark_and_nothing_else_does(room: Room) -> None:
    def mark() -> int:
        with reading(room.engine) as session:
            return benches.air_mark_of(session, room.bench)

    def moved(change: Callable[[Session], object]) -> bool:
        before = mark()
        with writing(room.engine) as session:
            change(session)
        return mark() > before

    assert moved(lambda session: air.type_day(session, room.bench, ONE, 20.0, 50.0))
    assert moved(lambda session: air.type_day(session, room.bench, ONE, 21.0, 50.0))
    assert moved(lambda session: air.add_days(session, room.bench, [AirDay(TWO, 19.0, 45.0)]))
    assert not moved(lambda session: air.add_days(session, room.bench, [AirDay(TWO, 18.0, 44.0)]))
    before = mark()
    job, _ = room.bring({ONE: readings((0, 20.0, 40.0))})
    assert mark() > before
    assert moved(lambda session: air.drop_readings(session, room.bench, job))
    assert not moved(lambda session: benches.set_unit(session, room.bench, "in"))


def test_a_day_is_the_mean_of_its_readings(room: Room) -> None:
    assert (
        room.bring({ONE: readings((0, 20.0, 40.0), (600, 22.0, 50.0)), TWO: readings((0, -1.5, 60.0))})[1]
        == 3
    )
    assert list(map(astuple, room.days())) == [
        (ONE, pytest.approx(21.0), pytest.approx(45.0), 2, "logged"),
        (TWO, pytest.approx(-1.5), pytest.approx(60.0), 1, "logged"),
    ]
    assert [one.day for one in room.days(TWO)] == [TWO]


def test_the_same_readings_twice_add_nothing(room: Room) -> None:
    days = {ONE: readings((0, 20.0, 40.0), (600, 22.0, 50.0), (600, 22.0, 50.0))}
    assert room.bring(days)[1] == 2
    before = room.everything()
    assert room.bring(days)[1] == 0
    assert room.everything() == before


def test_files_that_overlap_come_together(room: Room) -> None:
    morning, noon, evening = (0, 20.0, 40.0), (600, 22.0, 50.0), (1200, 24.0, 63.0)
    room.bring({ONE: readings(morning, noon)})
    assert room.bring({ONE: readings(noon, evening), TWO: readings(morning)})[1] == 2
    assert astuple(room.days()[0]) == (ONE, pytest.approx(22.0), pytest.approx(51.0), 3, "logged")


def test_an_import_that_is_taken_out_leaves_what_others_brought(room: Room) -> None:
    first, _ = room.bring({ONE: readings((0, 20.0, 40.0), (600, 22.0, 50.0))})
    second, _ = room.bring(
        {ONE: readings((600, 22.0, 50.0), (900, 30.0, 60.0)), TWO: readings((0, 1.0, 2.0))}
    )
    with writing(room.engine) as session:
        imports.take_out(session, room.bench, second)
    assert list(map(astuple, room.days())) == [(ONE, pytest.approx(21.0), pytest.approx(45.0), 2, "logged")]
    with writing(room.engine) as session:
        imports.take_out(session, room.bench, first)
    assert room.days() == [] and room.everything() == []


def test_a_logged_day_counts_before_a_typed_one_and_both_are_kept(room: Room) -> None:
    with writing(room.engine) as session:
        air.type_day(session, room.bench, ONE, 25.0, 30.0)
        air.type_day(session, room.bench, TWO, 24.0, 31.0)
    room.bring({ONE: readings((0, 20.0, 40.0))})
    assert [(one.day, one.source) for one in room.days()] == [(ONE, "logged"), (TWO, "typed")]
    with reading(room.engine) as session:
        assert [one.source for one in air.kept_days(session, room.bench)] == ["logged", "typed", "typed"]


def test_typed_again_takes_the_place_of_what_was_typed(room: Room) -> None:
    with writing(room.engine) as session:
        air.type_day(session, room.bench, ONE, 52.0, 45.0)
        air.type_day(session, room.bench, ONE, 25.0, 45.0)
    assert room.days() == [AirDay(ONE, 25.0, 45.0, 1, "typed")]


def test_days_that_come_as_means_are_added_once_and_change_nothing(room: Room) -> None:
    room.bring({ONE: readings((0, 20.0, 40.0))})
    copy = [AirDay(ONE, 1.0, 2.0, 9, "logged"), AirDay(TWO, 3.0, 4.0, 9, "logged"), AirDay(TWO, 5.0, 6.0)]
    with writing(room.engine) as session:
        assert air.add_days(session, room.bench, copy) == 2
    with writing(room.engine) as session:
        assert air.add_days(session, room.bench, copy) == 0
        kept = air.kept_days(session, room.bench)
    assert astuple(kept[0]) == (ONE, pytest.approx(20.0), pytest.approx(40.0), 1, "logged")
    assert kept[1:] == copy[1:]


def test_readings_count_before_a_mean_that_came_as_a_mean(room: Room) -> None:
    with writing(room.engine) as session:
        air.add_days(session, room.bench, [AirDay(ONE, 1.0, 2.0, 9, "logged")])
    job, _ = room.bring({ONE: readings((0, 20.0, 40.0))})
    assert room.days()[0].temperature_c == pytest.approx(20.0)
    with writing(room.engine) as session:
        imports.take_out(session, room.bench, job)
    assert room.days() == [AirDay(ONE, 1.0, 2.0, 9, "logged")]


@pytest.mark.parametrize(
    "bad",
    [(float("nan"), 40), (20, float("inf")), (20, 101), (20, 40, 0), (20, 40, 1, "guess")],
)
def test_what_is_no_air_is_refused(bad: tuple[Any, ...]) -> None:
    with pytest.raises(ValueError):
        AirDay(ONE, *bad)


def test_no_impossible_air_can_be_typed(room: Room) -> None:
    with writing(room.engine) as session, pytest.raises(ValueError):
        air.type_day(session, room.bench, ONE, 20.0, 101.0)
    assert room.days() == []


def test_benches_share_no_air_and_no_imports(room: Room) -> None:
    theirs = Room(room.engine).bench
    job, _ = room.bring({ONE: readings((0, 20.0, 40.0))})
    with reading(room.engine) as session:
        assert air.days(session, theirs) == [] and imports.list_kept(session, theirs) == []
    for deed in (imports.get, imports.cancel, imports.again, imports.take_out):
        with writing(room.engine) as session, pytest.raises(NotFound):
            deed(session, theirs, job)
    with writing(room.engine) as session, pytest.raises(NotFound):
        air.type_day(session, "nobody", ONE, 20.0, 40.0)
    with writing(room.engine) as session:
        twin = imports.create(session, theirs, "log.csv", "d" * 64, 100, NOW)
        imports.begin(session, theirs, twin, "{}", NOW)
        assert (
            imports.finish(session, theirs, twin, {ONE: readings((0, 20.0, 40.0))}, 1, 0, [], NOW).rows_new
            == 1
        )


def test_a_cancelled_import_adds_nothing_even_at_the_last_moment(room: Room) -> None:
    before = room.everything()
    job = room.upload()
    room.begin(job)
    with writing(room.engine) as session:
        imports.cancel(session, room.bench, job)
    with writing(room.engine) as session, pytest.raises(JobOver):
        imports.beat(session, room.bench, job, 5, 50, 0, NOW)
    with pytest.raises(JobOver):
        room.finish(job, {ONE: readings((0, 20.0, 40.0))})
    assert room.everything() == before and room.state(job) is JobState.CANCELLED


def test_an_import_that_breaks_while_it_is_added_adds_nothing(room: Room) -> None:
    room.bring({ONE: readings((0, 20.0, 40.0))})
    before = room.everything()
    job = room.upload()
    room.begin(job)
    with pytest.raises(ValueError):
        room.finish(job, {ONE: readings((600, 22.0, 50.0)), TWO: readings((0, 20.0, float("nan")))})
    assert room.everything() == before and room.state(job) is JobState.RUNNING


def test_a_job_that_was_killed_is_found_silent_and_another_may_begin(room: Room) -> None:
    dead, next_one = room.upload(), room.upload()
    room.begin(dead)
    with pytest.raises(Busy):
        room.begin(next_one, NOW + timedelta(seconds=14))
    room.begin(next_one, NOW + timedelta(seconds=16))
    assert (room.state(dead), room.state(next_one)) == (JobState.CUT_OFF, JobState.RUNNING)
    with pytest.raises(JobOver):
        room.finish(dead, {ONE: readings((0, 20.0, 40.0))})


def test_a_heartbeat_keeps_a_job_alive(room: Room) -> None:
    job = room.upload()
    room.begin(job)
    later = NOW + timedelta(minutes=5)
    with writing(room.engine) as session:
        imports.beat(session, room.bench, job, 5, 50, 1, later)
        imports.bury_silent(session, room.bench, later + timedelta(seconds=5))
        row = imports.get(session, room.bench, job)
    assert (row.state, row.rows_done, row.bytes_done, row.bad) == (JobState.RUNNING, 5, 50, 1)
    assert not imports.is_silent(row, later + timedelta(seconds=5))
    assert imports.is_silent(row, later + timedelta(seconds=20))


def test_a_job_that_was_heard_of_in_the_future_is_dead_too(room: Room) -> None:
    dead, next_one = room.upload(), room.upload()
    room.begin(dead, NOW + timedelta(days=400))
    room.begin(next_one, NOW)
    assert (room.state(dead), room.state(next_one)) == (JobState.CUT_OFF, JobState.RUNNING)


def test_what_is_over_is_over(room: Room) -> None:
    job, _ = room.bring({ONE: readings((0, 20.0, 40.0))})
    for deed in (imports.cancel, imports.again):
        with writing(room.engine) as session, pytest.raises(JobOver):
            deed(session, room.bench, job)
    with pytest.raises(JobOver):
        room.begin(job)
    with reading(room.engine) as session:
        row = imports.get(session, room.bench, job)
    assert (row.rows_done, row.bad, row.bad_rows, row.first_day) == (9, 1, ((3, "no"),), ONE)


MOMENTS = st.tuples(st.integers(0, 5), st.sampled_from([20.0, 21.25]), st.sampled_from([40.0, 55.5]))
FILES = st.lists(
    st.dictionaries(st.sampled_from([ONE, TWO]), st.lists(MOMENTS, min_size=1, max_size=6), min_size=1),
    min_size=1,
    max_size=4,
)


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """One store for every example, each on a bench of its own."""
    engine = open_store(tmp_path_factory.mktemp("house") / "bench.sqlite3")
    yield engine
    engine.dispose()


@settings(max_examples=15, deadline=None)
@given(FILES, st.randoms(use_true_random=False))
def test_the_order_of_imports_and_what_they_have_in_common_make_no_difference(
    house: Engine, files: list[dict[date, list[Reading]]], shuffle: Random
) -> None:
    union: dict[date, set[Reading]] = {}
    for file in files:
        for day, some in file.items():
            union.setdefault(day, set()).update(some)
    order = [*files, *files]
    shuffle.shuffle(order)
    room = Room(house)
    new = sum(room.bring({day: readings(*some) for day, some in file.items()})[1] for file in order)
    assert new == sum(map(len, union.values()))
    assert list(map(astuple, room.days())) == [
        (
            day,
            pytest.approx(sum(one[1] for one in union[day]) / len(union[day])),
            pytest.approx(sum(one[2] for one in union[day]) / len(union[day])),
            len(union[day]),
            "logged",
        )
        for day in sorted(union)
    ]
