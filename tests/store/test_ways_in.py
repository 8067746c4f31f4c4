from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from math import log2

import pytest
from sqlalchemy import Engine

from webapp.store import benches, keys, ways_in
from webapp.store.engine import reading, writing
from webapp.store.errors import NotFound
from webapp.store.ways_in import Pairing

NOW = datetime(2026, 4, 3, 12, 0, tzinfo=UTC)
SOON = NOW + timedelta(minutes=9, seconds=59)
SEED = b"a device's own key"


@pytest.fixture
def bench(engine: Engine) -> str:
    with writing(engine) as session:
        return benches.make(session, NOW)


@pytest.fixture
def laptop(engine: Engine, bench: str) -> str:
    """The id of the key of the device that shows the code."""
    with writing(engine) as session:
        keys.make_key(session, bench, "Laptop", NOW)
        return keys.list_for(session, bench)[0].id


def pairing(engine: Engine, bench: str, made_by: str | None = None, at: datetime = NOW) -> Pairing:
    with writing(engine) as session:
        return ways_in.make_pairing(session, bench, at, made_by, SEED if made_by else b"")


def used(engine: Engine, code: str, at: datetime = NOW) -> str | None:
    with writing(engine) as session:
        return ways_in.use_pairing(session, code, at)


def wrong(code: str) -> str:
    """A code that names the same label and misses its secret by one sign."""
    return code[:-1] + ("0" if code[-1] != "0" else "1")


def test_an_entry_link_works_once_and_looking_does_not_use_it_up(engine: Engine, bench: str) -> None:
    with writing(engine) as session:
        code = ways_in.make_entry(session, bench, NOW)
        assert [ways_in.bench_of_entry(session, code, NOW) for _ in range(3)] == [bench] * 3
        assert ways_in.use_entry(session, code, NOW) == bench
        assert ways_in.use_entry(session, code, NOW) is None
        assert ways_in.bench_of_entry(session, code, NOW) is None
        assert ways_in.use_entry(session, code + "x", NOW) is None


def test_an_entry_link_goes_out_of_date(engine: Engine, bench: str) -> None:
    with writing(engine) as session:
        short, long = (ways_in.make_entry(session, bench, NOW, timedelta(hours=h)) for h in (1, 24))
        later = NOW + timedelta(hours=1)
        assert ways_in.use_entry(session, short, later) is None
        assert ways_in.use_entry(session, long, later) == bench


def test_a_pairing_code_works_once(engine: Engine, bench: str) -> None:
    code = pairing(engine, bench).code
    assert used(engine, code, SOON) == bench
    assert used(engine, code, SOON) is None


@pytest.mark.parametrize("typing", [str.lower, lambda code: code.replace("-", " "), lambda code: f" {code} "])
def test_a_pairing_code_is_taken_however_it_is_typed(engine: Engine, bench: str, typing: object) -> None:
    assert callable(typing)
    assert used(engine, typing(pairing(engine, bench).code)) == bench


def test_letters_that_look_like_figures_are_taken_for_them() -> None:
    assert ways_in.normalised("oOiI-lL 7") == "0011" + "11" + "7"
    assert not set("OILU") & set(ways_in.ALPHABET)


def test_a_pairing_code_has_more_than_forty_secret_bits_and_dies_after_ten_minutes(
    engine: Engine, bench: str
) -> None:
    assert ways_in.SECRET_SIGNS * log2(len(ways_in.ALPHABET)) >= 40
    made = pairing(engine, bench)
    assert made.expires_at - NOW == timedelta(minutes=10)
    assert used(engine, made.code, made.expires_at) is None
    assert len({pairing(engine, bench).code for _ in range(20)}) == 20


def test_five_wrong_tries_lock_a_pairing_code(engine: Engine, bench: str) -> None:
    code, other = pairing(engine, bench).code, pairing(engine, bench).code
    for _ in range(4):
        assert used(engine, wrong(code)) is None
    assert used(engine, other) == bench  # tries at one code are no tries at another
    assert used(engine, wrong(code)) is None
    assert used(engine, code) is None


def test_four_wrong_tries_do_not(engine: Engine, bench: str) -> None:
    code = pairing(engine, bench).code
    for _ in range(4):
        used(engine, wrong(code))
    assert used(engine, code) == bench


def test_the_device_that_made_a_code_can_show_it_again_and_nobody_else(
    engine: Engine, bench: str, laptop: str
) -> None:
    made = pairing(engine, bench, laptop)
    with reading(engine) as session:
        assert ways_in.shown_to(session, laptop, SEED) == made
        stranger = ways_in.shown_to(session, laptop, b"another key")
        assert stranger is not None and stranger.code != made.code
    with engine.connect() as connection:
        kept = repr(connection.exec_driver_sql("SELECT * FROM way_in").fetchall())
    assert made.code not in kept and ways_in.normalised(made.code) not in kept


def test_what_became_of_a_code_is_seen_where_it_is_shown(engine: Engine, bench: str, laptop: str) -> None:
    def shown() -> Pairing:
        with reading(engine) as session:
            found = ways_in.shown_to(session, laptop, SEED)
        assert found is not None
        return found

    first = pairing(engine, bench, laptop)
    assert shown().is_open(SOON) and not shown().is_open(first.expires_at)
    for _ in range(5):
        used(engine, wrong(first.code))
    assert shown().locked and not shown().is_open(NOW)
    second = pairing(engine, bench, laptop, NOW + timedelta(seconds=1))
    used(engine, second.code, SOON)
    assert shown().used and not shown().is_open(SOON)


def test_a_new_code_puts_the_one_before_it_out_of_date(engine: Engine, bench: str, laptop: str) -> None:
    first = pairing(engine, bench, laptop)
    second = pairing(engine, bench, laptop, NOW + timedelta(seconds=1))
    assert used(engine, first.code, SOON) is None
    assert used(engine, second.code, SOON) == bench


def test_two_at_once_cannot_both_use_a_code(engine: Engine, bench: str) -> None:
    code = pairing(engine, bench).code
    got: list[str | None] = []
    start = threading.Barrier(4)

    def race() -> None:
        start.wait()
        got.append(used(engine, code))

    racers = [threading.Thread(target=race) for _ in range(4)]
    for racer in racers:
        racer.start()
    for racer in racers:
        racer.join()
    assert (len(got), got.count(bench)) == (4, 1)


def test_old_codes_are_swept_out(engine: Engine, bench: str) -> None:
    pairing(engine, bench)
    pairing(engine, bench, at=NOW + timedelta(days=30))
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM way_in").scalar() == 1


def test_there_is_no_way_into_a_bench_that_is_not_there(engine: Engine) -> None:
    with writing(engine) as session:
        with pytest.raises(NotFound):
            ways_in.make_entry(session, "no-such-one", NOW)
        with pytest.raises(NotFound):
            ways_in.make_pairing(session, "no-such-one", NOW)
