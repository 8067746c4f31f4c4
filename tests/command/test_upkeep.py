"""backup, restore, doctor and move as they are typed; and a second start on the same data."""

from __future__ import annotations

import re
import signal
import socket
import sqlite3
import sys
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

import httpx
import psutil
import pytest

from tests.command.test_ways_in import comes_in
from tests.command.typed import ended, refused, running, said_by
from tests.forked import PATIENCE_S, free_port, stop
from tests.postgres import Server
from webapp.command.arguments import read_command
from webapp.store import backups, benches, instruments
from webapp.store.engine import connect, open_store, writing
from webapp.store.upkeep.move import digests
from webapp.web.settings import Settings


def did(*arguments: object, code: int = 0) -> str:
    found = ended(*arguments)
    assert found.code == code, found.err
    return found.out


def test_a_second_start_on_the_same_data_is_refused_and_what_stands_beside_it_works(tmp_path: Path) -> None:
    port = free_port()
    with running("--no-browser", "--data", tmp_path, "--port", port) as (process, _, _errors):
        said = refused("--no-browser", "--data", tmp_path, "--port", free_port())
        assert f"in use by a Benchside that runs at http://127.0.0.1:{port}/ (process {process.pid})" in said
        assert "restore" not in said and "--data" in said
        assert comes_in(said_by("link", "--data", tmp_path)) == 200
        copy = tmp_path / "copy.sqlite3"
        assert did("backup", "--data", tmp_path, copy) == f"Copied to {copy}\n"
        assert "A Benchside runs on it just now" in did("doctor", "--data", tmp_path)
        assert "in use" in refused("restore", "--data", tmp_path, copy)
        assert "in use" in refused("move", "--from", tmp_path / "bench.sqlite3", "--to", tmp_path / "x")
        stop(process, signal.SIGKILL)
    with running("--no-browser", "--data", tmp_path, "--port", port):
        assert httpx.get(f"http://127.0.0.1:{port}/static/icon.svg", timeout=PATIENCE_S).status_code == 200


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


@pytest.mark.parametrize("left", [None, b""])
def test_where_the_data_is_gone_and_a_copy_is_there_it_asks(tmp_path: Path, left: bytes | None) -> None:
    folder, database = tmp_path / "data", tmp_path / "data" / "bench.sqlite3"
    engine = open_store(prepared(database))
    with writing(engine) as session:
        instruments.add(session, benches.get_or_create_local_bench(session).id, "f", "{}")
    engine.dispose()
    copy = backups.make(database, datetime.now(UTC), "daily")
    database.unlink()
    if left is not None:
        database.write_bytes(left)
    before = sorted(folder.rglob("*"))
    for typed in (("--no-browser",), ("link",), ("keys",)):
        said = refused(*typed, "--data", folder)
        assert f"benchside restore {copy}" in said and "begin anew" in said and "gone" in said
    found = ended("doctor", "--data", folder)
    assert found.code == 1 and f"benchside restore {copy}" in found.out
    assert [one for one in sorted(folder.rglob("*")) if ".lock" not in one.name] == before
    did("restore", "--data", folder, copy)
    assert unit(database) == "mm" and did("doctor", "--data", folder)


def test_whoever_moves_the_copies_aside_begins_anew(tmp_path: Path) -> None:
    test_where_the_data_is_gone_and_a_copy_is_there_it_asks(tmp_path, None)
    (tmp_path / "data" / "bench.sqlite3").unlink()
    (tmp_path / "data" / "backups").rename(tmp_path / "data" / "old-copies")
    assert said_by("link", "--data", tmp_path / "data").startswith("http")


def prepared(database: Path) -> Path:
    database.parent.mkdir(mode=0o700, parents=True)
    return database


