"""HTTP/1.1 over one kept connection, in as few steps as it takes.

The load maker shares the computer with what it measures, and a client library takes a millisecond or two of
processor time for each request. This takes far less, and understands only what our own server says.
"""

from __future__ import annotations

import asyncio
import gzip
import time
from collections.abc import Mapping
from ipaddress import ip_address
from typing import NamedTuple
from urllib.parse import urlsplit

TIMEOUT_S = 30.0
# Shorter than the server's own five seconds, so that it never hangs up while a form is on its way.
IDLE_S = 4.0


class NoAnswer(Exception):
    """The connection broke, or nothing came in time."""


class Answer(NamedTuple):
    """`headers` as they came, their names in small letters."""

    status: int
    headers: list[tuple[str, str]]
    body: bytes

    def header(self, name: str) -> str:
        return next((value for found, value in self.headers if found == name), "")

    @property
    def text(self) -> str:
        packed = self.header("content-encoding") == "gzip"
        return (gzip.decompress(self.body) if packed else self.body).decode()


def only_here(address: str) -> tuple[str, int]:
    """The host and port of an address on this computer; nothing else is ever put under load."""
    parts = urlsplit(address)
    try:
        here = ip_address(parts.hostname or "").is_loopback
    except ValueError:
        here = False
    if parts.scheme != "http" or not here or parts.hostname is None:
        raise ValueError(f"{address} is not on this computer, so it is left alone.")
    return parts.hostname, parts.port or 80


class Connection:
    """Opened when it is needed, kept while it is used. `headers` go with every request."""

    def __init__(self, address: str, headers: Mapping[str, str]) -> None:
        self._host, self._port = only_here(address)
        said = {"Host": f"{self._host}:{self._port}", "Accept-Encoding": "gzip", **headers}
        self._headers = "".join(f"{name}: {value}\r\n" for name, value in said.items())
        self._open: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None
        self._used_s = 0.0

    async def ask(self, method: str, path: str, cookie: str, form: str | None = None) -> Answer:
        """One request and its answer. Raises NoAnswer."""
        try:
            async with asyncio.timeout(TIMEOUT_S):
                reader, writer = await self._connected()
                writer.write(self._request(method, path, cookie, form))
                answer = await read_answer(reader)
        except (OSError, EOFError, ValueError, asyncio.LimitOverrunError, TimeoutError) as problem:
            self.close()
            raise NoAnswer(f"{type(problem).__name__}: {problem}") from problem
        self._used_s = time.monotonic()
        if answer.header("connection") == "close":
            self.close()
        return answer

    def close(self) -> None:
        if self._open is not None:
            self._open[1].close()
            self._open = None

    async def _connected(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        if self._open is not None and (self._open[0].at_eof() or time.monotonic() - self._used_s > IDLE_S):
            self.close()
        if self._open is None:
            self._open = await asyncio.open_connection(self._host, self._port)
        return self._open

    def _request(self, method: str, path: str, cookie: str, form: str | None) -> bytes:
        head = f"{method} {path} HTTP/1.1\r\n{self._headers}"
        if cookie:
            head += f"Cookie: {cookie}\r\n"
        if form is not None:
            head += f"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {len(form)}\r\n"
        return f"{head}\r\n{form or ''}".encode("ascii")


async def read_answer(reader: asyncio.StreamReader) -> Answer:
    """One answer, to its last byte."""
    lines = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1").split("\r\n")
    status = int(lines[0].split(" ", 2)[1])
    pairs = (line.partition(":") for line in lines[1:] if line)
    headers = [(name.lower(), value.strip()) for name, _, value in pairs]
    said = dict(headers)
    if "content-length" in said:
        return Answer(status, headers, await reader.readexactly(int(said["content-length"])))
    if said.get("transfer-encoding") == "chunked":
        return Answer(status, headers, await _chunks(reader))
    return Answer(status, headers, b"")


async def _chunks(reader: asyncio.StreamReader) -> bytes:
    whole = b""
    while size := int((await reader.readline()).strip(), 16):
        whole += (await reader.readexactly(size + 2))[:-2]
    await reader.readline()
    return whole
