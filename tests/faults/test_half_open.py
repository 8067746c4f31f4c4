"""Connections that say nothing, or only half of what they came to say, while a player is at the bench."""

from __future__ import annotations

import os
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest

import webapp
from tests.forked import PATIENCE_S, free_port
from webapp.command import connections

TOP = Path(webapp.__file__).parent.parent
CERT = TOP / "tests" / "tls" / "cert.pem"
HALVES = (b"GET / HTTP/1.1\r\n", b"", b"POST /pair HTTP/1.1\r\nHost: x\r\nContent-Length: 9000\r\n\r\ncode=")
SOCKETS = 400
PAGE_WITHIN_S = 1.0
WAYS = ("home", "phone", "tls", "proxy")


@dataclass
class Served:
    """A Benchside in a process of its own that may open so many files."""

    way: str
    port: int
    log: Path

    @property
    def tls(self) -> bool:
        return self.way == "tls"

    def browser(self) -> httpx.Client:
        told = {"X-Forwarded-Proto": "https", "Host": "bench.test"} if self.way == "proxy" else {}
        scheme = "https" if self.tls else "http"
        verify = ssl.create_default_context(cafile=str(CERT)) if self.tls else False
        address = f"{scheme}://127.0.0.1:{self.port}"
        return httpx.Client(base_url=address, headers=told, verify=verify, timeout=20)

    def half_open(self, held: ExitStack, number: int) -> None:
        line = held.enter_context(closing(socket.create_connection(("127.0.0.1", self.port), timeout=10)))
        if self.tls and number % 2:
            # Half of them do greet first, and then say as little.
            context = ssl.create_default_context(cafile=str(CERT))
            try:
                line = held.enter_context(closing(context.wrap_socket(line, server_hostname="localhost")))
            except OSError:
                return
        with_words = HALVES[number % len(HALVES)]
        try:
            line.sendall(with_words)
        except OSError:
            return


def _options(way: str) -> list[str]:
    key = str(CERT.with_name("key.pem"))
    return {
        "home": ["--no-browser"],
        "phone": ["--no-browser", "--phone"],
        "tls": ["--no-browser", "--tls-cert", str(CERT), "--tls-key", key],
        "proxy": ["serve", "--name", "bench.test", "--proxy", "127.0.0.1"],
    }[way]


@contextmanager
def served(way: str, folder: Path, descriptors: int) -> Iterator[Served]:
    port, log = free_port(), folder / "log"
    told = [*_options(way), "--data", str(folder / "data"), "--port", str(port)]
    limited = ["bash", "-c", f'ulimit -n {descriptors}; exec "$0" -m webapp "$@"', sys.executable, *told]
    with log.open("wb") as out:
        process = subprocess.Popen(limited, cwd=TOP, stdout=out, stderr=out)
    made = Served(way, port, log)
    try:
        _wait(made, process)
        yield made
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(PATIENCE_S)


def _wait(made: Served, process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until and process.poll() is None:
        try:
            with made.browser() as browser:
                browser.get("/static/icon.svg")
            return
        except httpx.TransportError:
            time.sleep(0.1)
    raise RuntimeError(f"it did not start:\n{made.log.read_text()}")


def took(browser: httpx.Client) -> float:
    """How long a player's page takes, a lost connection and its second try counted in."""
    began = time.monotonic()
    for _ in range(2):
        try:
            assert browser.get("/pair").status_code == 200
            break
        except httpx.TransportError:
            continue
    return time.monotonic() - began


@pytest.mark.parametrize("descriptors", [128, 1024])
@pytest.mark.parametrize("way", WAYS)
def test_a_players_page_comes_beside_four_hundred_half_open_connections(
    way: str, descriptors: int, tmp_path: Path
) -> None:
    with ExitStack() as held:
        house = held.enter_context(served(way, tmp_path, descriptors))
        kept = held.enter_context(house.browser())
        took(kept)
        for number in range(SOCKETS):
            house.half_open(held, number)
        times = []
        for _ in range(5):
            with house.browser() as fresh:
                times += [took(fresh), took(kept)]
        print(f"{way}, {descriptors} descriptors: at most {1000 * max(times):.0f} ms")
        assert max(times) < PAGE_WITHIN_S
    assert house.log.stat().st_size < 100_000, "a log that fills the disk is an attack of its own"
    assert "Traceback" not in house.log.read_text()


# What is sent, what is answered, and what was waited for.
HEAD = b"GET / HTTP/1.1\r\n"
FORM = b"Content-Type: application/x-www-form-urlencoded\r\n"
POST = b"POST /pair HTTP/1.1\r\n%b" + FORM + b"Content-Length: %d\r\n\r\ncode="
LEFT_OPEN = [
    (HEAD, b"408", connections.Waits.HEAD),
    (POST % (b"OWN", 5_000), b"408", connections.Waits.BODY),
    # Refused before it is all here; whoever goes on to say nothing is not waited for either.
    (POST % (b"OWN", 9_000), b"413", connections.Waits.BODY),
]


def test_half_a_head_and_half_a_body_are_given_up(tmp_path: Path) -> None:
    with served("home", tmp_path, 1024) as house, ExitStack() as held:
        began, lines = time.monotonic(), []
        own = f"Host: 127.0.0.1:{house.port}\r\nOrigin: http://127.0.0.1:{house.port}\r\n".encode()
        for words, _, _ in LEFT_OPEN:
            line = held.enter_context(closing(socket.create_connection(("127.0.0.1", house.port))))
            line.settimeout(60)
            line.sendall(words.replace(b"OWN", own))
            lines.append(line)
        for line, (_, status, waits) in zip(lines, LEFT_OPEN, strict=True):
            said = heard(line)
            assert said.startswith(b"HTTP/1.1 " + status), said
            assert said.count(b"HTTP/1.1") == 1
            assert time.monotonic() - began < connections.PATIENCE_S[waits] + 5
    assert "Traceback" not in house.log.read_text()


def heard(line: socket.socket) -> bytes:
    """All that comes until the other end closes."""
    found = b""
    while piece := line.recv(4096):
        found += piece
    return found


def test_a_head_that_comes_by_drops_is_given_up_too(tmp_path: Path) -> None:
    with served("home", tmp_path, 1024) as house:
        with closing(socket.create_connection(("127.0.0.1", house.port))) as line:
            line.sendall(b"GET / HTTP/1.1\r\n")
            began, alive = time.monotonic(), True
            while alive and time.monotonic() - began < 30:
                try:
                    line.sendall(b"X-Word: 1\r\n")
                    time.sleep(0.5)
                except OSError:
                    alive = False
        assert not alive
        assert time.monotonic() - began < connections.PATIENCE_S[connections.Waits.HEAD] + 5


def test_the_limit_of_open_files_is_raised_where_it_may_be(tmp_path: Path) -> None:
    if os.name != "posix":
        pytest.skip("only there is such a limit")
    script = (
        "import resource, sys\n"
        "hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]\n"
        "resource.setrlimit(resource.RLIMIT_NOFILE, (100, hard))\n"
        "from webapp.command.connections import raise_descriptors\n"
        "print(raise_descriptors(), *resource.getrlimit(resource.RLIMIT_NOFILE))"
    )
    told = subprocess.run([sys.executable, "-c", script], cwd=TOP, capture_output=True, text=True, check=True)
    got, soft, hard = map(int, told.stdout.split())
    wanted = connections.WANTED_DESCRIPTORS
    assert got == soft == (wanted if hard < 0 else min(wanted, hard))