def test_a_copy_never_takes_the_place_of_another_file(filled: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("mine")
    assert "already" in refused("backup", "--data", filled, tmp_path / "mine")
    assert (tmp_path / "mine").read_text() == "mine"
    assert "no data" in refused("backup", "--data", tmp_path / "empty", tmp_path / "other")
    assert not (tmp_path / "empty").exists()
    assert "No such file" in refused("backup", "--data", filled, tmp_path / "nowhere" / "copy")


def test_the_doctor_ends_with_1_where_there_is_something_to_do(filled: Path) -> None:
    assert "To do" not in did("doctor", "--data", filled)
    (filled / "bench.sqlite3").chmod(0o644)
    assert "-> chmod 600" in did("doctor", "--data", filled, code=1)


def test_everything_to_a_server_and_back(filled: Path, tmp_path: Path, postgres: Server) -> None:
    """The hosted form then goes on where the file left off: the same keys open the same benches."""
    url, port = postgres.new_database(empty=True), free_port()
    address = url.render_as_string(hide_password=False)
    link = said_by("link", "--data", filled, "--port", port)
    assert "every row was compared" in did("move", "--from", filled / "bench.sqlite3", "--to", address)
    arguments = ("--database", address, "--data", tmp_path / "other", "--port", port)
    with running("--no-browser", *arguments) as (_, said, _errors):
        assert f"Data: {url.render_as_string(hide_password=True)}" in said
        assert comes_in(link) == 200
        assert "PostgreSQL" in did("doctor", *arguments[:2])
    assert "pg_dump" in refused("backup", *arguments[:2], tmp_path / "copy")
    assert not (tmp_path / "other" / "bench.sqlite3").exists()
    did("move", "--from", address, "--to", tmp_path / "back.sqlite3")
    server, file = connect(url), connect(tmp_path / "back.sqlite3")
    assert digests(server) == digests(file)
    assert "needs an empty place" in refused("move", "--from", tmp_path / "back.sqlite3", "--to", address)
    server.dispose()
    file.dispose()
    postgres.drop(url)


def test_several_workers_answer_on_one_address(tmp_path: Path, postgres: Server) -> None:
    url, port = postgres.new_database(empty=True), free_port()
    address = url.render_as_string(hide_password=False)
    serve = ("serve", "--database", address, "--data", tmp_path, "--port", port, "--workers", 2)
    with running(*serve, "--name", "bench.example.org", "--proxy", "127.0.0.1") as (process, _, _errors):
        link = said_new_bench(address, tmp_path)
        headers = {
            "Host": "bench.example.org", "X-Forwarded-Proto": "https", "Origin": "https://bench.example.org"
        }  # fmt: skip
        path = link.removeprefix("https://bench.example.org")
        origin = f"http://127.0.0.1:{port}"
        with httpx.Client(base_url=origin, headers=headers, timeout=PATIENCE_S) as browser:
            answer = browser.post(path)
            assert answer.status_code == 303, answer.text
            name, _, secret = answer.headers["set-cookie"].partition(";")[0].partition("=")
            assert len(children(process.pid)) == 2
            anew = {"Connection": "close", "Cookie": f"{name}={secret}"}
            assert {browser.get("/", headers=anew).status_code for _ in range(40)} == {200}
        shares = connections_of(children(process.pid), port)
        # A fair coin falls so unevenly once in 20,000 times.
        assert sys.platform != "linux" or min(shares) >= 14, shares
    assert children(process.pid) == []
    postgres.drop(url)


def connections_of(processes: list[int], port: int, count: int = 60) -> list[int]:
    """How many of so many callers, who come one by one to an idle server and stay, each process has."""
    with ExitStack() as callers:
        for _ in range(count):
            caller = callers.enter_context(socket.create_connection(("127.0.0.1", port)))
            caller.sendall(b"GET /static/icon.svg HTTP/1.1\r\nHost: bench.example.org\r\n\r\n")
            assert caller.recv(1)
        return [
            sum(1 for one in psutil.Process(process).net_connections("tcp") if one.status == "ESTABLISHED"
                and one.laddr.port == port)
            for process in processes
        ]  # fmt: skip


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
    with pytest.raises(SystemExit) as left:
        read_command(arguments)
    assert left.value.code == 2 and wrong in capsys.readouterr().err


def test_an_address_that_is_none_is_one_sentence(tmp_path: Path) -> None:
    for address in ("mysql://a/b", "nonsense", "postgresql+psycopg://host"):
        assert "postgresql+psycopg://name@host" in refused("doctor", "--database", address)


def test_what_is_read_of_the_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    settings = Settings(tmp_path)
    for name in ("backup", "restore"):
        given = read_command([name, "--data", str(tmp_path), "f"])
        assert (given.do, given.settings, given.file) == (name, settings, Path("f"))
    # Said before the command or after it.
    for words in (["doctor", "--data", str(tmp_path)], ["--data", str(tmp_path), "doctor"]):
        given = read_command(words)
        assert (given.do, given.settings) == ("doctor", settings)
    given = read_command(["move", "--from", "a", "--to", "b"])
    assert (given.do, given.source, given.target) == ("move", "a", "b")
    monkeypatch.setenv("BENCHSIDE_DATABASE", "postgresql+psycopg://a@b/c")
    found = read_command(["doctor"])
    assert found.settings.database_url == "postgresql+psycopg://a@b/c"
