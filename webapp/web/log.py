"""The log of the hosted form: one JSON object a line, and no secret in it.

A path may hold a code or a token, so a request is logged by its route ("/enter/{code}"), never by its path,
query, headers or body.
"""

from __future__ import annotations

import json
import logging
import sys
import time
from datetime import UTC, datetime
from typing import TextIO

from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOG = logging.getLogger("benchside")
FIELDS = ("method", "route", "status", "ms", "client", "key", "bench", "device", "why")
MOST_KINDS = 200


class OneLine(logging.Formatter):
    """JSON, so that nothing a caller sends can begin a line of its own."""

    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        line: dict[str, object] = {"at": at, "level": record.levelname.lower(), "what": record.getMessage()}
        line |= {name: getattr(record, name) for name in FIELDS if hasattr(record, name)}
        if record.exc_info and record.exc_info[0] is not None:
            line["error"] = record.exc_info[0].__name__
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=True)


def start_log(stream: TextIO | None = None) -> None:
    """Everything of ours, and what the server itself has to say, to one stream."""
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(OneLine())
    for name, level in (
        ("benchside", logging.INFO),
        ("uvicorn", logging.WARNING),
        ("asyncio", logging.WARNING),
    ):
        logger = logging.getLogger(name)
        logger.handlers = [handler]
        logger.propagate = False
        logger.setLevel(level)


class FewOfAKind(logging.Filter):
    """Lets so many lines of one kind through in a minute, and then says how many it kept back.

    What one caller can bring about a thousand times a second must not fill the disk.
    """

    def __init__(self, most: int = 20, window_s: float = 60.0) -> None:
        super().__init__()
        self._most, self._window_s = most, window_s
        self._seen: dict[object, tuple[float, int]] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        if record.levelno < logging.WARNING:
            return True
        fault = record.exc_info[0] if record.exc_info else None
        kind = record.name, record.levelno, str(record.msg)[:80], fault
        began, count = self._seen.get(kind, (record.created, 0))
        if not 0 <= record.created - began < self._window_s:
            if count > self._most:
                record.msg = f"{record.msg} (and {count - self._most} more like it before)"
            began, count = record.created, 0
        if len(self._seen) > MOST_KINDS:
            self._seen.clear()
        self._seen[kind] = began, count + 1
        return count < self._most


def limit_lines() -> None:
    """No kind of line without end, in any form of the app."""
    for name in ("benchside", "uvicorn.error", "asyncio"):
        logger = logging.getLogger(name)
        if not any(isinstance(one, FewOfAKind) for one in logger.filters):
            logger.addFilter(FewOfAKind())


class AccessLog:
    """Pure ASGI middleware: a line for each answer."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not LOG.isEnabledFor(logging.INFO):
            await self._app(scope, receive, send)
            return
        began = time.perf_counter()
        status = 500

        async def watched(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self._app(scope, receive, watched)
        finally:
            took = round(1000 * (time.perf_counter() - began), 1)
            LOG.info("answered", extra={**who(scope), "status": status, "ms": took})


def who(scope: Scope) -> dict[str, object]:
    """Who asked for what, without the words of the address."""
    unknown = "/static" if scope["path"].startswith("/static/") else "(none)"
    client, state = scope.get("client"), scope.get("state", {})
    told: dict[str, object] = {
        "method": scope["method"],
        "route": getattr(scope.get("route"), "path", unknown),
        "client": client[0] if client else "",
    }
    return told | {name: state[name] for name in ("key", "bench") if name in state}
