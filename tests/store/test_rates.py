from __future__ import annotations

from datetime import UTC, datetime, timedelta

from sqlalchemy import Engine

from webapp.store import rates
from webapp.store.engine import writing
from webapp.store.rates import Limit

NOW = datetime(2026, 4, 3, 12, 0, tzinfo=UTC)
LIMIT = Limit("test", each=3, together=5, window=timedelta(minutes=10))


def taken(engine: Engine, who: str, at: datetime = NOW, limit: Limit = LIMIT) -> bool:
    # A session of its own each time, as two processes would have.
    with writing(engine) as session:
        return rates.take(session, limit, who, at)


def test_each_has_a_limit_and_so_have_all_together(engine: Engine) -> None:
    assert [taken(engine, "10.0.0.1") for _ in range(4)] == [True, True, True, False]
    assert [taken(engine, "10.0.0.2") for _ in range(3)] == [True, True, False]


def test_what_was_refused_is_not_counted_and_the_window_passes(engine: Engine) -> None:
    for _ in range(10):
        taken(engine, "10.0.0.1")
    assert not taken(engine, "10.0.0.1", NOW + timedelta(minutes=9, seconds=59))
    assert taken(engine, "10.0.0.1", NOW + timedelta(minutes=10))


def test_limits_do_not_know_of_each_other(engine: Engine) -> None:
    other = Limit("other", 1, 1, timedelta(minutes=10))
    assert all(taken(engine, "10.0.0.1") for _ in range(3))
    assert taken(engine, "10.0.0.1", limit=other)


def test_a_household_of_the_newer_kind_of_address_is_one(engine: Engine) -> None:
    assert [taken(engine, f"2001:db8::{n}") for n in range(4)] == [True, True, True, False]
    assert taken(engine, "2001:db8:0:1::1")


def test_the_older_kind_is_the_same_in_the_newers_clothes(engine: Engine) -> None:
    assert [taken(engine, "::ffff:10.0.0.1") for _ in range(3)] == [True, True, True]
    assert not taken(engine, "10.0.0.1")


def test_addresses_are_kept_as_hashes_and_for_a_day(engine: Engine) -> None:
    taken(engine, "10.0.0.1")
    with engine.connect() as connection:
        rows = connection.exec_driver_sql("SELECT name FROM rate").fetchall()
    assert len(rows) == 2 and "10.0.0.1" not in repr(rows)
    taken(engine, "10.0.0.9", NOW + timedelta(days=2))
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM rate").scalar() == 2


def test_whoever_has_no_address_is_counted_too(engine: Engine) -> None:
    assert [taken(engine, "") for _ in range(4)] == [True, True, True, False]


def test_a_window_that_begins_in_the_future_is_over(engine: Engine) -> None:
    ahead = NOW + timedelta(days=400)
    assert [taken(engine, "10.0.0.1", ahead) for _ in range(4)] == [True, True, True, False]
    assert [taken(engine, "10.0.0.1") for _ in range(4)] == [True, True, True, False]
    assert taken(engine, "10.0.0.1", NOW + timedelta(minutes=10))


def test_two_who_count_at_once_do_not_open_the_window_anew(engine: Engine) -> None:
    assert [taken(engine, "10.0.0.1", NOW + timedelta(seconds=n)) for n in (2, 1, 0, 3)] == [
        True, True, True, False
    ]  # fmt: skip


def test_what_a_wrong_clock_left_is_swept(engine: Engine) -> None:
    taken(engine, "10.0.0.1", NOW + timedelta(days=400))
    taken(engine, "10.0.0.9")
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM rate").scalar() == 2
