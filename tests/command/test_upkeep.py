"""backup, restore, doctor and move as they are typed; and a second start on the same data."""

from __future__ import annotations

import re
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import httpx
import pytest
from tests.command.test_cli import TOP, refused
from tests.command.test_ways_in import comes_in, running, said_by

from tests.browser.support import free_port
from tests.postgres import Server
from webapp.command.arguments import Backup, Doctor, Move, Restore, read_command
from webapp.store.engine import connect
from webapp.store.upkeep.move import digests
from webapp.web.settings import Settings


def did(*arguments: object, rc: int = 0) -> str:
    ended = subprocess.run(
        [sys.executable, "-m", "webapp", *map(str, arguments)],
        capture_output=True,
        text=True,
        cwd=TOP,
        timeout=60,
    )
    assert ended.returncode == rc and "Traceback" not in ended.stderr, ended.stderr
    return ended.stdout


def test_a_second_start_on_the_same_data_is_refused_and_what_stands_beside_it_works(tmp_path: Path) -> None:
    port = free_port()
    with running("--no-browser", "--data", tmp_path, "--port", port) as (process, _):
        said = refused("--data", tmp_path, "--port", free_port())
        assert f"in use by a Benchside that runs at http://127.0.0.1:{port}/ (process {process.pid})" in said
        assert "restore" not in said and "--data" in said
        assert comes_in(said_by("link", "--data", tmp_path)) == 200
        copy = tmp_path / "copy.sqlite3"
        assert did("backup", "--data", tmp_path, copy) == f"Copied to {copy}\n"
        assert "A Benchside runs on it just now" in did("doctor", "--data", tmp_path)
        assert "in use" in refused_upkeep("restore", "--data", tmp_path, copy)
        assert "in use" in refused_upkeep(
            "move", "--from", tmp_path / "bench.sqlite3", "--to", tmp_path / "x"
        )
        process.send_signal(signal.SIGKILL)
        process.wait()
    with running("--no-browser", "--data", tmp_path, "--port", port):
        assert httpx.get(f"http://127.0.0.1:{port}/static/icon.svg").status_code == 200


def refused_upkeep(*arguments: object) -> str:
    """One sentence and 1, and nothing else."""
    ended = subprocess.run(
        [sys.executable, "-m", "webapp", *map(str, arguments)],
        capture_output=True,
        text=True,
        cwd=TOP,
        timeout=60,
    )
    assert (ended.returncode, ended.stdout) == (1, "")
    (line,) = ended.stderr.strip().splitlines()
    assert line.startswith("benchside: ")
    return line


@pytest.fixture
def filled(tmp_path: Path) -> Path:
    """A folder with a database that has something in it."""
    said_by("link", "--data", tmp_path / "data")
    return tmp_path / "data"


def test_back_to_a_copy(filled: Path, tmp_path: Path) -> None:
    copy, database = tmp_path / "copy.sqlite3", filled / "bench.sqlite3"
    did("backup", "--data", filled, copy)
    with sqlite3.connect(database) as connection:
        connection.execute("UPDATE bench SET unit = 'thou'")
    connection.close()
    said = did("restore", "--data", filled, copy)
    assert unit(database) == "mm"
    (aside,) = (filled / "set-aside").iterdir()
    assert f"kept in {aside}" in said and unit(aside) == "thou"


def unit(database: Path) -> str:
    connection = sqlite3.connect(database)
    try:
        return str(connection.execute("SELECT unit FROM bench").fetchone()[0])
    finally:
        connection.close()


