"""A bench of one's own without an account: the link by which its player comes back, on any device.

It is one more key to the bench, carried in a link instead of a cookie: it stands among the devices, and is
taken back there. Looking at the link does nothing; its button gives the browser a key of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from fastapi import APIRouter, HTTPException, Request, Response

from webapp.pages.visit.addresses import Link, link_to, setup_path
from webapp.pages.visit.visit import Visiting, caller, guessed_name, hand_over, held_key, see
from webapp.store import keys, rates, setups
from webapp.store.engine import Session, reading, writing
from webapp.store.errors import NotFound
from webapp.store.keys import UNUSED_FOR
from webapp.web.state import AppState, state

router = APIRouter()

KEY_NAME = "Link to come back"


@dataclass(frozen=True)
class WayBack:
    """A link's secret. The browser keeps it too, to show it again: it is worth no more than its key."""

    secret: str

    def put(self, answer: Response, app: AppState) -> None:
        answer.set_cookie(
            _cookie(app), self.secret, max_age=int(UNUSED_FOR.total_seconds()), path="/",
            secure=app.settings.secure, httponly=True, samesite="lax",
        )  # fmt: skip


@dataclass(frozen=True)
class ComeBackPage:
    link: Link | None
    go_on: str


@dataclass(frozen=True)
class BackPage:
    """The link was opened; `holds_another` when the browser's key is for another bench."""

    action: str
    holds_another: bool


def give_way_back(session: Session, bench_id: str, at: datetime) -> WayBack:
    """Makes the link of a bench."""
    return WayBack(keys.make_key(session, bench_id, KEY_NAME, at))


@router.get("/come-back")
def show(visit: Visiting, setup: str = "") -> Response:
    """The link of this bench, if this browser made it; the page to keep."""
    secret = visit.request.cookies.get(_cookie(visit.app), "")
    with visit.reading() as session:
        key = keys.find(session, secret, visit.now) if secret else None
        go_on = _go_on(session, visit.bench_id, setup)
    good = key is not None and key.bench_id == visit.bench_id
    link = link_to(visit.request, f"/back/{secret}") if good else None
    return visit.render("pages/door/come_back.html", ComeBackPage(link, go_on))


@router.post("/come-back")
def make(visit: Visiting) -> Response:
    """A new link; the one that this browser showed before opens nothing any more."""
    secret = visit.request.cookies.get(_cookie(visit.app), "")
    with visit.writing() as session:
        if not rates.take(session, rates.CODES, caller(visit.request), visit.now):
            raise HTTPException(429)
        before = keys.find(session, secret, visit.now) if secret else None
        if before is not None and before.bench_id == visit.bench_id:
            keys.revoke(session, visit.bench_id, before.id, visit.now)
        way_back = give_way_back(session, visit.bench_id, visit.now)
    answer = see("/come-back")
    way_back.put(answer, visit.app)
    return answer


@router.get("/back/{secret}")
def look(request: Request, secret: str) -> Response:
    """One button; a browser that is in already goes straight to its bench."""
    app, at = state(request), datetime.now(UTC)
    held = held_key(request, at)
    with reading(app.engine) as session:
        key = keys.find(session, secret, at)
        if key is None and rates.is_spent(session, rates.ENTERING, caller(request), at):
            raise HTTPException(429)
    if held is not None and key is not None and held.bench_id == key.bench_id:
        return see("/")
    page = BackPage(f"/back/{secret}", held is not None)
    return app.templates.TemplateResponse(request, "pages/door/back.html", {"page": page})


@router.post("/back/{secret}")
def enter(request: Request, secret: str) -> Response:
    """A key for this browser. The one that it replaces opens nothing any more."""
    app, at, who = state(request), datetime.now(UTC), caller(request)
    held = held_key(request, at)
    with writing(app.engine) as session:
        key = keys.find(session, secret, at)
        if key is None and rates.is_spent(session, rates.ENTERING, who, at):
            raise HTTPException(429)
        if key is None and held is None:
            rates.count(session, rates.ENTERING, who, at)
    if key is None:
        return app.templates.TemplateResponse(request, "pages/door/back_gone.html", {}, status_code=410)
    with writing(app.engine) as session:
        keys.touch(session, key.id, at)
        if held is not None and held.id != key.id:
            keys.revoke(session, held.bench_id, held.id, at)
        own = keys.make_key(session, key.bench_id, guessed_name(request.headers.get("user-agent", "")), at)
    answer = see("/")
    hand_over(answer, app, own)
    WayBack(secret).put(answer, app)
    return answer


def _go_on(session: Session, bench_id: str, setup_id: str) -> str:
    """To the setup that the lesson began, if it is one of this bench."""
    try:
        return setup_path(setups.get(session, bench_id, setup_id).id, "next") if setup_id else "/"
    except NotFound:
        return "/"


def _cookie(app: AppState) -> str:
    return f"{app.cookie}_back"
