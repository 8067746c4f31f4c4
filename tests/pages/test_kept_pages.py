"""A process that has seen everything shows the same as one that has just been started."""

from __future__ import annotations

import gc
import re
import tracemalloc
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine, text

from tests.keyed import keyed
from tests.pages.conftest import Player, app_maker
from tests.pages.walk import Walk
from webapp.setups.belief import fold
from webapp.store import benches
from webapp.store.air_log import days as air
from webapp.store.engine import writing
from webapp.trade.content import Trade

# What is random or counts the time in a page.
PASSING = re.compile(r'(name="form_id" value=)"[^"]*"|\d\d:\d\d')


def shown(player: Player, path: str) -> str:
    return PASSING.sub(r"\1", player.get(path).text)


MakeApp = Callable[[Path, Engine], FastAPI]


@pytest.fixture(scope="module")
def anew(trade: Trade) -> MakeApp:
    return app_maker(trade)


def another_process(anew: MakeApp, tmp_path: Path, engine: Engine) -> Player:
    """One that has kept nothing yet."""
    return Player(keyed(anew(tmp_path, engine)))


def as_anew(fresh: Player, engine: Engine, path: str) -> str:
    """What it shows, with nothing kept in the database either."""
    with writing(engine) as session:
        session.connection().execute(text("DELETE FROM bench_line"))
    return shown(fresh, path)


def test_every_page_is_as_fresh_as_a_new_process_would_show_it(
    player: Player, engine: Engine, anew: MakeApp, tmp_path: Path
) -> None:
    bass = player.make("bass_4_34", name="Kept bass")
    setup = player.begin(bass)
    walk = Walk(player, setup, typed={"relief": ("0.9", "0.3"), "height.4": ("3.4", "2.4")})
    for number in range(14):
        paths = ["/", bass, f"{bass}/history", "/due", setup, f"{setup}/{walk.here()}"]
        fresh = another_process(anew, tmp_path, engine)
        for path in paths:
            assert shown(player, path) == as_anew(fresh, engine, path), (number, path)
        walk.step()
        if number == 6:
            _change_the_air(engine)


def test_another_process_that_writes_is_seen_at_once(
    player: Player, engine: Engine, anew: MakeApp, tmp_path: Path
) -> None:
    bass = player.make("bass_4_34", name="Kept bass")
    setup = player.begin(bass)
    other = another_process(anew, tmp_path, engine)
    Walk(player, setup).until("read/relief")
    for one, another in ((player, other), (other, player), (player, other)):
        shown(another, setup)
        Walk(one, setup).step()
        assert shown(another, setup) == shown(one, setup)
        assert shown(another, bass) == shown(one, bass)
        assert shown(another, f"{setup}/journal") == shown(one, f"{setup}/journal")


def test_a_page_that_is_kept_comes_either_way(player: Player) -> None:
    path = player.make("bass_4_34", name="Old blue")
    for page in ("/", path):
        plain = player.client.get(page, headers={"Accept-Encoding": "identity"})
        packed = player.client.get(page, headers={"Accept-Encoding": "gzip"})
        assert "content-encoding" not in plain.headers and packed.headers["content-encoding"] == "gzip"
        assert plain.text == packed.text and "Old blue" in plain.text


def test_a_form_is_named_by_what_it_was_shown_with(player: Player) -> None:
    path = player.make("bass_4_34")
    action = f"{path}/setups"
    assert player.form(path, action) == player.form(path, action)
    bench = player.form("/", action)
    assert bench == player.form("/", action)
    first = player.post(action, bench).headers["location"]
    # Sent twice, it leads to the same setup.
    assert player.post(action, bench).headers["location"] == first
    player.fill(f"{first.removesuffix('/next')}/finish")
    assert player.form(path, action) != player.form("/", action) != bench


def test_what_is_kept_takes_as_much_memory_as_it_is_reckoned_to(
    player: Player, engine: Engine, anew: MakeApp, tmp_path: Path
) -> None:
    setups = []
    for number in range(4):
        setups.append(player.begin(player.make("bass_4_34", name=f"Bass {number}")))
        walk = Walk(player, setups[-1])
        for _ in range(2 * number):
            walk.step()
    app = anew(tmp_path, engine)
    reader, kept = Player(keyed(app)), app.state.bench_app.kept

    def look() -> None:
        for setup in setups:
            shown(reader, setup)
            shown(reader, f"{setup}/journal")

    look()
    kept._pasts.clear()
    # What all share is there by now, and what was folded lately is another's to bound.
    tracemalloc.start()
    look()
    fold._FOLDED.clear()
    reckoned, before = kept.size_bytes, _traced_bytes()
    kept._pasts.clear()
    took = before - _traced_bytes()
    tracemalloc.stop()
    assert reckoned == pytest.approx(took, rel=0.3)


def _traced_bytes() -> int:
    # What is freed by being collected may let go of more.
    for _ in range(3):
        gc.collect()
    return tracemalloc.get_traced_memory()[0]


def _change_the_air(engine: Engine) -> None:
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session).id
        for days in range(40):
            day = (datetime.now(UTC) - timedelta(days=days)).date()
            air.type_day(session, bench, day, 21.0, 40.0 + days / 4)
