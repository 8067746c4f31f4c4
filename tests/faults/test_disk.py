"""The disk is full, or may only be read: a clear page, nothing half-written, and on it goes afterwards."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Engine
from sqlmodel import select
from starlette.testclient import TestClient

from tests.command.typed import ended, refused
from tests.conftest import on_sqlite
from tests.faults.support import House, note
from tests.forked import PATIENCE_S
from tests.pages.conftest import Form, Player, plain
from webapp.store import backups, sqlite
from webapp.store.engine import connect, open_store, writing
from webapp.store.tables import Setup
from webapp.store.upkeep.move import digests

LONG = "what was typed, and " * 90


class SmallDisk:
    """A disk of two megabytes: a file of our own fills it, and is taken away again."""

    def __init__(self, folder: Path) -> None:
        self.folder, self._ballast = folder, folder / "ballast"

    def fill(self, _process: int) -> None:
        with self._ballast.open("wb", buffering=0) as file:
            try:
                while True:
                    file.write(b"\0" * 4096)
            except OSError:
                pass

    def make_room(self, _process: int) -> None:
        self._ballast.unlink()


class SmallFiles:
    """No disk, but a limit to how long the server's files may grow: works without being root."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def fill(self, process: int) -> None:
        self._limit(process, (self.folder / "bench.sqlite3").stat().st_size)

    def make_room(self, process: int) -> None:
        self._limit(process, resource.RLIM_INFINITY)

    def _limit(self, process: int, size: int) -> None:
        hard = resource.prlimit(process, resource.RLIMIT_FSIZE)[1]
        resource.prlimit(process, resource.RLIMIT_FSIZE, (size, hard))


@contextmanager
def mounted(folder: Path) -> Iterator[None]:
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m,mode=700", "tmpfs", folder], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", folder], check=True)


def may_mount() -> bool:
    """Root may, unless it is kept in a box."""
    if os.name != "posix" or os.geteuid() != 0 or sys.platform != "linux":
        return False
    tried = ["unshare", "-m", "sh", "-c", "mount -t tmpfs none /mnt"]
    return subprocess.run(tried, capture_output=True).returncode == 0


MAY_MOUNT = may_mount()


