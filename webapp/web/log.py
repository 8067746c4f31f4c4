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
    for name, level in (("benchside", logging.INFO), ("uvicorn", logging.WARNING)):
        logger = logging.getLogger(name)
        logger.handlers = [handler]
        logger.propagate = False
        logger.setLevel(level)


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
