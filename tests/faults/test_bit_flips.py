"""A byte on the disk changes: nothing is shown as sound that is not."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import text

from tests.faults.bit_flips import FAILED, HARMLESS, NAMED, REFUSED, SILENT, table
from tests.pages.conftest import Player, plain
from tests.setups.bench_files import taken
from webapp.store import backups, benches, seals
from webapp.store.bench_file import merge as bench_merge
from webapp.store.engine import connect, open_store, writing
from webapp.store.errors import Unusable
from webapp.store.upkeep import doctor, restore
from webapp.web.state import AppState


def test_each_changed_byte_is_harmless_refused_or_named(tmp_path: Path) -> None:
    found, faults = table(40, 7, tmp_path)
    assert not faults, faults
    assert found[SILENT] == found[FAILED] == 0
    assert found[REFUSED] and found[NAMED] and found[HARMLESS]


DAMAGE = (
    'UPDATE entry SET "value" = "value" + 0.1 WHERE slot = \'relief\'',
    "UPDATE entry SET \"check\" = 'reliff' WHERE slot = 'relief'",
    "UPDATE entry SET kind = 'reabing' WHERE slot = 'relief'",
    "UPDATE entry SET detail = '{\"method' WHERE slot = 'relief'",
    "UPDATE entry SET typed = '0.9' WHERE slot = 'relief'",
    "UPDATE entry SET at = 'yesterday' WHERE slot = 'relief'",
    "UPDATE entry SET typed = CAST(x'ff30' AS TEXT) WHERE slot = 'relief'",
    "UPDATE entry SET seal = '0000000000000000' WHERE slot = 'relief'",
    "DELETE FROM entry WHERE slot = 'relief'",
)


def app_of(player: Player) -> AppState:
    found = player.client.app.state.bench_app  # type: ignore[attr-defined]
    assert isinstance(found, AppState)
    return found


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_damaged_setup_says_so_and_shows_what_is_sound(player: Player, damage: str) -> None:
    instrument = player.make("bass_4_34")
    setup = player.begin(instrument)
    player.fill(f"{setup}/log", note="A word before")
    player.fill(f"{setup}/read/relief", value="0.31 mm")
    player.fill(f"{setup}/log", note="A word after")
    other = player.make("electric_6", name="Sound one")
    elsewhere = player.begin(other)
    app = app_of(player)
    if app.engine.dialect.name != "sqlite":
        pytest.skip("a file's bytes")
    path = app.settings.database
    copy = backups.make(path, datetime.now(UTC), "daily")
    with app.engine.begin() as connection:
        connection.exec_driver_sql(damage)
    app.kept._pasts.clear()
    for page in ("/", instrument, setup, f"{setup}/journal", f"{setup}/report", f"{setup}/next"):
        answer = player.client.get(page)
        assert answer.status_code == 503, page
        words = plain(answer.text)
        assert "damaged" in words and str(copy) in words and "0.31" not in words and "0.41" not in words
    assert "A word before" in words
    assert f'href="{other}"' in answer.text and "Sound one" in words
    for page in (other, elsewhere, f"{elsewhere}/journal"):
        assert player.client.get(page).status_code == 200, page
    assert player.client.get("/data/bench.json").status_code == 503
    found = [one for one in doctor.examine(path, datetime.now(UTC)) if one.todo]
    assert any(setup.rpartition("/")[2] in one.what for one in found) and f"restore {copy}" in found[0].todo
    damaged = path.with_name("damaged.sqlite3")
    backups.copy_to(path, damaged)
    with pytest.raises(Unusable, match="damaged|cannot be read"):
        restore.check_source(damaged)


def test_a_copy_of_what_is_damaged_is_no_good_copy(player: Player) -> None:
    setup = player.begin(player.make("bass_4_34"))
    player.fill(f"{setup}/read/relief", value="0.31 mm")
    app = app_of(player)
    if app.engine.dialect.name != "sqlite":
        pytest.skip("a file's bytes")
    path = app.settings.database
    good = backups.make(path, datetime.now(UTC), "daily")
    with app.engine.begin() as connection:
        connection.exec_driver_sql(DAMAGE[0])
    backups.make(path, datetime.now(UTC), "daily")
    newest = backups.newest_good(path)
    assert newest is not None and newest.path == good


def test_the_chain_goes_on_over_every_writer(player: Player) -> None:
    instrument = player.make("bass_4_34")
    for _ in range(2):
        setup = player.begin(instrument)
        player.fill(f"{setup}/read/relief", value="0.31 mm")
        player.fill(f"{setup}/finish")
    copy = player.get("/data/bench.json").content
    app = app_of(player)
    with writing(app.engine) as session:
        other = benches.make(session, datetime.now(UTC))
    bench_merge.load(app.engine, other, taken(copy))
    with app.engine.connect() as connection:
        assert list(seals.broken(seals.asked(connection))) == []
        assert connection.execute(text("SELECT count(*) FROM entry WHERE seal = ''")).scalar() == 0


def test_words_of_the_tables_that_changed_are_refused_at_the_start(tmp_path: Path) -> None:
    path = tmp_path / "bench.sqlite3"
    open_store(path).dispose()
    engine = connect(path)
    with engine.begin() as connection:
        connection.exec_driver_sql("ALTER TABLE hand_in RENAME COLUMN what TO whut")
    engine.dispose()
    with pytest.raises(Unusable, match="damaged"):
        open_store(path)
