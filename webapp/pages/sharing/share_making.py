"""Sharing a report or a history: making a link, seeing what is shared, taking it back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from fastapi import APIRouter, HTTPException, Response

from webapp.pages.visit.addresses import Link, instrument_path, link_to, setup_path
from webapp.pages.visit.answering import NotKept, answer
from webapp.pages.visit.case_loading import load_instrument, load_setup
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.visit import Visit, Visiting, secret_of, see
from webapp.setups.dates import clock, day
from webapp.store import rates, setups, shares
from webapp.store.engine import Session
from webapp.store.shares import AT_MOST, TooMany
from webapp.store.tables import Share

router = APIRouter()

LASTS = (("1", "One day"), ("7", "7 days"), ("30", "30 days"), ("90", "90 days"))
USUAL = "30"
FULL = f"This bench has {AT_MOST} good links already. Take one back first."


@dataclass(frozen=True)
class SharePage:
    """The form for a new link."""

    what: str
    action: str
    back: str
    can_show_notes: bool
    form: FormReader

    lasts: tuple[tuple[str, str], ...] = LASTS

    @property
    def days(self) -> str:
        return self.form.raw("days", USUAL)


@dataclass(frozen=True)
class ShareLine:
    """One line of the list."""

    what: str
    told: str
    good: bool
    action: str


@dataclass(frozen=True)
class SharesPage:
    lines: tuple[ShareLine, ...]


@dataclass(frozen=True)
class LinkPage:
    """One share; its link stands here only just after it was made, on the device that made it."""

    line: ShareLine
    link: Link | None


@router.get("/setups/{setup_id}/share")
def ask_report(setup_id: str, visit: Visiting) -> Response:
    return visit.render("pages/sharing/share.html", _report_form(visit, setup_id, FormReader({})))


@router.post("/setups/{setup_id}/share")
def share_report(setup_id: str, visit: Visiting, form: Posted) -> Response:
    notes, seed = form.raw("notes") == "yes", _seed(visit)

    def make(session: Session, lasts: timedelta) -> Share:
        return shares.make_for_setup(session, visit.bench_id, setup_id, notes, lasts, visit.now, seed)

    return _share(visit, _report_form(visit, setup_id, form), make)


@router.get("/instruments/{instrument_id}/share")
def ask_history(instrument_id: str, visit: Visiting) -> Response:
    return visit.render("pages/sharing/share.html", _history_form(visit, instrument_id, FormReader({})))


@router.post("/instruments/{instrument_id}/share")
def share_history(instrument_id: str, visit: Visiting, form: Posted) -> Response:
    seed = _seed(visit)

    def make(session: Session, lasts: timedelta) -> Share:
        return shares.make_for_instrument(session, visit.bench_id, instrument_id, lasts, visit.now, seed)

    return _share(visit, _history_form(visit, instrument_id, form), make)


def _share(visit: Visit, page: SharePage, make: Callable[[Session, timedelta], Share]) -> Response:
    def keep(lasts: timedelta) -> Response:
        try:
            with visit.writing() as session:
                _count(visit, session)
                made = make(session, lasts)
        except TooMany as full:
            raise NotKept(FULL) from full
        return see(f"/shares/{made.id}")

    def shown(status: int) -> Response:
        return visit.render("pages/sharing/share.html", page, status)

    return answer(page.form, _lasts(page.form), keep, shown)


@router.get("/shares")
def listed(visit: Visiting) -> Response:
    with visit.reading() as session:
        found = shares.list_for(session, visit.bench_id)
    page = SharesPage(tuple(_line(visit, share) for share in found))
    return visit.render("pages/sharing/shares.html", page)


@router.get("/shares/{share_id}")
def show(share_id: str, visit: Visiting) -> Response:
    with visit.reading() as session:
        share = shares.get(session, visit.bench_id, share_id)
        token = shares.shown(session, visit.bench_id, share_id, visit.now, _seed(visit))
    link = link_to(visit.request, f"/shared/{token}") if token else None
    return visit.render("pages/sharing/link.html", LinkPage(_line(visit, share), link))


@router.post("/shares/{share_id}/revoke")
def revoke(share_id: str, visit: Visiting) -> Response:
    """From now on the link opens nothing."""
    with visit.writing() as session:
        shares.revoke(session, visit.bench_id, share_id, visit.now)
    return see("/shares")


def _report_form(visit: Visit, setup_id: str, form: FormReader) -> SharePage:
    setup = load_setup(visit, setup_id)
    what = f"the report of {setup.spec.name}, setup of {day(setup.row.started_at)}"
    report = setup_path(setup_id, "report")
    return SharePage(what, setup_path(setup_id, "share"), report, True, form)


def _history_form(visit: Visit, instrument_id: str, form: FormReader) -> SharePage:
    instrument = load_instrument(visit, instrument_id)
    home, what = instrument_path(instrument_id), f"the history of {instrument.spec.name}"
    return SharePage(what, f"{home}/share", f"{home}/history", False, form)


def _lasts(form: FormReader) -> timedelta | None:
    days = form.choice("days", [key for key, _ in LASTS], "how long the link is good")
    return None if days is None else timedelta(days=int(days))


def _count(visit: Visit, session: Session) -> None:
    if not rates.take(session, shares.MAKING, visit.bench_id, visit.now):
        raise HTTPException(429)


def _seed(visit: Visit) -> bytes:
    """This device's own key: only it can show the link once more while it is fresh."""
    return secret_of(visit.request).encode()


def _line(visit: Visit, share: Share) -> ShareLine:
    name = load_instrument(visit, share.instrument_id).spec.name
    return ShareLine(
        what=_what(visit, share, name),
        told=_told(share, visit.now),
        good=share.is_good(visit.now),
        action=f"/shares/{share.id}/revoke",
    )


def _what(visit: Visit, share: Share, name: str) -> str:
    if share.setup_id is None:
        return f"History of {name}"
    with visit.reading() as session:
        started = setups.get(session, visit.bench_id, share.setup_id).started_at
    return f"Report of {name}, setup of {day(started)}{', with notes' if share.with_notes else ''}"


def _told(share: Share, now: datetime) -> str:
    """'Good until 3 May 2026. Last opened 4 April 2026 at 14:05.'"""
    opened = share.opened_at
    seen = f"Last opened {day(opened)} at {clock(opened)}." if opened else "Not opened yet."
    if share.revoked_at is not None:
        return f"Taken back {day(share.revoked_at)}. {seen if opened else 'It was never opened.'}"
    if not share.is_good(now):
        return f"Over since {day(share.expires_at)}. {seen if opened else 'It was never opened.'}"
    return f"Good until {day(share.expires_at)}. {seen}"
