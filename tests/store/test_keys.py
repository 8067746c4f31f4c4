from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine

from webapp.store import benches, keys
from webapp.store.engine import reading, writing
from webapp.store.errors import NotFound

NOW = datetime(2026, 4, 3, 12, 0, tzinfo=UTC)


@pytest.fixture
def bench(engine: Engine) -> str:
    with writing(engine) as session:
        return benches.make(session, NOW)


def made(engine: Engine, bench: str, name: str = "Phone") -> str:
    with writing(engine) as session:
        return keys.make_key(session, bench, name, NOW)


def found(engine: Engine, secret: str, at: datetime = NOW) -> keys.KeyRow | None:
    with reading(engine) as session:
        return keys.find(session, secret, at)


def test_a_key_opens_its_bench_and_no_other_secret_does(engine: Engine, bench: str) -> None:
    secret = made(engine, bench)
    key = found(engine, secret)
    assert key is not None and (key.bench_id, key.device_name) == (bench, "Phone")
    for other in ("", secret[:-1], secret + "A", secret.swapcase(), keys.hash_of(secret), key.id):
        assert found(engine, other) is None, other


def test_a_secret_has_256_bits_and_is_kept_nowhere(engine: Engine, bench: str) -> None:
    secrets = {made(engine, bench) for _ in range(50)}
    assert len(secrets) == 50
    assert all(len(secret) == 43 for secret in secrets)  # 32 bytes in base64
    with engine.connect() as connection:
        kept = repr(connection.exec_driver_sql("SELECT * FROM device_key").fetchall())
    assert not any(secret in kept for secret in secrets)


def test_a_key_taken_back_opens_nothing_and_is_listed_no_more(engine: Engine, bench: str) -> None:
    lost, kept = made(engine, bench, "Lost"), made(engine, bench, "Kept")
    key = found(engine, lost)
    assert key is not None
    with writing(engine) as session:
        keys.revoke(session, bench, key.id, NOW)
        keys.revoke(session, bench, key.id, NOW)
    assert found(engine, lost) is None
    assert found(engine, kept) is not None
    with reading(engine) as session:
        assert [one.device_name for one in keys.list_for(session, bench)] == ["Kept"]


def test_another_benchs_key_cannot_be_taken_back_or_seen(engine: Engine, bench: str) -> None:
    key = found(engine, made(engine, bench))
    assert key is not None
    with writing(engine) as session:
        other = benches.make(session, NOW)
        with pytest.raises(NotFound):
            keys.revoke(session, other, key.id, NOW)
        assert keys.list_for(session, other) == []


def test_a_use_is_remembered_once_a_minute(engine: Engine, bench: str) -> None:
    secret = made(engine, bench)
    key = found(engine, secret)
    assert key is not None
    assert not keys.is_due(key, NOW + timedelta(seconds=59))
    later = NOW + timedelta(minutes=1)
    assert keys.is_due(key, later)
    with writing(engine) as session:
        keys.touch(session, key.id, later)
    again = found(engine, secret, later)
    assert again is not None and again.last_used_at == later


def test_a_key_that_lay_unused_for_too_long_is_not_taken(engine: Engine, bench: str) -> None:
    secret = made(engine, bench)
    assert found(engine, secret, NOW + keys.UNUSED_FOR) is not None
    assert found(engine, secret, NOW + keys.UNUSED_FOR + timedelta(seconds=1)) is None


def test_there_is_no_key_to_a_bench_that_is_not_there(engine: Engine) -> None:
    with writing(engine) as session, pytest.raises(NotFound):
        keys.make_key(session, "no-such-one", "Phone", NOW)


def test_a_name_is_kept_as_typed_but_short(engine: Engine, bench: str) -> None:
    for typed, kept in (("<b>Häns</b>", "<b>Häns</b>"), ("  ", "Device"), ("x" * 100, "x" * 60)):
        key = found(engine, made(engine, bench, typed))
        assert key is not None and key.device_name == kept