def test_a_copy_never_takes_the_place_of_another_file(filled: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("mine")
    assert "already" in refused_upkeep("backup", "--data", filled, tmp_path / "mine")
    assert (tmp_path / "mine").read_text() == "mine"
    assert "no data" in refused_upkeep("backup", "--data", tmp_path / "empty", tmp_path / "other")
    assert not (tmp_path / "empty").exists()
    assert "No such file" in refused_upkeep("backup", "--data", filled, tmp_path / "nowhere" / "copy")


def test_the_doctor_ends_with_1_where_there_is_something_to_do(filled: Path) -> None:
    assert "To do" not in did("doctor", "--data", filled)
    (filled / "bench.sqlite3").chmod(0o644)
    assert "-> chmod 600" in did("doctor", "--data", filled, rc=1)


def test_everything_to_a_server_and_back(filled: Path, tmp_path: Path, postgres: Server) -> None:
    """The hosted form then goes on where the file left off: the same keys open the same benches."""
    url, port = postgres.new_database(empty=True), free_port()
    address = url.render_as_string(hide_password=False)
    link = said_by("link", "--data", filled, "--port", port)
    assert "every row was compared" in did("move", "--from", filled / "bench.sqlite3", "--to", address)
    arguments = ("--database", address, "--data", tmp_path / "other", "--port", port)
    with running("--no-browser", *arguments) as (_, said):
        assert f"Data: {url.render_as_string(hide_password=True)}" in said
        assert comes_in(link) == 200
        assert "PostgreSQL" in did("doctor", *arguments[:2])
    assert "pg_dump" in refused_upkeep("backup", *arguments[:2], tmp_path / "copy")
    assert not (tmp_path / "other" / "bench.sqlite3").exists()
    did("move", "--from", address, "--to", tmp_path / "back.sqlite3")
    server, file = connect(url), connect(tmp_path / "back.sqlite3")
    assert digests(server) == digests(file)
    assert "needs an empty place" in refused_upkeep(
        "move", "--from", tmp_path / "back.sqlite3", "--to", address
    )
    server.dispose()
    file.dispose()
    postgres.drop(url)


def test_several_workers_answer_on_one_address(tmp_path: Path, postgres: Server) -> None:
    url, port = postgres.new_database(empty=True), free_port()
    address = url.render_as_string(hide_password=False)
    serve = ("serve", "--database", address, "--data", tmp_path, "--port", port, "--workers", 2)
    with running(*serve, "--name", "bench.example.org", "--proxy", "127.0.0.1") as (process, _):
        link = said_new_bench(address, tmp_path)
        headers = {
            "Host": "bench.example.org", "X-Forwarded-Proto": "https", "Origin": "https://bench.example.org"
        }  # fmt: skip
        path = link.removeprefix("https://bench.example.org")
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", headers=headers, timeout=20) as browser:
            answer = browser.post(path)
            assert answer.status_code == 303, answer.text
            name, _, secret = answer.headers["set-cookie"].partition(";")[0].partition("=")
        workers = children(process.pid)
        assert len(workers) == 2
        answers = set()
        for _ in range(40):  # a new connection each time goes to whichever worker is free
            found = httpx.get(
                f"http://127.0.0.1:{port}/", headers=headers, cookies={name: secret}, timeout=20
            )
            answers.add(found.status_code)
        assert answers == {200}
    assert children(process.pid) == []
    postgres.drop(url)


def said_new_bench(address: str, folder: Path) -> str:
    said = did("bench", "new", "--database", address, "--data", folder)
    found = re.search(r"^Come in: (\S+)$", said, re.MULTILINE)
    assert found
    return found[1]


def children(parent: int) -> list[int]:
    """The living processes that a process spawned to do its work."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            words = (folder / "stat").read_text().rpartition(")")[2].split()
            line = (folder / "cmdline").read_bytes()
        except (FileNotFoundError, ProcessLookupError):
            continue
        if int(words[1]) == parent and words[0] != "Z" and b"spawn_main" in line:
            found.append(int(folder.name))
    return found


@pytest.mark.parametrize(
    "arguments, wrong",
    [
        (["serve", "--workers", "2", "--name", "a.example", "--proxy", "127.0.0.1"], "--database"),
        (["serve", "--workers", "0"], "not a number of workers"),
        (["--demo", "--database", "postgresql+psycopg://a@b/c"], "demo"),
        (["backup"], "FILE"),
        (["move", "--from", "a"], "--to"),
    ],
)
def test_what_cannot_be_meant_is_said(
    arguments: list[str], wrong: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        read_command(arguments)
    assert ended.value.code == 2 and wrong in capsys.readouterr().err


def test_an_address_that_is_none_is_one_sentence(tmp_path: Path) -> None:
    for address in ("mysql://a/b", "nonsense", "postgresql+psycopg://host"):
        assert "postgresql+psycopg://name@host" in refused_upkeep("doctor", "--database", address)


def test_what_is_read_of_the_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    settings = Settings(tmp_path)
    assert read_command(["backup", "--data", str(tmp_path), "f"]) == Backup(settings, Path("f"))
    assert read_command(["restore", "--data", str(tmp_path), "f"]) == Restore(settings, Path("f"))
    assert read_command(["doctor", "--data", str(tmp_path)]) == Doctor(settings)
    assert read_command(["move", "--from", "a", "--to", "b"]) == Move("a", "b")
    monkeypatch.setenv("BENCHSIDE_DATABASE", "postgresql+psycopg://a@b/c")
    found = read_command(["doctor"])
    assert isinstance(found, Doctor) and found.settings.database_url == "postgresql+psycopg://a@b/c"
