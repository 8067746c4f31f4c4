"""What stands before every page: who may call, from where, how much, and what browsers may do with it.

There is no key yet: whoever can make the player's own browser send a request could change the bench.
So a host name that is not ours is refused (a foreign name may point at this computer), and so is a change
that another site's page asked for.
"""

from __future__ import annotations

from collections.abc import Iterable
from ipaddress import ip_address
from urllib.parse import urlsplit

from fastapi import HTTPException
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from webapp.settings import Settings, bracketed

BODY_LIMIT = 1_000_000
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
SECURITY_HEADERS = {
    "Content-Security-Policy": "; ".join(
        (
            "default-src 'none'",
            "script-src 'self'",
            "style-src 'self'",
            "img-src 'self' data:",
            "connect-src 'self'",
            "form-action 'self'",
            "base-uri 'none'",
            "frame-ancestors 'none'",
        )
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Resource-Policy": "same-origin",
}
# With anything less, a browser's Back shows the page as it was before the last save.
PAGE_CACHE = "no-store"


class Hosts:
    """The names by which this app may be called: a Host header, port and all."""

    def __init__(self, settings: Settings) -> None:
        names = {"localhost", "127.0.0.1", "[::1]", bracketed(settings.host), *settings.extra_hosts}
        self._allowed = {_with_port(name, settings.port) for name in names}
        if settings.port == 80:
            self._allowed |= {name.lower() for name in names}
        self._port = settings.port
        self._any_address = settings.host in ("0.0.0.0", "::")

    def allows(self, host: str) -> bool:
        return host.lower() in self._allowed or (self._any_address and self._is_address(host))

    def _is_address(self, host: str) -> bool:
        """A bare address is not a name, so nobody else can point it here."""
        try:
            parts = urlsplit(f"//{host}")
            ip_address(parts.hostname or "")
            return (parts.port or 80) == self._port and parts.username is None
        except ValueError:
            return False


def _with_port(name: str, port: int) -> str:
    return f"{name.lower()}:{port}"


class Guard:
    """Pure ASGI middleware, outermost but for the server's own."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app = app
        self._hosts = Hosts(settings)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        guarded = _with_headers(send)
        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, guarded)
            return
        await self._app(scope, _limited(receive), guarded)

    def _refusal(self, scope: Scope) -> PlainTextResponse | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if not self._hosts.allows(host):
            return PlainTextResponse("This address is not one that Benchside answers to.\n", 400)
        if scope["method"] not in SAFE_METHODS and not _same_origin(headers, scope["scheme"], host):
            return PlainTextResponse(
                "Nothing was changed: this did not come from one of Benchside's own pages.\n", 403
            )
        if _declared_length(headers.getlist("content-length")) > BODY_LIMIT:
            return PlainTextResponse("That is more than Benchside takes at once (1 MB).\n", 413)
        return None


def _same_origin(headers: Headers, scheme: str, host: str) -> bool:
    """No script can set either header, so each is evidence by itself. Plain http has no Sec-Fetch-Site."""
    own = f"{scheme}://{host}".lower()
    return headers.get("origin", "").lower() == own or headers.get("sec-fetch-site") == "same-origin"


def _declared_length(values: Iterable[str]) -> int:
    return max((int(value) for value in values if value.isascii() and value.isdigit()), default=0)


def _limited(receive: Receive) -> Receive:
    """A body may come without saying how long it is; then it is counted as it comes."""
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > BODY_LIMIT:
            raise HTTPException(413)
        return message

    return limited


def _with_headers(send: Send) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in SECURITY_HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("Cache-Control", PAGE_CACHE)
        await send(message)

    return guarded
