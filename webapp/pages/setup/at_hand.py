"""What the player has at hand to measure with: asked once, changed any time, kept with the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.visit.addresses import setup_path
from webapp.pages.visit.answering import answer
from webapp.pages.visit.case_loading import load_setup
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.say import capital

router = APIRouter()

# The boxes' name, and what a form carries that shows them: no box at all is sent where none is ticked.
HAVE, SHOWN = "have", "have_shown"


@dataclass(frozen=True)
class AtHand:
    """The tools to choose from (key, label), those ticked, and whether the player ever told."""

    tools: tuple[tuple[str, str], ...]
    ticked: tuple[str, ...]
    told: bool

    @property
    def said(self) -> str:
        """The ticked ones in a line."""
        return ", ".join(label.lower() for key, label in self.tools if key in self.ticked) or "nothing"


def at_hand(visit: Visit, form: FormReader) -> AtHand:
    """As typed, else as the bench keeps it."""
    tools = tuple((tool.key, capital(tool.name)) for tool in visit.trade.to_have)
    kept = visit.at_hand or ()
    ticked = form.many(HAVE) if form.raw(SHOWN) else kept
    return AtHand(tools, tuple(key for key, _ in tools if key in ticked), visit.at_hand is not None)


def read_tools(visit: Visit, form: FormReader) -> Sequence[str]:
    """The tools that were ticked; a fault for one that is not among those to choose from."""
    known = [tool.key for tool in visit.trade.to_have]
    ticked = form.many(HAVE)
    if not set(ticked) <= set(known):
        form.fault(HAVE, "Choose among these.")
    return [key for key in known if key in ticked]


def keep_tools(visit: Visit, form: FormReader) -> None:
    """Keep what a page told that asks for the tools beside other things; at first, no tick is no answer."""
    tools = read_tools(visit, form)
    if form.raw(SHOWN) and (tools or visit.at_hand is not None):
        visit.remember_tools(tools)


@dataclass(frozen=True)
class ToolsPage:
    """The tools by themselves; `setup_id` is the setup to go back to, or nothing."""

    at_hand: AtHand
    form: FormReader
    setup_id: str


@router.get("/tools")
def show(visit: Visiting, setup: str = "") -> Response:
    return _show(visit, FormReader({"setup": setup}))


@router.post("/tools")
def send(visit: Visiting, form: Posted) -> Response:
    def keep(tools: Sequence[str]) -> Response:
        visit.remember_tools(tools)
        setup_id = form.raw("setup")
        return see(setup_path(load_setup(visit, setup_id).id, "next") if setup_id else "/")

    return answer(form, read_tools(visit, form), keep, lambda status: _show(visit, form, status))


def _show(visit: Visit, form: FormReader, status: int = 200) -> Response:
    page = ToolsPage(at_hand(visit, form), form, form.raw("setup"))
    return visit.render("pages/setup/at_hand.html", page, status)
