"""What stands before every page: who may call, from where, how much, and what browsers may do with it.

A key travels in a cookie, and a browser sends cookies whoever asked it to. So a host name that is not ours
is refused (a foreign name may point at this computer), and so is a change that another site's page asked for.
"""

from __future__ import annotations

import html
import logging
from collections import Counter
from collections.abc import Iterable
from fnmatch import fnmatchcase
from ipaddress import ip_address
from urllib.parse import urlsplit

from fastapi import HTTPException
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from webapp.web.settings import Settings, bracketed

BODY_LIMIT = 1_000_000
# A form is taken apart sign by sign. The longest there is, a lesson with all its notes, fits in this; and
# what anybody may send who has no key, a code and a name, in less.
FORM_LIMIT = 400_000
KNOCK_LIMIT = 8_000
KNOCKS = ("/pair", "/enter/", "/back/")
FORM_TYPE = "application/x-www-form-urlencoded"
# A data logger's file may be larger, and so may a whole bench or a take; it goes to disk as it comes.
# Path, with * for anything: limit and the sentence above it.
UPLOADS = {
    "/air/import": (
        64_000_000,
        "This file is larger than 64 MB. Export a shorter time from the logger, and import it in parts.",
    ),
    "/data/import": (
        16_000_000,
        "This file is larger than 16 MB, which is more than a bench of many years. Is it the right one?",
    ),
    "/setups/*/listen/*": (
        64_000_000,
        "This file is larger than 64 MB. Record sound without a picture, or a shorter take.",
    ),
}
# Files on their way in at one time, of everybody and from one address (a class has one).
UPLOADS_TOGETHER, UPLOADS_EACH = 16, 12
TOO_MUCH = "That is more than Benchside takes at once (1 MB). Nothing was changed: send something shorter."
LONG_FORM = "That is more than a form of Benchside holds. Nothing was changed: send something shorter."
MANY_UPLOADS = "Many files are on their way in just now. Wait a moment, then send this one again."
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
            "object-src 'none'",
            "base-uri 'none'",
            "frame-ancestors 'none'",
        )
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Resource-Policy": "same-origin",
}
# Browsers heed these two only where they trust the connection, and complain of them elsewhere.
SECURE_HEADERS = {"Cross-Origin-Opener-Policy": "same-origin"}
HOSTED_HEADERS = {"Strict-Transport-Security": "max-age=31536000"}
# With anything less, a browser's Back shows the page as it was before the last save.
PAGE_CACHE = "no-store"
LOG = logging.getLogger("benchside")


class Hosts:
    """The names by which this app may be called: a Host header, port and all."""

    def __init__(self, settings: Settings) -> None:
        self._port = 443 if settings.proxies else settings.port
        self._default = 443 if settings.secure else 80
        self._any_address = settings.any_address and not settings.hosted
        names = set(settings.extra_hosts)
        if not settings.hosted:
            names |= {"localhost", "127.0.0.1", "[::1]", bracketed(settings.host)}
        self._allowed = {form for name in names for form in self._forms(name.lower())}

    def _forms(self, name: str) -> set[str]:
        if name.rpartition(":")[2].isdigit() and not name.endswith("]"):
            return {name}
        return {f"{name}:{self._port}", name} if self._port == self._default else {f"{name}:{self._port}"}

    def allows(self, host: str) -> bool:
        return host.lower() in self._allowed or (self._any_address and self._is_address(host))

    def _is_address(self, host: str) -> bool:
        """A bare address is not a name, so nobody else can point it here."""
        try:
            parts = urlsplit(f"//{host}")
            ip_address(parts.hostname or "")
            return (parts.port or self._default) == self._port and parts.username is None
        except ValueError:
            return False


