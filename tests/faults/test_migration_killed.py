"""An upgrade that is killed half-way: the data is what it was, and the next start upgrades it."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

from sqlalchemy import text

from tests.faults.support import TOP, House
from tests.forked import PATIENCE_S
from tests.store.test_engine import HEAD, with_a_further_migration
from webapp.store import backups
from webapp.store.engine import connect, open_store
from webapp.store.upkeep.move import digests

# Copies tables, fills them, and dies before it is done.
KILLED = (
    "op.add_column('bench', sa.Column('later', sa.Text()))\n"
    "    for n in range(3000): op.execute(f\"INSERT INTO rate VALUES ('{n:070}', '2026-01-01', 1)\")\n"
    "    op.drop_column('bench', 'unit')\n"
    "    import os, signal; os.kill(os.getpid(), signal.SIGKILL)"
)
OPEN = (
    "import sys; from pathlib import Path\n"
    "from sqlalchemy import make_url\n"
    "from webapp.store import engine, migrate\n"
    "migrate.MIGRATIONS = Path(sys.argv[1])\n"
    "engine.open_store(make_url(sys.argv[2]) if '://' in sys.argv[2] else Path(sys.argv[2]))"
)


def opened_with(house: House, migrations: Path) -> int:
    """Opens the data with other migrations, in a process of its own; returns how that ended."""
    place = house.url.render_as_string(hide_password=False) if house.url else str(house.place)
    return subprocess.run(
        [sys.executable, "-c", OPEN, str(migrations), place], cwd=TOP, timeout=PATIENCE_S
    ).returncode


def test_nothing_of_it_is_kept_and_the_next_start_does_it(house: House, tmp_path: Path) -> None:
    house.fill(2)
    engine = connect(house.place)
    before = digests(engine)
    engine.dispose()
    killed = with_a_further_migration(tmp_path / "killed", KILLED)
    assert opened_with(house, killed) == -signal.SIGKILL
    if isinstance(house.place, Path):
        (copy,) = backups.listed(house.place)
        assert copy.why == f"before-{HEAD}" and backups.newest_good(house.place) == copy
    again = open_store(house.place)
    assert digests(again) == before
    again.dispose()
    whole = with_a_further_migration(
        tmp_path / "whole", "op.add_column('bench', sa.Column('later', sa.Text()))"
    )
    assert opened_with(house, whole) == 0
    engine = connect(house.place)
    with engine.connect() as connection:
        assert connection.execute(text("SELECT later FROM bench")).all() == [(None,)]
        assert connection.execute(text("SELECT count(*) FROM rate")).scalar() == 0
    engine.dispose()
