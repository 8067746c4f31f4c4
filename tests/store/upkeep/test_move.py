"""From a file to a server and back: every row arrives as it was, or nothing does."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import Engine, text

from tests.postgres import Server
from webapp.setups.journal import Entry, EntryKind
from webapp.store import benches, entries, instruments, rates, setups
from webapp.store.engine import connect, open_store, reading, writing
from webapp.store.errors import Unusable
from webapp.store.tables import Base
from webapp.store.upkeep.move import digests, move
from webapp.trade.words import Check

NOW = datetime(2026, 3, 10, 12, 0, 0, 123456, tzinfo=UTC)


@pytest.fixture
def file(demo_database: Path, tmp_path: Path) -> Iterator[Engine]:
    """A file with the demo's instruments and their past, and words from everywhere."""
    engine = connect(Path(shutil.copy(demo_database, tmp_path / "from.sqlite3")))
    with writing(engine) as session:
        bench = benches.make(session, NOW, "64ths")
        setup = setups.start(
            session, bench, instruments.add(session, bench, "f", '{"name": "Blåbär 🎸"}'), "s", NOW
        )
        new = [
            Entry(
                EntryKind.READING,
                Check.RELIEF,
                "relief",
                value,
                typed="0,3 mm\n\x1f\u202e",
                detail={"é": [1.5]},
            )  # fmt: skip
            for value in (0.1 + 0.2, -0.0, 1e-300, None)
        ]
        first = entries.append(session, bench, setup, "a", {}, new, NOW)[0].id
        entries.append(
            session, bench, setup, "b", {}, [Entry(EntryKind.VOID, Check.RELIEF, "relief", voids=first)], NOW
        )
        rates.count(session, rates.ENTERING, "127.0.0.1", NOW)
    yield engine
    engine.dispose()


@pytest.fixture
def server(postgres: Server) -> Iterator[Engine]:
    url = postgres.new_database()
    engine = connect(url)
    yield engine
    engine.dispose()
    postgres.drop(url)


def test_there_and_back_again(file: Engine, server: Engine, tmp_path: Path) -> None:
    before = digests(file)
    there = move(file, server, "the server")
    assert {one.table: (one.rows, one.digest) for one in there} == before == digests(server) == digests(file)
    assert {name for name, (rows, _) in before.items() if rows} >= {"bench", "entry", "air_day", "rate"}
    again = open_store(tmp_path / "back.sqlite3")
    move(server, again, "the file")
    assert digests(again) == before
    again.dispose()


def test_the_digest_sees_the_smallest_change(file: Engine) -> None:
    before = digests(file)
    for change in (
        "UPDATE entry SET value = 0.3 WHERE value BETWEEN 0.3 AND 0.300000001",
        "UPDATE entry SET value = NULL WHERE value = 1e-300",
        "UPDATE bench SET unit = 'mm' WHERE unit = '64ths'",
    ):
        with file.execution_options(bench_writes=True).begin() as connection:
            assert connection.execute(text(change)).rowcount >= 1
        assert digests(file) != before
        before = digests(file)


def test_numbers_go_on_where_they_were(file: Engine, server: Engine) -> None:
    """Also after the last entries are gone: a number is never given to another."""
    with file.execution_options(bench_writes=True).begin() as connection:
        last = connection.execute(text("SELECT max(id) FROM entry")).scalar()
        connection.execute(text("DELETE FROM entry WHERE id = :last"), {"last": last})
    move(file, server, "the server")
    assert last is not None
    for engine in (server, file):
        with writing(engine) as session:
            (bench, setup) = session.execute(
                text(
                    "SELECT instrument.bench_id, setup.id FROM setup JOIN instrument "
                    "ON instrument.id = setup.instrument_id WHERE setup.finished_at IS NULL "
                    "ORDER BY setup.id LIMIT 1"
                )
            ).one()
            new = [Entry(EntryKind.NOTE, Check.RELIEF, "relief", typed="x")]
            (made,) = entries.append(session, bench, setup, "after", {}, new, NOW)
            assert made.id == last + 1


def test_a_place_that_is_not_empty_is_refused_and_left_alone(file: Engine, server: Engine) -> None:
    with writing(server) as session:
        benches.make(session, NOW)
    before = digests(server)
    with pytest.raises(Unusable, match="needs an empty place"):
        move(file, server, "the server")
    assert digests(server) == before


def test_a_row_that_did_not_arrive_as_it_was_keeps_all_of_them_out(file: Engine, server: Engine) -> None:
    with server.begin() as connection:
        connection.execute(
            text(
                "CREATE FUNCTION forget() RETURNS trigger LANGUAGE plpgsql AS "
                "$$ BEGIN NEW.value := round(NEW.value::numeric, 6); RETURN NEW; END $$"
            )
        )
        connection.execute(
            text("CREATE TRIGGER f BEFORE INSERT ON entry FOR EACH ROW EXECUTE FUNCTION forget()")
        )
    with pytest.raises(Unusable, match="What arrived in entry is not what was sent"):
        move(file, server, "the server")
    with reading(server) as session:
        for table in Base.metadata.sorted_tables:
            assert session.execute(table.select()).first() is None
