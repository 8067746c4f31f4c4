"""An instrument's drawings: the strings over a chosen fret, and the neck from the side."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.units import units_for
from webapp.pages.setup.setup_drawings import Drawn, drawn
from webapp.pages.visit import dates
from webapp.pages.visit.case_loading import LoadedInstrument, load_instrument, load_setups, standing_case
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import Visiting
from webapp.setups.convert import STANDARD_HEIGHT

router = APIRouter()


@dataclass(frozen=True)
class DrawingsPage:
    """Everything the drawings page shows."""

    instrument: LoadedInstrument
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
def show(instrument_id: str, visit: Visiting, fret: str = str(STANDARD_HEIGHT.gap)) -> Response:
    instrument = load_instrument(visit, instrument_id)
    case = standing_case(visit, instrument, load_setups(visit, instrument_id))
    form = FormReader({"fret": fret})
    last_fret = case.spec.fret_count
    chosen = form.whole("fret", 1, last_fret, "The fret to draw") or min(STANDARD_HEIGHT.gap, last_fret)
    page = DrawingsPage(
        instrument=instrument,
        fret=chosen,
        last_fret=last_fret,
        drawn=drawn(case, chosen, units_for(visit.unit.value)),
        form=form,
    )
    return visit.render("pages/instrument/drawings.html", page, form.status)
