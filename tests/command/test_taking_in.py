"""The process that takes a bench file in: what it tells, how it is bound, and when it ends."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil
import pytest
from sqlalchemy import Engine

from tests.forked import PATIENCE_S
from tests.setups.bench_files import bench, entry, instrument, sent, setup
from webapp.command import taking_in
from webapp.command.taking_in import TOO_LARGE, Telling, take_in
from webapp.hearing.apart import NICENESS, start
from webapp.store import benches
from webapp.store.bench_file import whole
from webapp.store.engine import address_of, reading, writing
from webapp.store.errors import Damaged

CHILD = "webapp.command.taking_in"
on_linux = pytest.mark.skipif(sys.platform != "linux", reason="the bounds are Linux's")


class Home:
    """A bench, and a file that is to be taken in on it."""

    def __init__(self, engine: Engine, folder: Path) -> None:
        self.engine, self.file = engine, folder / "sent.bench"
        with writing(engine) as session:
            self.bench = benches.get_or_create_local_bench(session).id

    def wanted(self, data: bytes) -> dict[str, str]:
        self.file.write_bytes(data)
        return {"path": str(self.file), "bench": self.bench, "address": address_of(self.engine)}

    def told(self, data: bytes) -> dict[str, Any]:
        """What the process would tell in the end, told by this one."""
        return take_in(**self.wanted(data), telling=Telling())

    def begun(self, data: bytes, module: str = CHILD) -> subprocess.Popen[bytes]:
        child = start(module, stdin=subprocess.PIPE)
        assert child.stdin is not None
        child.stdin.write(json.dumps(self.wanted(data)).encode() + b"\n")
        child.stdin.flush()
        return child

    def instruments(self) -> int:
        with reading(self.engine) as session:
            return whole.size(session, self.bench).instruments


@pytest.fixture
def home(engine: Engine, tmp_path: Path) -> Home:
    return Home(engine, tmp_path)


def many_setups(count: int) -> bytes:
    names = [f"s{n}" for n in range(count)]
    return sent(
        bench(
            instrument(
                setups=[setup(name, n) for n, name in enumerate(names)],
                entries=[entry("e", n, name) for n, name in enumerate(names)],
            )
        )
    )


def told_until(child: subprocess.Popen[bytes], ready: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    """The first that it tells of this kind."""
    assert child.stdout is not None
    for line in child.stdout:
        told: dict[str, Any] = json.loads(line)
        if ready(told):
            return told
    assert child.stderr is not None
    raise AssertionError(child.stderr.read())


def test_it_tells_how_far_it_is_and_in_the_end_what_came_in(home: Home) -> None:
    with home.begun(many_setups(120)) as child:
        assert child.stdout is not None
        *steps, last = map(json.loads, child.stdout)
        assert child.wait(PATIENCE_S) == 0
    assert last["came"]["rows"][2] == ["Setups", 120, 0, 0]
    assert steps[0]["step"] == "reading" and steps[-1]["of"] in (0, 120)
    assert [one["done"] for one in steps] == sorted(one["done"] for one in steps)
    assert home.instruments() == 1


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"hello", "it is not JSON"),
        (b"{}", "not a bench of Benchside"),
        (sent(bench() | {"version": 9}), "made by a newer Benchside"),
        (sent(bench(instrument(entries=[entry("e", 1, value="x")]))), "entry 1, value"),
    ],
)
def test_a_bad_file_is_told_with_its_sentence(home: Home, data: bytes, sentence: str) -> None:
    told = home.told(data)
    assert sentence in told["faults"][0] and told["count"] == 1
    assert home.instruments() == 0


def test_damage_and_trouble_are_told_and_slips_of_ours_are_not_hidden(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = sent(bench(instrument()))
    for problem, sentence in (
        (Damaged(), "The data seems damaged."),
        (OSError(28, "No space left on device"), "The disk is full."),
        (MemoryError(), TOO_LARGE),
    ):

        def fail(*_: object, problem: Exception = problem) -> None:
            raise problem

        monkeypatch.setattr(taking_in, "add", fail)
        assert sentence in home.told(data)["faults"][0]
    monkeypatch.setattr(taking_in, "add", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        home.told(data)


@on_linux
@pytest.mark.parametrize(
    ("bound", "ends"),
    [("MEMORY_BYTES = 400_000_000", 0), ("PROCESSOR_S = 1", -signal.SIGKILL)],
)
def test_its_hands_are_bound(home: Home, bound: str, ends: int) -> None:
    code = f"import webapp.command.taking_in as t\nt.{bound}\nt.main()"
    data = b'{"air": [' + b"[0.5], " * 2_000_000 + b"0]}"
    where = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    line = json.dumps(home.wanted(data)).encode() + b"\n"
    with subprocess.Popen(
        [sys.executable, "-B", "-c", code],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=where,
    ) as child:  # fmt: skip
        assert child.stdin is not None and child.stdout is not None
        child.stdin.write(line)
        child.stdin.flush()
        last = child.stdout.read().splitlines()[-1]
        assert child.wait(PATIENCE_S) == ends
    assert (json.loads(last).get("faults") == [TOO_LARGE]) == (ends == 0)


@on_linux
def test_it_judges_behind_others_and_adds_beside_them(home: Home) -> None:
    with home.begun(many_setups(600)) as child:
        told_until(child, lambda told: told["step"] == "judging")
        own = os.getpriority(os.PRIO_PROCESS, 0)
        found = {os.getpriority(os.PRIO_PROCESS, one.id) for one in psutil.Process(child.pid).threads()}
        child.kill()
    assert found == {own, min(19, own + NICENESS)}


def test_it_ends_with_whoever_started_it_and_nothing_came_in(home: Home) -> None:
    with home.begun(many_setups(600)) as child:
        told_until(child, lambda told: told["step"] == "judging")
        assert child.stdin is not None
        began = time.monotonic()
        child.stdin.close()
        assert child.wait(PATIENCE_S) == 1
        assert time.monotonic() - began < 5
    assert home.instruments() == 0
    assert home.told(many_setups(2))["came"]["rows"][0] == ("Instruments", 1, 0, 0)
