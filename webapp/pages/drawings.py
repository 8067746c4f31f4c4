"""An instrument's drawings: the strings over a chosen fret, and the neck from the side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import Response

from webapp.drawings.units import units_for
from webapp.pages import dates
from webapp.pages.common import Visit, visit
from webapp.pages.drawn import Drawn, drawn
from webapp.pages.forms import FormReader
from webapp.pages.loading import LoadedInstrument, LoadedSetup, load_instrument, load_setups
from webapp.setups.assess import assess_case
from webapp.setups.case import Case
from webapp.setups.convert import STANDARD_HEIGHT
from webapp.setups.journal import EntryKind, Journal
from webapp.trade.words import Check

router = APIRouter()

DRAWN_CHECKS = (Check.RELIEF, Check.HEIGHT, Check.NUT)


@dataclass(frozen=True)
class DrawingsPage:
    """Everything the drawings page shows."""

    instrument: LoadedInstrument
    setup: LoadedSetup | None
    fret: int
    last_fret: int
    drawn: Drawn
    form: FormReader

    @property
    def path(self) -> str:
        return f"/instruments/{self.instrument.id}/drawings"

    @property
    def frets(self) -> list[tuple[str, str]]:
        return [(str(fret), f"fret {fret}") for fret in range(1, self.last_fret + 1)]

    def day(self, at: datetime) -> str:
        return dates.day(at)


@router.get("/instruments/{instrument_id}/drawings")
def show(
    instrument_id: str, visit: Annotated[Visit, Depends(visit)], fret: str = str(STANDARD_HEIGHT.gap)
) -> Response:
    instrument = load_instrument(visit, instrument_id)
    setup = newest_measured(load_setups(visit, instrument_id))
    case = setup.case if setup else Case(instrument.spec, visit.trade, Journal(()), visit.now, visit.say)
    form = FormReader({"fret": fret})
    last_fret = case.spec.fret_count
    chosen = form.whole("fret", 1, last_fret, "The fret to draw") or min(STANDARD_HEIGHT.gap, last_fret)
    assessment = setup.assessment if setup else assess_case(case)
    page = DrawingsPage(
        instrument=instrument,
        setup=setup,
        fret=chosen,
        last_fret=last_fret,
        drawn=drawn(case, assessment, chosen, units_for(visit.unit.value)),
        form=form,
    )
    return visit.render("pages/drawings.html", page, 200 if form.ok else 422)


def newest_measured(setups: Sequence[LoadedSetup]) -> LoadedSetup | None:
    """The newest setup in which anything was read that these drawings show."""
    for setup in sorted(setups, key=lambda s: s.row.started_at, reverse=True):
        if any(e.kind is EntryKind.READING and e.check in DRAWN_CHECKS for e in setup.journal.live):
            return setup
    return None
