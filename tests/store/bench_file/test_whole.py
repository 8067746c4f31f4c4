"""A bench out of the store and in again: the same, once, and nothing of what was there touched."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from sqlalchemy import Engine, text

from tests.pages.shelf import shelve
from tests.setups.bench_files import (
    T0,
    any_bench,
    bench,
    entry,
    instrument,
    moment,
    sent,
    setup,
    taken,
    version,
)  # fmt: skip
from tests.setups.journals import BASS
from tests.setups.journals import Bench as Writing
from tests.store.kept_entries import kept_entries
from webapp.setups.bench_file.schema import AirDay, BenchFile, FileEntry
from webapp.setups.journal import Entry, EntryKind, Part
from webapp.store import benches, entries, instruments, seals, setups
from webapp.store.air_log import days as air
from webapp.store.bench_file import merge as bench_merge
from webapp.store.bench_file import whole as bench_file
from webapp.store.bench_file.arrival import CLOSED, OTHER_WORDS, STAYS_OPEN, VOIDS_OTHER, Came, Count
from webapp.store.engine import open_store, reading, writing
from webapp.store.errors import AlreadyRecorded, NotFound
from webapp.trade.words import Check

TABLES = ("entry", "setup", "instrument_version", "instrument", "air_day", "bench")


class Home:
    """A bench in a store of its own, or on one that it shares."""

    def __init__(self, engine: Engine, bench_id: str = "") -> None:
        self.engine = engine
        if not bench_id:
            with writing(engine) as session:
                bench_id = benches.make(session, datetime.now(UTC))
        self.bench = bench_id

    def take(self, file: BenchFile | dict[str, Any]) -> Came:
        if isinstance(file, dict):
            file = taken(sent(file))
        return bench_merge.load(self.engine, self.bench, file)

    def file(self) -> BenchFile:
        with reading(self.engine) as session:
            return bench_file.dump(session, self.bench)

    def typed(self) -> list[str]:
        """What was typed, in the order of the journal of the first instrument."""
        return [one.typed for one in self.file().instruments[0].entries]

    def rows(self) -> list[tuple[Any, ...]]:
        with self.engine.connect() as connection:
            return [
                tuple(row)
                for table in TABLES
                for row in connection.execute(text(f"SELECT * FROM {table} ORDER BY 1, 2"))
            ]


@pytest.fixture
def home(engine: Engine) -> Home:
    return Home(engine)


@pytest.fixture(scope="module")
def two_houses(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Engine, Engine]]:
    """Two stores that are swept before every use."""
    engines = [open_store(tmp_path_factory.mktemp("house") / "bench.sqlite3") for _ in range(2)]
    yield engines[0], engines[1]
    for engine in engines:
        engine.dispose()


def swept(engine: Engine) -> Home:
    with engine.begin() as connection:
        for table in TABLES:
            connection.execute(text(f"DELETE FROM {table}"))
    return Home(engine)


@settings(max_examples=40, deadline=None)
@given(any_bench())
def test_a_bench_of_any_shape_moves_house_unchanged(
    two_houses: tuple[Engine, Engine], file: BenchFile
) -> None:
    first, second = (swept(engine) for engine in two_houses)
    first.take(file)
    told = first.file()
    assert sorted(told.instruments, key=lambda i: i.id) == [
        one.model_copy(update={"setups": tuple(sorted(one.setups, key=lambda s: (s.started_at, s.origin)))})
        for one in sorted(file.instruments, key=lambda i: i.id)
    ]
    assert sorted(told.air, key=lambda d: (d.day, d.source)) == sorted(
        file.air, key=lambda d: (d.day, d.source)
    )
    assert (told.unit, told.tools) == (file.unit, file.tools)
    second.take(told)
    assert second.file().as_text() == told.as_text()
    before = second.rows()
    came = second.take(told)
    assert second.rows() == before
    assert not any(c.added or c.refused for c in (came.instruments, came.setups, came.entries, came.air))


def test_a_bench_that_was_really_used_moves_house(engine: Engine, two_houses: tuple[Engine, Engine]) -> None:
    with writing(engine) as session:
        own = benches.get_or_create_local_bench(session).id
        benches.set_unit(session, own, "64ths")
        air.type_day(session, own, date(2025, 3, 1), 21.5, 38.0)
    one = Writing(BASS).start()
    one.reading("relief", 0.7)
    one.turn(Part.ROD, 2)
    one.correct(one.reading("relief", 3.0), 0.3)
    bass, _ = shelve(engine, one)
    two = Writing(BASS)
    two.wait(days=90)
    two.void(two.reading("relief", 0.4))
    shelve(engine, two, bass, finished=False)
    with writing(engine) as session:
        instruments.revise(session, own, bass, one.spec.model_copy(update={"name": "B"}).model_dump_json(), 1)
        instruments.archive(session, own, bass)
    old = Home(engine, own)
    new = swept(two_houses[0])
    came = new.take(old.file())
    assert new.file().as_text() == old.file().as_text()
    assert new.file().unit == "64ths"
    assert came.instruments == Count(added=1) and came.setups == Count(added=2)
    assert came.entries == Count(added=len(one.entries) + len(two.entries))
    with reading(new.engine) as session:
        assert instruments.get(session, new.bench, bass).archived_at is not None


def test_the_ids_on_a_shared_store_are_new_but_nothing_is_doubled(home: Home) -> None:
    neighbour = Home(home.engine)
    home.take(bench(instrument()))
    neighbour.take(bench(instrument()))
    ours, theirs = home.file().instruments[0], neighbour.file().instruments[0]
    assert ours.id == "id-i1" and theirs.id != ours.id
    assert ours.setups[0].id == "id-s1" != theirs.setups[0].id
    assert theirs.entries == ours.entries
    assert neighbour.take(bench(instrument())).entries == Count(there=2)
    assert len(neighbour.file().instruments) == 1


def test_another_benchs_things_are_out_of_reach(home: Home) -> None:
    neighbour = Home(home.engine)
    home.take(bench(instrument()))
    before = home.file()
    neighbour.take(bench(instrument(entries=[entry("e1", 1, typed="mine"), entry("e7", 9)])))
    assert home.file() == before
    with pytest.raises(NotFound), reading(home.engine) as session:
        bench_file.dump(session, "nobody")
    with pytest.raises(NotFound):
        bench_merge.load(home.engine, "nobody", before)


def test_a_filled_bench_keeps_its_unit_and_an_empty_one_takes_the_files(home: Home) -> None:
    home.take(bench(unit="thou"))
    assert home.file().unit == "thou"
    home.take(bench(instrument(), unit="in"))
    assert home.file().unit == "in"
    home.take(bench(unit="mm"))
    assert home.file().unit == "in"


def test_an_empty_bench_takes_the_files_tools_and_keeps_its_own_where_the_file_knows_none(home: Home) -> None:
    assert home.file().tools is None
    home.take(bench(tools=["ruler", "card"]))
    assert home.file().tools == ("ruler", "card")
    home.take(bench())
    assert home.file().tools == ("ruler", "card")
    home.take(bench(instrument(), tools=[]))
    assert home.file().tools == ()
    home.take(bench(tools=["tuner"]))
    assert home.file().tools == ()


# the same instrument, gone on with in two places


def test_new_entries_take_their_place_in_time(home: Home) -> None:
    home.take(bench(instrument(entries=[entry("a", 1, typed="1"), entry("d", 30, typed="30")])))
    middle = [entry("a", 1, typed="1"), entry("b", 10, typed="10"), entry("c", 20, typed="20")]
    came = home.take(bench(instrument(entries=middle)))
    assert home.typed() == ["1", "10", "20", "30"]
    assert came.entries == Count(added=2, there=1)
    assert home.take(home.file()).entries == Count(there=4)


def test_entries_that_are_set_down_anew_keep_their_words_and_their_corrections(home: Home) -> None:
    mine = [
        entry("a", 1, typed="1"),
        entry("b", 20, typed="20", voids={"origin": "a"}),
        entry("c", 30, typed="30", voids={"origin": "b"}),
    ]
    home.take(bench(instrument(entries=mine)))
    before = {e.origin: e for e in home.file().instruments[0].entries}
    home.take(bench(instrument(entries=[entry("x", 10, typed="10")])))
    after = {e.origin: e for e in home.file().instruments[0].entries}
    assert home.typed() == ["1", "10", "20", "30"]
    assert {name: after[name] for name in before} == before
    if home.engine.dialect.name == "sqlite":
        with home.engine.connect() as connection:
            assert list(connection.execute(text("PRAGMA foreign_key_check"))) == []


def test_a_number_that_was_given_is_not_given_again(home: Home) -> None:
    home.take(bench(instrument(entries=[entry("a", 1), entry("d", 30)])))
    with reading(home.engine) as session:
        newest = kept_entries(session, home.bench, "id-s1")[-1].id
    home.take(bench(instrument(entries=[entry("b", 10)])))
    with reading(home.engine) as session:
        numbers = [row.id for row in kept_entries(session, home.bench, "id-s1")]
    assert numbers == sorted(numbers) and min(numbers[1:]) > newest


def test_a_correction_comes_after_what_it_corrects_whatever_the_clocks_said(home: Home) -> None:
    home.take(bench(instrument(entries=[entry("a", 1, typed="1"), entry("b", 30, typed="30")])))
    early = entry("c", 5, typed="5", voids={"origin": "b"})
    home.take(bench(instrument(entries=[entry("b", 30, typed="30"), early])))
    assert home.typed() == ["1", "30", "5"]


def test_what_says_something_else_here_stays_and_is_told(home: Home) -> None:
    home.take(bench(instrument()))
    before = home.rows()
    other = [
        entry("e1", 1, typed="other"),
        entry("f", 5, voids={"origin": "e1"}),
        entry("g", 6, voids={"origin": "f"}),
    ]
    came = home.take(bench(instrument(entries=other)))
    assert home.rows() == before
    assert came.entries == Count(refused=3)
    assert [one.why for one in came.refusals] == [OTHER_WORDS, VOIDS_OTHER, VOIDS_OTHER]
    assert came.refusals[0].origin == "i1"


def test_the_journal_of_a_finished_setup_stays_closed(home: Home) -> None:
    done = setup(finished_at=moment(9), finished_version=1)
    home.take(bench(instrument(setups=[done])))
    came = home.take(bench(instrument(entries=[entry("e1", 1), entry("late", 20)])))
    assert came.entries == Count(there=1, refused=1) and came.refusals[0].why == CLOSED
    assert home.file().instruments[0].setups[0].finished_at is not None


def test_a_setup_finished_elsewhere_is_finished_here_too(home: Home) -> None:
    home.take(bench(instrument()))
    done = setup(finished_at=moment(9), finished_version=1)
    home.take(
        bench(
            instrument(
                setups=[done],
                entries=[entry("e1", 1), entry("e2", 2, value=0.25, typed="0.25"), entry("e3", 3)],
            )
        )
    )
    (kept,) = home.file().instruments[0].setups
    assert kept.finished_at is not None and len(home.typed()) == 3


def test_a_setup_that_was_gone_on_with_here_stays_open(home: Home) -> None:
    home.take(bench(instrument()))
    done = setup(finished_at=moment(9), finished_version=1)
    came = home.take(bench(instrument(setups=[done], entries=[entry("e1", 1)])))
    assert home.file().instruments[0].setups[0].finished_at is None
    assert came.setups == Count(refused=1) and came.refusals[0].why == STAYS_OPEN


def test_a_newer_description_comes_in_on_top(home: Home) -> None:
    home.take(bench(instrument()))
    came = home.take(bench(instrument(versions=[version(), version(2, -30, name="Renamed")])))
    one = home.file().instruments[0]
    assert (one.name, [v.number for v in one.versions]) == ("Renamed", [1, 2])
    assert came.descriptions == Count(added=1, there=1)


def test_where_both_went_on_describing_the_benchs_own_stays_on_top(home: Home) -> None:
    home.take(bench(instrument(versions=[version(), version(2, -20, name="Mine")])))
    theirs = [version(), version(2, -30, name="Theirs")]
    done = setup("s2", 5, finished_at=moment(9), finished_version=2)
    home.take(bench(instrument(versions=theirs, setups=[setup(), done], entries=[])))
    one = home.file().instruments[0]
    assert [v.spec.name for v in one.versions][1:] == ["Mine", "Theirs", "Mine"]
    assert next(s for s in one.setups if s.origin == "s2").finished_version == 3
    assert home.take(home.file()).descriptions == Count(there=4)
    assert home.take(bench(instrument(versions=theirs, setups=[], entries=[]))).descriptions == Count(there=2)


def test_new_setups_and_old_ones_come_together(home: Home) -> None:
    home.take(bench(instrument()))
    late = [setup(), setup("s2", 50)]
    came = home.take(bench(instrument(setups=late, entries=[entry("e1", 51, "s2", typed="51")])))
    assert came.setups == Count(added=1, there=1) and home.typed() == ["0.3", "0.25", "51"]


def test_days_of_air_are_added_once(home: Home) -> None:
    day = {"day": "2024-05-01", "source": "typed", "temperature_c": 20.0, "humidity_percent": 40.0}
    assert home.take(bench(air=[day])).air == Count(added=1)
    came = home.take(bench(air=[day | {"humidity_percent": 50.0}, day | {"day": "2024-05-02"}]))
    assert came.air == Count(added=1, there=1)
    with reading(home.engine) as session:
        assert air.days(session, home.bench)[0] == AirDay(date(2024, 5, 1), 20.0, 40.0)


def test_an_import_that_breaks_in_the_middle_adds_nothing(home: Home) -> None:
    home.take(bench(instrument("i0")))
    before = home.rows()
    file = taken(sent(bench(instrument("new"), instrument("i0", entries=[entry("x", 5)]))))
    bad = AirDay(date(2024, 5, 1), 20.0, 40.0)
    # As no file can say it: it breaks only when it is written, after the instruments.
    object.__setattr__(bad, "source", "guessed")
    with pytest.raises(KeyError):
        bench_merge.load(home.engine, home.bench, file.model_copy(update={"air": (bad,)}))
    assert home.rows() == before


def test_a_form_that_comes_twice_is_still_known_after_the_move(home: Home) -> None:
    home.take(bench(instrument()))
    at = datetime.now(UTC)
    with writing(home.engine) as session:
        note = Entry(EntryKind.NOTE, Check.START, "log")
        entries.append(session, home.bench, "id-s1", "form", {}, [note], at)
        with pytest.raises(AlreadyRecorded):
            setups.start(session, home.bench, "id-i1", "s1")


def test_a_large_bench_moves_quickly(two_houses: tuple[Engine, Engine]) -> None:
    many = [
        instrument(
            f"i{n}",
            setups=[{"id": f"s{n}-{s}", "origin": f"s{s}", "started_at": moment(s * 100)} for s in range(50)],
            entries=[entry(f"e{e}", e, f"s{e // 40}") for e in range(2000)],
        )
        for n in range(3)
    ]
    house = swept(two_houses[0])
    begun = datetime.now(UTC)
    house.take(bench(*many))
    assert house.take(house.file()).entries == Count(there=6000)
    assert datetime.now(UTC) - begun < timedelta(seconds=20)


# while others write


def meanwhile(monkeypatch: pytest.MonkeyPatch, deed: Callable[[], object]) -> list[object]:
    """Somebody does something once, when an import has looked at the bench and compares; what came of it."""
    real, deeds, done = bench_file.entries, [deed], list[object]()

    def compared(*told: Any) -> Mapping[int, FileEntry]:
        if deeds:
            done.append(deeds.pop()())
        return real(*told)

    monkeypatch.setattr(bench_file, "entries", compared)
    return done


def test_while_a_file_is_compared_others_can_write(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    done = meanwhile(monkeypatch, lambda: Home(home.engine).take(bench(instrument("theirs"))))
    assert home.take(bench(instrument())).entries == Count(added=2)
    assert done == [Came(*(Count(added=n) for n in (1, 1, 1, 2, 0)))]


def test_what_was_recorded_meanwhile_is_there_and_in_its_place(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    home.take(bench(instrument(entries=[entry("a", 1, typed="1")])))

    def record() -> None:
        with writing(home.engine, home.bench) as session:
            new = Entry(EntryKind.READING, Check.RELIEF, "relief", 0.4, typed="30")
            entries.append(session, home.bench, "id-s1", "meanwhile", {}, [new], T0 + timedelta(minutes=30))

    meanwhile(monkeypatch, record)
    came = home.take(bench(instrument(entries=[entry("a", 1, typed="1"), entry("b", 10, typed="10")])))
    assert came.entries == Count(added=1, there=1)
    assert home.typed() == ["1", "10", "30"]
    with home.engine.connect() as connection:
        assert list(seals.broken(seals.asked(connection))) == []


def test_an_id_that_another_bench_took_meanwhile_is_another_here(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    neighbour = Home(home.engine)
    meanwhile(monkeypatch, lambda: neighbour.take(bench(instrument())))
    assert home.take(bench(instrument())).entries == Count(added=2)
    assert neighbour.file().instruments[0].id == "id-i1" != home.file().instruments[0].id
    assert len(home.typed()) == 2


def test_a_setup_that_was_finished_meanwhile_is_closed(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    home.take(bench(instrument()))

    def finish() -> None:
        with writing(home.engine, home.bench) as session:
            setups.finish(session, home.bench, "id-s1", 1, datetime.now(UTC))

    meanwhile(monkeypatch, finish)
    assert home.take(bench(instrument(entries=[entry("late", 20)]))).refusals[0].why == CLOSED


def test_numbers_that_were_taken_are_never_given_again(home: Home) -> None:
    home.take(bench(instrument()))
    with writing(home.engine) as session:
        taken_numbers = list(entries.take_numbers(session, 5))
        assert taken_numbers == sorted(set(taken_numbers)) and len(taken_numbers) == 5
    note = Entry(EntryKind.NOTE, Check.START, "log")
    with writing(home.engine) as session:
        newest = max(row.id or 0 for row in kept_entries(session, home.bench, "id-s1"))
        (added,) = entries.append(session, home.bench, "id-s1", "form", {}, [note], datetime.now(UTC))
    assert newest < taken_numbers[0] and taken_numbers[-1] < added.id
