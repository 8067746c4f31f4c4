from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy import Engine, text
from sqlalchemy.exc import IntegrityError

from tests.store.kept_entries import kept_entries
from webapp.setups.journal import Entry, EntryKind
from webapp.store import benches, entries, instruments, setups
from webapp.store.engine import reading, writing
from webapp.store.errors import AlreadyRecorded, Finished, NotFound, Stale
from webapp.store.tables import Bench
from webapp.trade.words import Check

NOON = datetime(2024, 3, 1, 12, 0, tzinfo=UTC)
READING = Entry(
    EntryKind.READING, Check.RELIEF, "relief", 0.30, "mm", "0,30", "feeler", 0.02, {"hold": 1, "gap": 7}
)


class Place:
    """A bench with one instrument and one open setup."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        with writing(engine) as session:
            self.bench = benches.get_or_create_local_bench(session).id
            self.instrument = instruments.add(session, self.bench, "make", "{}")
            self.setup = setups.start(session, self.bench, self.instrument, "begin")
            other = Bench(created_at=NOON)
            session.add(other)
            session.flush()
            self.other_bench = other.id

    def append(
        self,
        form: str,
        *new: Entry,
        seen: dict[str, int] | None = None,
        at: datetime = NOON,
        bench: str | None = None,
        setup: str | None = None,
    ) -> list[int]:
        """The new entries' numbers."""
        where = bench or self.bench, setup or self.setup
        with writing(self.engine) as session:
            return [one.id for one in entries.append(session, *where, form, seen or {}, new, at)]

    def journal(self) -> Sequence[Entry]:
        with reading(self.engine) as session:
            return kept_entries(session, self.bench, self.setup)


@pytest.fixture
def place(engine: Engine) -> Place:
    return Place(engine)


def test_what_was_typed_comes_back_whole(place: Place) -> None:
    (kept,) = place.append("f1", READING)
    (row,) = place.journal()
    assert row == Entry(
        id=kept,
        at=NOON,
        kind=EntryKind.READING,
        check=Check.RELIEF,
        slot="relief",
        value=0.30,
        unit="mm",
        typed="0,30",
        tool="feeler",
        error=0.02,
        detail={"hold": 1, "gap": 7},
        voids=None,
    )


def test_times_come_back_in_utc_with_their_zone(place: Place) -> None:
    place.append("f1", READING, at=NOON.astimezone(timezone(timedelta(hours=5, minutes=30))))
    (row,) = place.journal()
    assert row.at == NOON and row.at.utcoffset() == timedelta(0)


