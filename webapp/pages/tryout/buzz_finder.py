"""Why it buzzes: the causes of the marked notes, ranked."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.shapes import Drawing
from webapp.pages.setup.setup_drawings import buzz_plan
from webapp.pages.visit.addresses import adjust_path, check_path, setup_path
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.visit import Visiting
from webapp.setups.buzz.finder import Cause, Findings, findings
from webapp.setups.buzz_marks import newest_board, string_buzzes
from webapp.setups.slots import RELIEF
from webapp.trade.buzz import CauseKey
from webapp.trade.words import Check

router = APIRouter()


@dataclass(frozen=True)
class CausesPage:
    """The findings, the likeliest cause apart from the others."""

    setup: LoadedSetup
    findings: Findings
    plucked: bool
    board: Drawing | None
    board_path: str
    check_path: str
    go: tuple[str, str] | None
    cautions: tuple[str, ...]

    @property
    def first(self) -> Cause | None:
        return self.findings.causes[0] if self.findings.causes else None

    @property
    def others(self) -> tuple[Cause, ...]:
        return self.findings.causes[1:]


@router.get("/setups/{setup_id}/causes")
def causes(setup_id: str, visit: Visiting) -> Response:
    setup = load_setup(visit, setup_id)
    what = ("causes", setup.id, setup.instrument.row.spec_json, setup.lesson_json)
    found = visit.once(setup.past, what, lambda: findings(setup.case))
    board = newest_board(setup.journal)
    page = CausesPage(
        setup=setup,
        findings=found,
        plucked=board is not None,
        board=buzz_plan(setup.case, string_buzzes(board)) if found.causes else None,
        board_path=setup_path(setup_id, "ask", "buzz"),
        check_path=check_path(setup_id, Check.HEIGHT),
        go=_go(setup, found),
        cautions=_cautions(setup, found),
    )
    return visit.render("pages/tryout/buzz_causes.html", page)


def _go(setup: LoadedSetup, found: Findings) -> tuple[str, str] | None:
    """Where the likeliest cause is put right in this setup, and what the button says."""
    if setup.finished or not found.causes or not found.causes[0].player:
        return None
    first = found.causes[0]
    if first.key in (CauseKey.TOO_STRAIGHT, CauseKey.TOO_BOWED):
        return ("See the relief", adjust_path(setup.id, RELIEF.key))
    if first.key is CauseKey.TOO_LOW:
        return ("See the string heights", check_path(setup.id, Check.HEIGHT))
    return None


def _cautions(setup: LoadedSetup, found: Findings) -> tuple[str, ...]:
    """What belongs beside the first cause's own test."""
    if not found.causes:
        return ()
    beside = {
        CauseKey.TOO_STRAIGHT: Check.RELIEF,
        CauseKey.TOO_BOWED: Check.RELIEF,
        CauseKey.TOO_LOW: Check.HEIGHT,
        CauseKey.NUT_LOW: Check.NUT,
    }.get(found.causes[0].key)
    case = setup.case
    return tuple(c.text for c in case.trade.cautions_for(case.spec, beside.value)) if beside else ()
