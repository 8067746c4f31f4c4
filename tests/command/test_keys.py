"""`benchside keys` as it is typed: what holds a key to a bench, and taking keys back."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import pytest
from sqlmodel import select

from tests.command.test_ways_in import NAME
from tests.command.typed import refused, running, said_by
from tests.forked import PATIENCE_S, free_port
from webapp.command.arguments import read_command
from webapp.command.keys import look_after
from webapp.store import benches, keys, ways_in
from webapp.store.engine import open_store, reading, writing
from webapp.store.tables import Bench
from webapp.web.settings import Settings

NOW = datetime.now(UTC)


def test_beside_a_running_benchside_a_key_is_listed_and_taken_back(tmp_path: Path) -> None:
    port = free_port()
    with running("--no-browser", "--data", tmp_path, "--port", port) as (_, said, _errors):
        (link,) = (line.removeprefix("Come in: ") for line in said if line.startswith("Come in: "))
        origin = f"http://127.0.0.1:{port}"
        with httpx.Client(base_url=origin, headers={"Origin": origin}, timeout=PATIENCE_S) as browser:
            assert browser.post(link).status_code == 303
            assert browser.get("/").status_code == 200
            head, line = said_by("keys", "--data", tmp_path).splitlines()
            assert head.split() == ["key", "made", "last", "used", "device"]
            key = line[:12]
            assert re.fullmatch(r".{12}  (\d{4}-\d\d-\d\d \d\d:\d\d  ){2}\S.*", line)
            assert not any(secret in line for secret in browser.cookies.values())
            assert "nobody" in refused("keys", "--data", tmp_path, "--revoke=nobody")
            assert browser.get("/").status_code == 200
            told = said_by("keys", "--data", tmp_path, f"--revoke={key}")
            assert told.startswith("Taken back: ") and key in told
            assert browser.get("/").status_code == 401
        assert said_by("keys", "--data", tmp_path).startswith("No device holds a key")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The data of a hosted Benchside that is stopped, with two benches."""
    engine = open_store(Settings(tmp_path).database)
    with writing(engine) as session:
        benches.served_at(session, f"https://{NAME}/", hosted=True)
        for _ in range(2):
            bench_id = benches.make(session, NOW)
            keys.make_key(session, bench_id, "Phone", NOW - timedelta(days=3))
            keys.make_key(session, bench_id, "Old\x1b[2J laptop", NOW)
    engine.dispose()
    return tmp_path


def bench_ids(folder: Path) -> list[str]:
    engine = open_store(Settings(folder).database)
    with reading(engine) as session:
        found = sorted(session.exec(select(Bench.id)))
    engine.dispose()
    return found


def did(folder: Path, capsys: pytest.CaptureFixture[str], *arguments: str) -> list[str]:
    look_after(read_command(["keys", "--data", str(folder), *arguments]))
    return capsys.readouterr().out.splitlines()


def test_only_the_named_benchs_keys_go(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one, other = bench_ids(folder)
    before = did(folder, capsys, f"--bench={other}")
    assert did(folder, capsys, f"--bench={one}", "--revoke-all")[0].startswith("Taken back: 2 keys")
    assert did(folder, capsys, f"--bench={one}")[0].startswith("No device")
    assert did(folder, capsys, f"--bench={other}") == before and len(before) == 3
    with pytest.raises(Exception, match="no device of this bench"):
        did(folder, capsys, f"--bench={one}", f"--revoke={before[1][:12]}")
    assert did(folder, capsys, f"--bench={other}") == before


def test_a_name_cannot_move_about_in_the_terminal(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    listed = "\n".join(did(folder, capsys, f"--bench={bench_ids(folder)[0]}"))
    assert "Old?[2J laptop" in listed and "\x1b" not in listed


def test_taking_all_back_closes_the_codes_that_nobody_used(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one, other = bench_ids(folder)
    engine = open_store(Settings(folder).database)
    with writing(engine) as session:
        gone, kept = (ways_in.make_entry(session, bench_id, NOW) for bench_id in (one, other))
        paired = ways_in.make_pairing(session, one, NOW).code
    did(folder, capsys, f"--bench={one}", "--revoke-all")
    with writing(engine) as session:
        assert ways_in.use_entry(session, gone, datetime.now(UTC)) is None
        assert ways_in.use_pairing(session, paired, datetime.now(UTC)) is None
        assert ways_in.use_entry(session, kept, datetime.now(UTC)) == other
    engine.dispose()


def test_a_bench_must_be_named_where_there_are_several_and_be_there(folder: Path, tmp_path: Path) -> None:
    assert "--bench=ID" in refused("keys", "--data", folder)
    assert "no bench 'nowhere'" in refused("keys", "--data", folder, "--bench=nowhere")
    assert "no bench here yet" in refused("keys", "--data", tmp_path / "new")


def test_what_is_typed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    settings = Settings(tmp_path)
    told = [([], ("", "", False)), (["--bench=-b", "--revoke=-k"], ("-b", "-k", False)),
            (["--revoke-all"], ("", "", True))]  # fmt: skip
    for words, meant in told:
        given = read_command(["keys", "--data", str(tmp_path), *words])
        assert (given.do, given.settings) == ("keys", settings)
        assert (given.bench, given.revoke or "", given.revoke_all) == meant
    for words in (["--revoke=a", "--revoke-all"], ["--revoke="], ["--revoke"], ["a"]):
        with pytest.raises(SystemExit) as ended:
            read_command(["keys", *words])
        assert ended.value.code == 2
    assert "say which key" in capsys.readouterr().err
