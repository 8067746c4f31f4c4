"""The command as a player meets it: a process of its own."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

import webapp
from tests.command.typed import Ended, one_sentence, refused, running
from tests.forked import PATIENCE_S, free_port
from webapp.command.cli import read_arguments
from webapp.web.settings import Settings, assets

TOP = Path(webapp.__file__).parent.parent


@pytest.fixture
def port() -> int:
    return free_port()


def fresh(*arguments: object) -> list[str]:
    """The command as it is typed, for a process that begins with nothing."""
    return [sys.executable, "-m", "webapp", "--no-browser", *map(str, arguments)]


@pytest.fixture
def taken() -> Iterator[int]:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        yield holder.getsockname()[1]


def test_it_starts_prints_its_address_and_stops(tmp_path: Path, port: int) -> None:
    process = subprocess.Popen(
        fresh("--data", tmp_path / "new" / "folder", "--port", port),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=TOP,
    )
    try:
        assert process.stdout is not None
        assert process.stdout.readline() == f"Benchside: http://127.0.0.1:{port}/\n"
        answer = httpx.get(f"http://127.0.0.1:{port}/static/icon.svg", timeout=PATIENCE_S)
        assert answer.status_code == 200
        assert "server" not in answer.headers
    finally:
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=PATIENCE_S)
    assert process.returncode in (0, -signal.SIGINT)
    assert errors == ""
    assert (tmp_path / "new" / "folder" / "bench.sqlite3").is_file()


def test_the_demo_starts_filled_and_leaves_the_players_data_alone(tmp_path: Path, port: int) -> None:
    with running("--no-browser", "--demo", "--data", tmp_path, "--port", port) as demo:
        assert demo.said[0] == f"Benchside (demo bench): http://127.0.0.1:{port}/"
    assert not (tmp_path / "bench.sqlite3").exists()
    connection = sqlite3.connect(tmp_path / "demo" / "demo.sqlite3")
    (count,) = connection.execute("SELECT count(*) FROM instrument").fetchone()
    connection.close()
    assert count > 0


def test_a_taken_port(tmp_path: Path, taken: int) -> None:
    said = refused("--no-browser", "--data", tmp_path, "--port", taken)
    assert f"port {taken}" in said and "--port" in said
    assert not (tmp_path / "bench.sqlite3").exists()


def test_an_address_that_is_not_this_computers(tmp_path: Path, port: int) -> None:
    assert "--host" in refused("--no-browser", "--data", tmp_path, "--port", port, "--host", "192.0.2.1")


def test_a_data_folder_that_is_a_file(tmp_path: Path, port: int) -> None:
    (tmp_path / "file").write_text("mine")
    assert "cannot be written to" in refused("--no-browser", "--data", tmp_path / "file", "--port", port)


def test_a_data_folder_without_room_to_write(port: int) -> None:
    """/proc takes no files, not even from root, to whom a folder's mode means nothing."""
    assert "--data" in refused("--no-browser", "--data", "/proc/benchside", "--port", port)


@pytest.mark.parametrize("content", [b"not a database at all", b"SQLite format 3\x00" + b"\xff" * 5000])
def test_a_damaged_database(tmp_path: Path, port: int, content: bytes) -> None:
    (tmp_path / "bench.sqlite3").write_bytes(content)
    assert "damaged" in refused("--no-browser", "--data", tmp_path, "--port", port)
    assert (tmp_path / "bench.sqlite3").read_bytes() == content


def test_a_newer_database(tmp_path: Path, port: int) -> None:
    connection = sqlite3.connect(tmp_path / "bench.sqlite3")
    connection.execute("CREATE TABLE alembic_version (version_num TEXT)")
    connection.execute("INSERT INTO alembic_version VALUES ('9999')")
    connection.commit()
    connection.close()
    assert "newer Benchside" in refused("--no-browser", "--data", tmp_path, "--port", port)


def fresh_end(*arguments: object, cwd: Path) -> Ended:
    done = subprocess.run(fresh(*arguments), capture_output=True, text=True, timeout=PATIENCE_S, cwd=cwd)
    return Ended(done.returncode, done.stdout, done.stderr)


def test_a_slip_in_the_content_is_told_with_its_line(tmp_path: Path, port: int) -> None:
    for folder in ("webapp", "content", "templates", "static"):
        shutil.copytree(TOP / folder, tmp_path / folder)
    shutil.copy(TOP / "pyproject.toml", tmp_path)
    slipped = tmp_path / "content" / "threads.toml"
    slipped.write_text(slipped.read_text() + "\nthis is not = = toml\n")
    line = slipped.read_text().splitlines().index("this is not = = toml") + 1
    said = one_sentence(fresh_end("--data", tmp_path / "data", "--port", port, cwd=tmp_path))
    assert "threads.toml" in said and str(line) in said


@pytest.mark.parametrize("text", ["0", "65536", "-1", "words", "80.5", ""])
def test_a_port_that_is_none(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        read_arguments([f"--port={text}"])
    assert ended.value.code == 2
    assert "is not a port" in capsys.readouterr().err


def test_unless_told_it_is_for_this_computer_only() -> None:
    settings = read_arguments([])
    assert settings.is_loopback and settings.host == "127.0.0.1" and settings.port == 8765
    assert settings.open_browser and not settings.demo


@pytest.mark.parametrize(
    "host, loopback, address",
    [
        ("127.0.0.1", True, "http://127.0.0.1:9000/"),
        ("localhost", True, "http://localhost:9000/"),
        ("::1", True, "http://[::1]:9000/"),
        ("[::1]", True, "http://[::1]:9000/"),
        ("0.0.0.0", False, "http://127.0.0.1:9000/"),
        ("192.168.1.2", False, "http://192.168.1.2:9000/"),
    ],
)
def test_the_address_is_one_that_can_be_typed(host: str, loopback: bool, address: str) -> None:
    settings = read_arguments(["--host", host, "--port", "9000"])
    assert (settings.is_loopback, settings.address) == (loopback, address)


def test_the_demo_is_kept_apart_from_the_players_data(tmp_path: Path) -> None:
    own, demo = Settings(tmp_path), Settings(tmp_path, demo=True)
    assert own.database == tmp_path / "bench.sqlite3"
    assert demo.database == tmp_path / "demo" / "demo.sqlite3"
    assert own.folder != demo.folder


def test_the_usual_data_folder_is_the_platforms(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    folder = read_arguments([]).data_dir
    assert folder.name == "benchside" and folder.is_relative_to(tmp_path)


def test_a_checkout_uses_its_own_folders() -> None:
    found = assets()
    assert (found.templates, found.static, found.content) == tuple(
        TOP / name for name in ("templates", "static", "content")
    )


def test_two_starts_at_once_make_one_database(tmp_path: Path, port: int) -> None:
    """Two on one port: one serves, the other says why not, and the data is whole."""
    starts = [
        subprocess.Popen(
            fresh("--data", tmp_path, "--port", port),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            cwd=TOP,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        for _ in range(2)
    ]
    try:
        until = time.monotonic() + PATIENCE_S
        while all(start.poll() is None for start in starts) and time.monotonic() < until:
            time.sleep(0.05)
        (loser,) = (start for start in starts if start.poll() is not None)
        assert loser.stderr is not None and "is taken" in loser.stderr.read()
        assert httpx.get(f"http://127.0.0.1:{port}/static/icon.svg", timeout=PATIENCE_S).status_code == 200
    finally:
        for start in starts:
            start.terminate()
            start.communicate(timeout=PATIENCE_S)