class Guard:
    """Pure ASGI middleware, outermost but for the server's own."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app = app
        self._settings = settings
        self._hosts = Hosts(settings)
        self._headers = security_headers(settings)
        self._coming: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        guarded = _with_headers(send, self._headers)
        refusal = self._refusal(scope)
        if refusal is not None:
            status, title, sentence = refusal
            LOG.info("refused", extra={"why": title, "status": status})
            await _small_page(status, title, sentence)(scope, receive, guarded)
            return
        limited = _limited(receive, _most(scope)[0])
        if not _is_upload(scope):
            await self._app(scope, limited, guarded)
            return
        who = scope["client"][0] if scope.get("client") else ""
        self._coming[who] += 1
        try:
            await self._app(scope, limited, guarded)
        finally:
            self._coming -= Counter({who: 1})

    def _refusal(self, scope: Scope) -> tuple[int, str, str] | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if len(headers.getlist("host")) != 1 or not self._hosts.allows(host):
            return 400, "Not our address", self._wrong_host()
        if "\x00" in scope["path"] or b"%00" in scope["query_string"]:
            return 404, "Nothing here", "There is no page at this address. It may have been mistyped."
        if self._settings.hosted and scope["scheme"] != "https":
            return 400, "Not over https", INSECURE
        if scope["method"] not in SAFE_METHODS and not _same_origin(headers, scope["scheme"], host):
            return 403, "Nothing was changed", FOREIGN
        most, sentence = _most(scope)
        if _declared_length(headers.getlist("content-length")) > most:
            return 413, "Too much at once", sentence
        if _is_upload(scope) and self._is_crowded(scope):
            return 503, "Too many files just now", MANY_UPLOADS
        return None

    def _is_crowded(self, scope: Scope) -> bool:
        who = scope["client"][0] if scope.get("client") else ""
        return self._coming.total() >= UPLOADS_TOGETHER or self._coming[who] >= UPLOADS_EACH

    def _wrong_host(self) -> str:
        return (
            f"This address is not one that Benchside answers to. Open {self._settings.address} instead. "
            "If this name is yours, start Benchside with --name and the name."
        )


INSECURE = (
    "This Benchside is served over https only. If it stands behind a proxy, let the proxy send "
    "X-Forwarded-Proto, and start Benchside with --proxy and the proxy's address."
)
FOREIGN = (
    "This did not come from one of Benchside's own pages. "
    "Go back to the page, load it again, and send it from there."
)


def security_headers(settings: Settings) -> dict[str, str]:
    """What every answer tells the browser."""
    headers = {**SECURITY_HEADERS, "Cache-Control": PAGE_CACHE}
    if settings.secure:
        headers |= SECURE_HEADERS
    return headers | HOSTED_HEADERS if settings.hosted else headers


def _small_page(status: int, title: str, sentence: str) -> HTMLResponse:
    """Whoever called by a wrong name could not load the pages' style, so this one has none.

    With script, the form that was sent stays, and the sentence appears above it (`data-keep`).
    """
    body = f"<h1>{html.escape(title)}</h1><p data-keep>{html.escape(sentence)}</p>"
    head = f'<meta charset="utf-8"><title>{html.escape(title)} · Benchside</title>'
    viewport = '<meta name="viewport" content="width=device-width, initial-scale=1">'
    return HTMLResponse(f'<!doctype html><html lang="en-GB">{head}{viewport}{body}</html>\n', status)


def _same_origin(headers: Headers, scheme: str, host: str) -> bool:
    """No script can set either header. Plain http sends no Sec-Fetch-Site, some requests no Origin.

    What is sent must not speak against us, and one of the two must speak for us.
    """
    origins, sites = headers.getlist("origin"), headers.getlist("sec-fetch-site")
    if origins:
        own = f"{scheme}://{host}".lower()
        against = {"same-site", "cross-site"} & set(sites)
        return [origin.lower() for origin in origins] == [own] and not against
    return sites == ["same-origin"]


def _is_upload(scope: Scope) -> bool:
    return _upload(scope) is not None and scope["method"] not in SAFE_METHODS


def _most(scope: Scope) -> tuple[int, str]:
    """How much of a body is taken at this place, and what is said about more."""
    if scope["path"].startswith(KNOCKS):
        return KNOCK_LIMIT, LONG_FORM
    if Headers(scope=scope).get("content-type", "").partition(";")[0].strip().lower() == FORM_TYPE:
        return FORM_LIMIT, LONG_FORM
    return _upload(scope) or (BODY_LIMIT, TOO_MUCH)


def _upload(scope: Scope) -> tuple[int, str] | None:
    """What is said of this place's files, where it takes any."""
    return next((most for path, most in UPLOADS.items() if fnmatchcase(scope["path"], path)), None)


def _declared_length(values: Iterable[str]) -> int:
    return max((int(value) for value in values if value.isascii() and value.isdigit()), default=0)


def _limited(receive: Receive, most: int) -> Receive:
    """A body may come without saying how long it is; then it is counted as it comes."""
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            raise HTTPException(413)
        return message

    return limited


def _with_headers(send: Send, wanted: dict[str, str]) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in wanted.items():
                headers.setdefault(name, value)
        await send(message)

    return guarded
