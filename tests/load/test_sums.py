"""The load script's own sums, without a server."""

from __future__ import annotations

import asyncio
import gzip
import math
import random
import time
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

import pytest

from tests.load.connection import Answer, only_here, read_answer
from tests.load.options import read_options
from tests.load.pace import Over, Pace
from tests.load.routes import route_of
from tests.load.tally import Asked, Fault, by_route, growth_per_minute, percentile

T = TypeVar("T")


def finished(work: Coroutine[Any, Any, T]) -> T:
    """In a thread of its own: a browser's test in the same process may have left its loop in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, work).result()


def test_percentiles_are_values_that_were_measured() -> None:
    hundred = list(range(1, 101))
    random.Random(1).shuffle(hundred)
    assert [percentile(hundred, percent) for percent in (50, 95, 99, 100)] == [50, 95, 99, 100]
    assert percentile([3.0, 1.0], 50) == 1.0 and percentile([3.0, 1.0], 51) == 3.0
    assert percentile([7.5], 1) == 7.5
    assert math.isnan(percentile([], 95))


def test_growth_is_the_slope_for_a_minute() -> None:
    assert growth_per_minute([0, 30, 60], [100, 101, 102]) == pytest.approx(2)
    assert growth_per_minute([5, 10, 15, 20], [9, 9, 9, 9]) == 0
    # A jump and back in between is none.
    assert growth_per_minute([0, 10, 20], [5, 50, 5]) == pytest.approx(0)
    assert math.isnan(growth_per_minute([1], [1]))


@pytest.mark.parametrize(
    "method, path, route",
    [
        ("POST", "/setups/abc-1_2/read/height.3", "POST /setups/{setup_id}/read/{slot_key}"),
        ("GET", "/setups/abc/next?after=relief", "GET /setups/{setup_id}/next"),
        ("GET", "/lesson/secret-words", "GET /lesson/{token}"),
        ("GET", "/instruments/new?kind=bass_4_34", "GET /instruments/new"),
        ("GET", "/static/look.css?v=1", "GET /static"),
        ("POST", "/nowhere", "POST (none)"),
    ],
)
def test_addresses_are_named_by_their_route(method: str, path: str, route: str) -> None:
    assert route_of(method, path) == route


def test_the_table_counts_times_and_errors_of_each_route() -> None:
    asked = [Asked("GET", f"/setups/s{n}/next", 303, float(n)) for n in range(1, 21)]
    asked += [Asked("POST", "/setups/s1/finish", 500, 9.0)]
    lines = by_route(asked, [Fault("POST", "/setups/s1/finish", "500")], route_of)
    assert [(line.route, line.count, line.errors) for line in lines] == [
        ("GET /setups/{setup_id}/next", 20, 0), ("POST /setups/{setup_id}/finish", 1, 1),
    ]  # fmt: skip
    assert (lines[0].p50_ms, lines[0].p95_ms, lines[0].p99_ms) == (10, 19, 20)


def test_nothing_but_this_computer_is_put_under_load() -> None:
    assert only_here("http://127.0.0.1:8000") == ("127.0.0.1", 8000)
    assert only_here("http://[::1]:8000") == ("::1", 8000)
    for elsewhere in ("http://192.0.2.7:80", "http://bench.example.org", "http://127.0.0.1.example.org", "x"):
        with pytest.raises(ValueError, match="not on this computer"):
            only_here(elsewhere)


@pytest.mark.parametrize(
    "arguments",
    [
        ["--students", "1001"],
        ["--students", "0"],
        ["--seconds", "3601"],
        ["--steps", "0"],
        ["--workers", "9"],
        ["--form", "tablet"],
    ],
)
def test_a_run_is_bounded(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        read_options(arguments)
    assert ended.value.code == 2 and arguments[0] in capsys.readouterr().err


def test_what_is_not_said_is_chosen() -> None:
    usual, phone, many = (
        read_options(said) for said in ([], ["--form", "phone"], ["--students", "450"])
    )  # fmt: skip
    assert (usual.students, usual.seconds, usual.steps_per_s, usual.lessons, usual.joining_s) == (
        200, 300, 100, 1, 60,
    )  # fmt: skip
    assert phone.seconds == 60 and many.lessons == 3
    assert read_options(["--seconds", "20"]).joining_s == 4


def answer_of(raw: bytes) -> Answer:
    async def fed() -> Answer:
        reader = asyncio.StreamReader()
        reader.feed_data(raw)
        reader.feed_eof()
        return await read_answer(reader)

    return finished(fed())


def test_answers_are_read_whole_packed_or_in_pieces() -> None:
    packed = gzip.compress("grün".encode())
    head = b"HTTP/1.1 200 OK\r\nContent-Encoding: gzip\r\nSet-Cookie: a=1\r\nset-cookie: b=2\r\n"
    whole = answer_of(head + f"content-length: {len(packed)}\r\n\r\n".encode() + packed + b"rest")
    assert whole.text == "grün" and [v for name, v in whole.headers if name == "set-cookie"] == ["a=1", "b=2"]
    pieces = b"3\r\nabc\r\nA\r\n0123456789\r\n0\r\n\r\n"
    chunked = answer_of(b"HTTP/1.1 409 X\r\nTransfer-Encoding: chunked\r\n\r\n" + pieces)
    assert (chunked.status, chunked.text) == (409, "abc0123456789")
    with pytest.raises(EOFError):
        answer_of(b"HTTP/1.1 200 OK\r\ncontent-length: 10\r\n\r\nshort")


def test_what_is_late_is_said_and_does_not_move_what_comes_after() -> None:
    async def late() -> list[float]:
        pace = Pace(0.02, time.monotonic() + 5, random.Random(3))
        found = [await pace.wait()]
        time.sleep(0.2)
        return found + [await pace.wait() for _ in range(2)]

    first, second, third = finished(late())
    assert first < 100 < third < second

    async def over() -> None:
        await Pace(1, time.monotonic(), random.Random(3)).wait()

    with pytest.raises(Over):
        finished(over())