def test_a_time_without_a_zone_is_refused(place: Place) -> None:
    with pytest.raises(Exception, match="without a zone"):
        place.append("f1", READING, at=datetime(2024, 3, 1, 12, 0))
    assert place.journal() == []


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_only_finite_numbers_are_entries(number: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        Entry(EntryKind.READING, Check.RELIEF, "relief", number)


def test_the_same_form_twice_is_recorded_once(place: Place) -> None:
    first, _ = place.append("f1", READING, READING)
    with pytest.raises(AlreadyRecorded) as refused:
        place.append("f1", READING)
    assert refused.value.recorded_id == first
    assert len(place.journal()) == 2


def test_the_same_form_from_two_tabs_at_once_is_recorded_once(place: Place) -> None:
    together = threading.Barrier(2)
    outcomes: list[object] = []

    def send() -> None:
        together.wait()
        try:
            outcomes.append(place.append("f1", READING, seen={"relief": 0}))
        except AlreadyRecorded as refused:
            outcomes.append(refused.recorded_id)

    tabs = [threading.Thread(target=send) for _ in range(2)]
    for tab in tabs:
        tab.start()
    for tab in tabs:
        tab.join()
    (row,) = place.journal()
    assert sorted(outcomes, key=str) == sorted([[row.id], row.id], key=str)


def test_many_writers_at_once_lose_nothing(place: Place) -> None:
    writers = [threading.Thread(target=place.append, args=(f"f{i}", READING)) for i in range(8)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert len(place.journal()) == 8


def test_a_stale_form_is_told_what_is_newer(place: Place) -> None:
    (first,) = place.append("f1", READING, seen={"relief": 0})
    (second,) = place.append("f2", READING, seen={"relief": first})
    with pytest.raises(Stale) as refused:
        place.append("f3", READING, seen={"relief": first})
    assert refused.value.newest is not None and refused.value.newest.id == second
    assert [row.id for row in place.journal()] == [first, second]


def test_a_form_is_not_stale_for_what_it_did_not_show(place: Place) -> None:
    place.append("f1", READING)
    place.append("f2", Entry(EntryKind.READING, Check.HEIGHT, "height.1", 2.0), seen={"height.1": 0})
    assert len(place.journal()) == 2


def test_a_form_is_kept_whole_or_not_at_all(place: Place) -> None:
    with pytest.raises(NotFound):
        place.append("f1", READING, Entry(EntryKind.VOID, Check.RELIEF, "relief", voids=999))
    assert place.journal() == []


def test_a_correction_leaves_the_old_entry_as_it_was(place: Place) -> None:
    (wrong,) = place.append("f1", READING)
    before = place.journal()[0]
    place.append("f2", Entry(EntryKind.VOID, Check.RELIEF, "relief", voids=wrong))
    assert place.journal()[0] == before
    assert place.journal()[1].voids == wrong


def test_an_entry_of_another_setup_cannot_be_voided(place: Place) -> None:
    (here,) = place.append("f1", READING)
    with writing(place.engine) as session:
        second = setups.start(session, place.bench, place.instrument, "again")
    with pytest.raises(NotFound):
        place.append("f2", Entry(EntryKind.VOID, Check.RELIEF, "relief", voids=here), setup=second)


def test_a_finished_setup_takes_no_more(place: Place) -> None:
    place.append("f1", READING)
    with writing(place.engine) as session:
        setups.finish(session, place.bench, place.setup, 1, NOON)
    with pytest.raises(Finished):
        place.append("f2", READING)
    with pytest.raises(AlreadyRecorded):
        place.append("f1", READING)
    assert len(place.journal()) == 1


def test_another_bench_finds_nothing(place: Place) -> None:
    place.append("f1", READING)
    with pytest.raises(NotFound):
        place.append("f2", READING, bench=place.other_bench)
    with reading(place.engine) as session:
        with pytest.raises(NotFound):
            kept_entries(session, place.other_bench, place.setup)
        assert entries.journals(session, place.other_bench, place.instrument) == {}
        assert len(entries.journals(session, place.bench, place.instrument)) == 1


def test_what_is_recorded_is_given_back_as_it_is_read_from_then_on(place: Place) -> None:
    told = replace(READING, detail={"words": ("ä", None, 0.25), "deep": {"part": "rod"}})
    later = NOON.astimezone(timezone(timedelta(hours=5, minutes=30)))
    with writing(place.engine) as session:
        given = entries.append(session, place.bench, place.setup, "f1", {}, [told, READING], later)
    assert given == place.journal() and given[0].detail["words"] == ["ä", None, 0.25]


def test_each_setup_of_an_instrument_has_its_journal_in_order(place: Place) -> None:
    with writing(place.engine) as session:
        second = setups.start(session, place.bench, place.instrument, "again")
    ids = [*place.append("f1", READING), *place.append("f1", READING, setup=second)]
    ids += place.append("f2", READING)
    with reading(place.engine) as session:
        found = entries.journals(session, place.bench, place.instrument)
        only = entries.journals(session, place.bench, place.instrument, {second})
    told = {setup: [entry.id for entry in journal.entries] for setup, journal in found.items()}
    assert told == {place.setup: [ids[0], ids[2]], second: [ids[1]]}
    assert only == {second: found[second]}


def test_the_database_itself_refuses_an_entry_without_a_setup(place: Place) -> None:
    place.append("f1", READING)
    with (
        pytest.raises(IntegrityError, match="(?i)foreign ?key"),
        place.engine.execution_options(bench_writes=True).begin() as connection,
    ):
        connection.execute(text("DELETE FROM setup"))
    assert len(place.journal()) == 1
