"""Coming in: an entry link, or a pairing code. Looking at either uses nothing up; the button does."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import UTC, datetime
from ipaddress import ip_address

from fastapi import APIRouter, Request
from fastapi.responses import Response

from webapp.pages.visit.answering import NotKept, answer
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.visit import caller, guessed_name, hand_over, held_key, see
from webapp.store import keys, rates, ways_in
from webapp.store.engine import Session, reading, writing
from webapp.store.keys import LONGEST_NAME, KeyRow
from webapp.web.state import state

router = APIRouter()
LOG = logging.getLogger("benchside")

USED = ("This link is no longer good", "It was used already, or is too old. Each link works once.")
SPENT = ("Too many tries", "That was tried too often. Wait ten minutes, then try again.")
WRONG_CODE = "That code is not right, or no longer good. See that it is the one shown now, or show another."


@dataclass(frozen=True)
class EnterPage:
    """An entry link that was opened; `holds_another` when the browser's key is for another bench."""

    action: str
    holds_another: bool


@dataclass(frozen=True)
class RefusedPage:
    """A link that opens nothing, and how to get one that does."""

    title: str
    sentence: str
    hosted: bool
    demo: bool


@dataclass(frozen=True)
class PairPage:
    """The form for a pairing code."""

    form: FormReader
    holds_another: bool


@router.get("/enter/{code}")
def look(request: Request, code: str) -> Response:
    """One button. A device that is in already goes straight to its bench, and the link stays good."""
    at = datetime.now(UTC)
    key = held_key(request, at)
    with reading(state(request).engine) as session:
        bench_id = ways_in.bench_of_entry(session, code, at)
    if key is not None and key.bench_id == bench_id:
        return see("/")
    return _page(request, "pages/door/enter.html", EnterPage(f"/enter/{code}", key is not None))


@router.post("/enter/{code}")
def enter(request: Request, code: str) -> Response:
    """Uses the link up, and gives this browser a key."""
    app, at, who = state(request), datetime.now(UTC), caller(request)
    held = held_key(request, at)
    with writing(app.engine) as session:
        bench_id = ways_in.use_entry(session, code, at)
        if bench_id is not None:
            return _let_in(request, session, bench_id, _guess(request), held, at)
        # Only what is wrong is refused: whatever others mistyped, the right link opens.
        if rates.is_spent(session, rates.ENTERING, who, at):
            return _refused(request, SPENT, 429)
        if held is None:
            rates.count(session, rates.ENTERING, who, at)
    return see("/") if held is not None else _refused(request, USED, 410)


@router.get("/pair")
@router.get("/pair/{code}")
def ask(request: Request, code: str = "") -> Response:
    """The form, filled in where a link brought the code."""
    form = FormReader({"code": code[:40], "device_name": _guess(request)})
    return _show(request, form)


@router.post("/pair")
def pair(request: Request, form: Posted) -> Response:
    """Uses the code up, and gives this device a key under the name it was given."""
    code = form.text("code", 40, "Type the code that the other device shows.")
    name = form.text("device_name", LONGEST_NAME, "Give this device a name, so that you know it in the list.")
    return answer(
        form,
        code,
        lambda code: _pair(request, code, name),
        lambda status: _show(request, form, status),
    )


def _pair(request: Request, code: str, name: str) -> Response:
    app, at, who = state(request), datetime.now(UTC), caller(request)
    held = held_key(request, at)
    with writing(app.engine) as session:
        bench_id = ways_in.use_pairing(session, code, at)
        if bench_id is not None:
            return _let_in(request, session, bench_id, name, held, at)
        if rates.is_spent(session, rates.PAIRING, who, at):
            return _refused(request, SPENT, 429)
        rates.count(session, rates.PAIRING, who, at)
    LOG.info("refused", extra={"client": who, "why": "wrong pairing code"})
    raise NotKept(WRONG_CODE, "code", 422)


def _let_in(
    request: Request, session: Session, bench_id: str, name: str, held: KeyRow | None, at: datetime
) -> Response:
    """A new key for this browser. The one that it replaces opens nothing any more."""
    if held is not None:
        keys.revoke(session, held.bench_id, held.id, at)
    secret = keys.make_key(session, bench_id, name, at)
    answer = see("/")
    hand_over(answer, state(request), secret)
    LOG.info("came in", extra={"client": caller(request), "bench": bench_id})
    return answer


def _guess(request: Request) -> str:
    here = not state(request).settings.hosted and _is_here(caller(request))
    return guessed_name(request.headers.get("user-agent", ""), is_here=here)


def _is_here(address: str) -> bool:
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False


def _show(request: Request, form: FormReader, status: int = 200) -> Response:
    held = held_key(request, datetime.now(UTC))
    return _page(request, "pages/door/pair.html", PairPage(form, held is not None), status)


def _refused(request: Request, why: tuple[str, str], status: int) -> Response:
    settings = state(request).settings
    LOG.info("refused", extra={"client": caller(request), "why": why[0]})
    page = RefusedPage(*why, hosted=settings.hosted, demo=settings.demo)
    return _page(request, "pages/door/enter_refused.html", page, status)


def _page(request: Request, template: str, page: object, status: int = 200) -> Response:
    answer = state(request).templates.TemplateResponse(request, template, {"page": page}, status_code=status)
    if status >= 400:
        answer.headers["HX-Push-Url"] = "false"
    return answer