@pytest.fixture(params=["small files", *(["small disk"] if MAY_MOUNT else [])])
def small(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[SmallDisk | SmallFiles]:
    folder = tmp_path / "small"
    folder.mkdir()
    if request.param == "small files":
        yield SmallFiles(folder)
        return
    with mounted(folder):
        yield SmallDisk(folder)


def test_a_full_disk_is_told_and_nothing_is_half_written(small: SmallDisk | SmallFiles) -> None:
    house = House(small.folder)
    (setup,) = house.fill(1)
    house.start()
    assert house.process is not None
    try:
        browser, path = house.browser(), f"/setups/{setup}/log"
        assert browser.post(path, data=note("before")).status_code == 303
        small.fill(house.process.pid)
        kept, refused_form = ["before"], None
        for number in range(200):
            form = note(f"{number} {LONG}")
            answer = browser.post(path, data=form)
            if answer.status_code != 303:
                refused_form = form
                break
            kept.append(form["note"].strip())
        assert refused_form is not None and answer.status_code in (503, 507)
        if isinstance(small, SmallDisk):
            assert answer.status_code == 507 and "The disk is full" in answer.text
        assert "nothing is lost" in answer.text and refused_form["note"].strip() in plain(answer.text)
        assert browser.get(f"/setups/{setup}").status_code == 200  # what is there can be read
        assert browser.post(path, data=refused_form).status_code in (503, 507)
        small.make_room(house.process.pid)
        again = Form(answer.text, path).fields
        assert again == refused_form
        assert browser.post(path, data=again).status_code == 303
        kept.append(refused_form["note"].strip())
        assert house.notes(setup) == kept
        house.kill()
        assert sqlite.fault_of(small.folder / "bench.sqlite3") == ""
    finally:
        house.kill()


def test_no_room_for_a_copy_is_told_and_leaves_nothing_behind(small: SmallDisk | SmallFiles) -> None:
    house = House(small.folder)
    (setup,) = house.fill(1)
    path = small.folder / "bench.sqlite3"
    backup = [sys.executable, "-c", "import resource, sys; from webapp.command.cli import main\n"
              "if sys.argv[1] != '0': resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]),) * 2)\n"
              "sys.exit(main(sys.argv[2:]))"]  # fmt: skip
    small_files = isinstance(small, SmallFiles)
    if not small_files:
        small.fill(0)
    limit = str(path.stat().st_size // 2) if small_files else "0"
    copy = small.folder / "copy.sqlite3"
    left = subprocess.run(
        [*backup, limit, "backup", "--data", str(small.folder), str(copy)],
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
    )
    assert left.returncode == 1 and "could not be made" in left.stderr and "Traceback" not in left.stderr
    assert not copy.exists() and list(small.folder.glob(".*.part")) == []
    assert house.notes(setup) == []


def test_a_folder_that_may_only_be_read_is_one_sentence(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    House(folder).fill(1)
    before = (folder / "bench.sqlite3").read_bytes()
    with read_only(folder):
        port = House(folder).port
        assert "cannot be written to" in refused("--no-browser", "--data", folder, "--port", port)
        assert (folder / "bench.sqlite3").read_bytes() == before


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """To root a folder's mode means nothing; there it is mounted once more, for reading only."""
    if os.geteuid() != 0 or not MAY_MOUNT:
        folder.chmod(0o500)
        yield
        folder.chmod(0o700)
        return
    subprocess.run(["mount", "--bind", folder, folder], check=True)
    subprocess.run(["mount", "-o", "remount,bind,ro", folder], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", folder], check=True)


@on_sqlite
def test_a_database_that_may_only_be_read_still_shows_what_is_in_it(
    player: Player, client: TestClient, engine: Engine
) -> None:
    setup = player.begin(player.make("bass_4_34"))
    state = client.app.state.bench_app  # type: ignore[attr-defined]
    with engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA query_only = ON")
    before = digests(engine)
    refusal = player.post(f"{setup}/log", dict(note("kept in the page")), status=503)
    assert "The data cannot be written to" in refusal.text and "kept in the page" in refusal.text
    assert refusal.headers["retry-after"] == "5" and refusal.headers["hx-push-url"] == "false"
    assert player.get(setup).status_code == 200
    assert digests(engine) == before
    state.engine.dispose()
    player.post(f"{setup}/log", Form(refusal.text, f"{setup}/log").fields)  # type: ignore[arg-type]


def harms(sound: bytes) -> dict[str, bytes]:
    """Ways in which a disk can spoil a file."""
    page = int.from_bytes(sound[16:18], "big")
    places = range(page, len(sound), page)
    # The first byte of a page of a tree says what it is: one bit of it is enough.
    tree = next(place for place in places if sound[place] in (2, 5, 10, 13))
    flipped = bytearray(sound)
    flipped[tree] ^= 1
    indexed = bytearray(sound)
    indexed[sound.index(b"setup-form")] ^= 1
    return {
        "cut short": sound[: -page - 7],
        "half": sound[: len(sound) // 2],
        "a bit of a page": bytes(flipped),
        "a bit of a name": bytes(indexed),
        "the first page": b"\0" * page + sound[page:],
        "zeros in the middle": sound[: 4 * page] + b"\0" * page + sound[5 * page :],
    }


@pytest.mark.parametrize(
    "harm",
    [
        "cut short",
        "half",
        "a bit of a page",
        "a bit of a name",
        "the first page",
        "zeros in the middle",
    ],
)
def test_a_spoilt_file_is_refused_untouched_and_leads_to_the_newest_good_copy(
    tmp_path: Path, harm: str
) -> None:
    path = tmp_path / "bench.sqlite3"
    House(tmp_path).fill(3)
    engine = connect(path)
    with writing(engine) as session:
        # As somebody's form may be called, so that its name can be found in the file.
        session.exec(select(Setup).where(Setup.form_id == "s1")).one().form_id = "setup-form"
    engine.dispose()
    now = datetime.now(UTC)
    good = backups.make(path, now - timedelta(days=2), "daily")
    bad = backups.make(path, now - timedelta(days=1), "daily")
    os.truncate(bad, bad.stat().st_size - 1000)
    spoilt = harms(path.read_bytes())[harm]
    path.write_bytes(spoilt)
    said = refused("--no-browser", "--data", tmp_path, "--port", House(tmp_path).port)
    assert "damaged" in said and said.endswith(f"benchside restore {good}")
    assert path.read_bytes() == spoilt
    assert ended("restore", "--data", tmp_path, good).code == 0
    open_store(path).dispose()
    assert digests_of(path) == digests_of(good)


def digests_of(path: Path) -> dict[str, tuple[int, str]]:
    engine = connect(path)
    try:
        return digests(engine)
    finally:
        engine.dispose()
