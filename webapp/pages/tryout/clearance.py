"""Clearance: one string fretted somewhere, the gap over every fret ahead, and where a touch touches."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.board.clearance_map import clearance_map_drawing
from webapp.drawings.board.clearance_side import DrawnSwing, FrettedString, clearance_side
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.visit.case_loading import Closer, load_closer
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import Visit, Visiting
from webapp.setups.slots import string_label, string_numbers
from webapp.setups.strings.string_setting import setting_of
from webapp.setups.tryout.clearance_map import (
    ClearanceMap,
    NamedSwing,
    OverFret,
    Rest,
    clearance_map,
    default_touch,
    named_swing,
    named_swings,
    rests_on,
)

router = APIRouter()

FIRST_FRET = 5


@dataclass(frozen=True)
class ClearancePage:
    """Everything the clearance page shows."""

    closer: Closer
    form: FormReader
    number: int
    touch: NamedSwing
    fretted: int
    map: ClearanceMap
    rests: tuple[Rest, ...]
    drawing: Drawing
    map_drawing: Drawing

    @property
    def path(self) -> str:
        return f"{self.closer.path}/clearance"

    @property
    def string(self) -> str:
        return string_label(self.closer.case.spec, self.number)

    @property
    def starts(self) -> range:
        """The frets to hold, 0 the open string where its nut was read."""
        return self.map.starts

    @property
    def held(self) -> str:
        """Where the string is held, in words."""
        return held(self.fretted)

    @property
    def place(self) -> OverFret:
        """What the held note meets first."""
        return self.map.tightest(self.fretted)

    @property
    def open_place(self) -> OverFret | None:
        """What the open string meets first; None where its nut was not read."""
        return None if self.starts[0] else self.map.tightest(0)

    @property
    def query(self) -> str:
        return f"?string={self.number}&touch={self.touch.key}"

    @property
    def row(self) -> tuple[OverFret, ...]:
        return self.map.row(self.fretted)

    @property
    def tightest(self) -> tuple[OverFret, ...]:
        """For every fretted note the place that is met first."""
        return tuple(self.map.tightest(fretted) for fretted in self.map.starts)

    @property
    def harder_percent(self) -> int:
        """How much harder a pluck would touch where it is close."""
        return round((self.map.close_times - 1) * 100)


@router.get("/instruments/{instrument_id}/clearance")
def show(
    instrument_id: str,
    visit: Visiting,
    string: str = "",
    fret: str = "",
    touch: str = "",
) -> Response:
    closer = load_closer(visit, instrument_id)
    page = build(visit, closer, FormReader({"string": string, "fret": fret, "touch": touch}))
    return visit.render("pages/tryout/clearance.html", page, page.form.status)


def build(visit: Visit, closer: Closer, form: FormReader) -> ClearancePage:
    """The page's context; what cannot be meant gets a sentence and the usual choice instead."""
    case = closer.case
    number = read_string(closer, form)
    setting = setting_of(case, number)
    touch = named_swing(case, number, read_touch(closer, form))
    found = clearance_map(setting, touch.swing, case.trade.swing.close_times)
    fretted = _whole(form, "fret", found.starts[0], found.starts[-1], "The fret to hold", FIRST_FRET)
    return ClearancePage(
        closer=closer,
        form=form,
        number=number,
        touch=touch,
        fretted=fretted,
        map=found,
        rests=rests_on(case, setting),
        drawing=_side(visit, closer, found, touch, fretted),
        map_drawing=clearance_map_drawing(
            found,
            fretted,
            f"{string_label(case.spec, number)}, {touch.label} touch: every note over every fret ahead",
            units_for(visit.unit.value),
        ),
    )


def read_string(closer: Closer, form: FormReader) -> int:
    """The string asked for; the thickest where none was."""
    numbers = string_numbers(closer.case.spec)
    return _whole(form, "string", 1, len(numbers), "The string", numbers[0])


def read_touch(closer: Closer, form: FormReader) -> str:
    """The touch asked for; the player's where none was."""
    if not form.raw("touch"):
        return default_touch(closer.case)
    allowed = [key for key, _ in closer.touches]
    return form.choice("touch", allowed, "one of the touches") or default_touch(closer.case)


def _whole(form: FormReader, name: str, low: int, high: int, what: str, usual: int) -> int:
    if not form.raw(name):
        return usual
    found = form.whole(name, low, high, what)
    return usual if found is None else found


def _side(visit: Visit, closer: Closer, found: ClearanceMap, touch: NamedSwing, fretted: int) -> Drawing:
    setting = found.setting
    swings = [DrawnSwing(s.key, s.label, s.swing.mm) for s in named_swings(closer.case, setting.number)]
    return clearance_side(
        FrettedString(setting.neck, setting.saddle_mm, setting.nut_mm, fretted, setting.pluck_mm),
        swings,
        chosen=touch.key,
        over=found.tightest(fretted).over,
        title=f"The {string_label(closer.case.spec, setting.number)} {held(fretted).lower()}, from the side",
        units=units_for(visit.unit.value),
    )


def held(fretted: int) -> str:
    """'Fretted at 5', or 'Open'."""
    return f"Fretted at {fretted}" if fretted else "Open"
