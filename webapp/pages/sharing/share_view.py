"""What a share's link shows: one report, or one history, to look at. It leads nowhere else on the bench."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response

from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.history.history import HistoryPage, Skip, history_page, series_page
from webapp.pages.setup.outcome import marked_portrait
from webapp.pages.setup.report import report_page
from webapp.pages.setup.setup_drawings import Drawn, drawn
from webapp.pages.visit.case_loading import load_all, standing_assessment, standing_case
from webapp.pages.visit.visit import Onlooker, caller
from webapp.physics.numbers import Unit
from webapp.setups.description import Fact, facts
from webapp.setups.geometry import STANDARD_HEIGHT
from webapp.store import benches, rates, shares
from webapp.store.engine import Session, reading, writing
from webapp.store.tables import Share
from webapp.web.state import AppState, state

router = APIRouter()

# The address is the secret: it goes into no index and to no other site.
QUIETLY = {"X-Robots-Tag": "noindex, nofollow", "Referrer-Policy": "no-referrer"}


@dataclass(frozen=True)
class Look(Onlooker):
    """Whoever has a share's link, and looks at what it shows."""

    share: Share
    token: str
    unit_name: str
    air: int

    @property
    def bench_id(self) -> str:
        return self.share.bench_id

    @property
    def unit(self) -> Unit:
        return Unit(self.unit_name)

    @property
    def air_mark(self) -> int:
        return self.air

    def opened(self) -> AbstractContextManager[Session]:
        return reading(self.app.engine)

    @property
    def path(self) -> str:
        return f"/shared/{self.token}"

    def show(self, template: str, page: Any) -> Response:
        answer = self.drawn(template, page)
        answer.headers.update(QUIETLY)
        return answer


def look(request: Request, token: str) -> Look | None:
    """The dependency that opens a share; None where the token opens nothing, whatever the reason."""
    app, at = state(request), datetime.now(UTC)
    with reading(app.engine) as session:
        share = shares.open_by(session, token, at)
        if share is None and rates.is_spent(session, shares.MISSING, caller(request), at):
            raise HTTPException(429)
        unit = benches.unit_of(session, share.bench_id) if share else ""
        air_mark = benches.air_mark_of(session, share.bench_id) if share else 0
    if share is None:
        with writing(app.engine) as session:
            rates.count(session, shares.MISSING, caller(request), at)
        return None
    _remember(app, share, at)
    return Look(request, app, at, share, token, unit, air_mark)


Looking = Annotated[Look | None, Depends(look)]


@dataclass(frozen=True, kw_only=True)
class SharedHistoryPage(HistoryPage):
    """A history for somebody who does not know the instrument: what it is, how it stands, and what is off."""

    portrait: Drawing
    drawn: Drawn
    facts: tuple[Fact, ...]
    repairer: tuple[str, ...]


def _shared_history(look: Look, skip: int) -> SharedHistoryPage:
    history = history_page(look, look.share.instrument_id, look.path, skip)
    instrument, passes = load_all(look, look.share.instrument_id)
    case = standing_case(look, instrument, passes)
    found = standing_assessment(look, instrument, passes, case)
    units = units_for(look.unit.value)
    return SharedHistoryPage(
        **{field.name: getattr(history, field.name) for field in fields(history)},
        portrait=marked_portrait(instrument.spec, found, units),
        drawn=drawn(case, STANDARD_HEIGHT.gap, units),
        facts=facts(instrument.spec, look.trade),
        repairer=tuple(item.text for item in found.repairer),
    )


@router.get("/shared/{token}")
def show(request: Request, look: Looking, skip: Skip = 0) -> Response:
    if look is None:
        return _gone(request)
    share = look.share
    if share.setup_id is None:
        return look.show("pages/sharing/history.html", _shared_history(look, skip))
    report = report_page(look, share.setup_id, shared=True, with_notes=share.with_notes)
    return look.show("pages/sharing/report.html", report)


@router.get("/shared/{token}/{slot_key}")
def show_series(request: Request, look: Looking, slot_key: str, skip: Skip = 0) -> Response:
    """Every reading of one place; of a shared history only."""
    if look is None or look.share.setup_id is not None:
        return _gone(request)
    try:
        page = series_page(look, look.share.instrument_id, slot_key, look.path, skip)
    except HTTPException:
        return _gone(request)
    return look.show("pages/sharing/series.html", page)


def _remember(app: AppState, share: Share, at: datetime) -> None:
    if shares.is_due(share, at):
        with writing(app.engine) as session:
            shares.touch(session, share.id, at)


def _gone(request: Request) -> Response:
    """The same page for every link that opens nothing: it does not tell which ones ever did."""
    templates = state(request).templates
    answer = templates.TemplateResponse(request, "pages/sharing/gone.html", {}, status_code=404)
    answer.headers.update(QUIETLY)
    return answer
