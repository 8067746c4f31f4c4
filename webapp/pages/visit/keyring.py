"""The key of a request: from the cookie to the store, and from the store to the cookie."""

from __future__ import annotations

import logging
from datetime import datetime

from fastapi import Request, Response

from webapp.store import keys
from webapp.store.engine import Session, reading, writing
from webapp.store.keys import UNUSED_FOR, KeyRow
from webapp.store.trouble import CANNOT
from webapp.web.state import AppState, state

LOG = logging.getLogger("benchside")


def secret_of(request: Request) -> str:
    """The secret that the browser brought, or nothing."""
    return request.cookies.get(state(request).cookie, "")


def held_key(request: Request, at: datetime) -> KeyRow | None:
    """The key that the browser holds, if it is good; its use is remembered, at most once a minute."""
    with reading(state(request).engine) as session:
        key = find_key(session, request, at)
    if key is not None:
        remember_use(request, key, at)
    return key


def find_key(session: Session, request: Request, at: datetime) -> KeyRow | None:
    """The key that the browser holds, if it is good; nothing is written."""
    secret = secret_of(request)
    key = keys.find(session, secret, at) if secret else None
    if key is not None:
        # For the line in the log.
        request.state.key, request.state.bench = key.id, key.bench_id
    return key


def remember_use(request: Request, key: KeyRow, at: datetime) -> None:
    """Keeps when the key was used, at most once a minute."""
    if keys.is_due(key, at):
        try:
            with writing(state(request).engine) as session:
                keys.touch(session, key.id, at)
        except CANNOT as problem:
            # Where nothing can be written, what is there can still be read.
            LOG.warning("a key's use was not kept", exc_info=problem)


def hand_over(answer: Response, app: AppState, secret: str) -> None:
    """Puts a key into the browser.

    Lax, not Strict: a link to a page of the bench that was kept or sent to oneself must find the key. What
    changes anything is guarded by its origin, whatever the cookie does.
    """
    answer.set_cookie(
        app.cookie,
        secret,
        max_age=int(UNUSED_FOR.total_seconds()),
        path="/",
        secure=app.settings.secure,
        httponly=True,
        samesite="lax",
    )


def renew(answer: Response, request: Request, key: KeyRow, at: datetime) -> None:
    """A browser forgets a cookie so many days after it was set, however often it was used; so, daily."""
    if key.last_used_at.date() < at.date():
        hand_over(answer, state(request), secret_of(request))


def take_away(answer: Response, app: AppState) -> None:
    """Takes the key out of the browser."""
    answer.delete_cookie(app.cookie, path="/", secure=app.settings.secure, httponly=True, samesite="lax")


def caller(request: Request) -> str:
    """The address that asks; behind a trusted proxy, the one the proxy names."""
    return request.client.host if request.client else ""


def note(what: str, request: Request, **told: str) -> None:
    """One line in the log about who came in, or did not; never with a secret."""
    LOG.info(what, extra={"client": caller(request), **told})


def guessed_name(user_agent: str, *, is_here: bool = False) -> str:
    """A kind guess at what to call a device."""
    if is_here:
        return "Benchside's own computer"
    if "iPad" in user_agent or "Tablet" in user_agent:
        return "Tablet"
    if "Android" in user_agent:
        return "Phone" if "Mobile" in user_agent else "Tablet"
    if "iPhone" in user_agent or "Mobile" in user_agent:
        return "Phone"
    return "Computer"
