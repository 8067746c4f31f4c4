from __future__ import annotations

import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Engine

from webapp.store import benches, instruments, keys, setups, shares
from webapp.store.engine import reading, writing
from webapp.store.errors import NotFound

NOW = datetime(2026, 4, 3, 12, 0, tzinfo=UTC)
SEED = b"a device's own key"
ONE_DAY = timedelta(days=1)


class Shelf:
    """A bench with an instrument and a setup on it, and another bench."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        with writing(engine) as session:
            self.bench, self.other = benches.make(session, NOW), benches.make(session, NOW)
            self.instrument = instruments.add(session, self.bench, "form", "{}")
            self.setup = setups.start(session, self.bench, self.instrument, "form", NOW)

    def share(self, lasts: timedelta = shares.LASTS, seed: bytes = SEED) -> tuple[str, str]:
        """A share of the setup: its id and its token."""
        with writing(self.engine) as session:
            made = shares.make_for_setup(session, self.bench, self.setup, True, lasts, NOW, seed)
            return made.id, shares.shown(session, self.bench, made.id, NOW, seed)

    def opened(self, token: str, at: datetime = NOW) -> shares.Share | None:
        with reading(self.engine) as session:
            return shares.open_by(session, token, at)


@pytest.fixture
def shelf(engine: Engine) -> Shelf:
    return Shelf(engine)


def test_a_token_opens_its_share_and_no_other_does(shelf: Shelf) -> None:
    made, token = shelf.share()
    found = shelf.opened(token)
    assert found is not None
    assert (found.id, found.bench_id, found.setup_id) == (made, shelf.bench, shelf.setup)
    for other in ("", token[:-1], token + "A", token.swapcase(), keys.hashed(token), made, "\ud800"):
        assert shelf.opened(other) is None, other


def test_a_token_has_160_bits_or_more_and_is_kept_nowhere(shelf: Shelf, engine: Engine) -> None:
    found = {shelf.share()[1] for _ in range(50)}
    assert len(found) == 50
    assert all(len(token) * 6 >= 160 for token in found)
    with engine.connect() as connection:
        kept = repr(connection.exec_driver_sql("SELECT * FROM share").fetchall())
    assert not any(token in kept for token in found)


@pytest.mark.parametrize("lasts", [ONE_DAY, timedelta(days=30), timedelta(days=90)])
def test_a_share_is_over_when_its_time_is(shelf: Shelf, lasts: timedelta) -> None:
    _, token = shelf.share(lasts)
    assert shelf.opened(token, NOW + lasts - timedelta(seconds=1)) is not None
    assert shelf.opened(token, NOW + lasts) is None


def test_thirty_days_unless_changed() -> None:
    assert timedelta(days=30) == shares.LASTS


def test_what_is_taken_back_opens_nothing(shelf: Shelf, engine: Engine) -> None:
    made, token = shelf.share()
    _, kept = shelf.share()
    with writing(engine) as session:
        shares.revoke(session, shelf.bench, made, NOW)
        shares.revoke(session, shelf.bench, made, NOW + ONE_DAY)
        assert shares.get(session, shelf.bench, made).revoked_at == NOW
    assert shelf.opened(token) is None
    assert shelf.opened(kept) is not None


def test_the_link_is_shown_only_just_after_it_was_made_and_only_there(shelf: Shelf, engine: Engine) -> None:
    made, token = shelf.share()
    with writing(engine) as session:
        later = NOW + shares.SHOWN_FOR - timedelta(seconds=1)
        assert shares.shown(session, shelf.bench, made, later, SEED) == token
        assert shares.shown(session, shelf.bench, made, NOW + shares.SHOWN_FOR, SEED) == ""
        assert shares.shown(session, shelf.bench, made, NOW, b"another device") == ""
        shares.revoke(session, shelf.bench, made, NOW)
        assert shares.shown(session, shelf.bench, made, NOW, SEED) == ""


def test_another_benchs_shares_are_not_there(shelf: Shelf, engine: Engine) -> None:
    made, token = shelf.share()
    with writing(engine) as session:
        for act in (
            lambda: shares.get(session, shelf.other, made),
            lambda: shares.revoke(session, shelf.other, made, NOW),
            lambda: shares.shown(session, shelf.other, made, NOW, SEED),
            lambda: shares.make_for_setup(session, shelf.other, shelf.setup, False, ONE_DAY, NOW, SEED),
            lambda: shares.make_for_instrument(session, shelf.other, shelf.instrument, ONE_DAY, NOW, SEED),
        ):
            with pytest.raises(NotFound):
                act()
        assert shares.list_for(session, shelf.other) == []
    assert shelf.opened(token) is not None


def test_it_is_remembered_when_a_share_was_opened(shelf: Shelf, engine: Engine) -> None:
    made, token = shelf.share()
    found = shelf.opened(token)
    assert found is not None and found.opened_at is None and shares.is_due(found, NOW)
    with writing(engine) as session:
        shares.touch(session, made, NOW)
        shares.touch(session, made, NOW - ONE_DAY)
    again = shelf.opened(token)
    assert again is not None and again.opened_at == NOW
    assert not shares.is_due(again, NOW + timedelta(seconds=59))
    assert shares.is_due(again, NOW + timedelta(minutes=1))


def test_the_list_is_newest_first_and_forgets_what_is_long_over(shelf: Shelf, engine: Engine) -> None:
    old, _ = shelf.share(ONE_DAY)
    then = NOW + ONE_DAY + shares.KEPT_FOR
    with writing(engine) as session:
        first = shares.make_for_instrument(session, shelf.bench, shelf.instrument, ONE_DAY, then, SEED)
        assert [share.id for share in shares.list_for(session, shelf.bench)] == [first.id, old]
        later = then + timedelta(seconds=1)
        second = shares.make_for_instrument(session, shelf.bench, shelf.instrument, ONE_DAY, later, SEED)
        assert [share.id for share in shares.list_for(session, shelf.bench)] == [second.id, first.id]


def test_a_bench_has_so_many_good_links_at_most(
    shelf: Shelf, engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shares, "AT_MOST", 2)
    made, _ = shelf.share()
    shelf.share()
    with pytest.raises(shares.TooMany):
        shelf.share()
    with writing(engine) as session:
        shares.revoke(session, shelf.bench, made, NOW)
    shelf.share()


def test_the_key_of_the_links_is_made_once_and_for_its_owner_only(tmp_path: Path) -> None:
    key = keys.links_key(tmp_path)
    assert len(key) == 32 and keys.links_key(tmp_path) == key
    (file,) = tmp_path.iterdir()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    # Another process that came at the same moment keeps what is there.
    keys._make(tmp_path, file)
    assert keys.links_key(tmp_path) == key and list(tmp_path.iterdir()) == [file]
