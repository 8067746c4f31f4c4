"""An instrument's own page: what it is, how it stands, what comes next; and taking it off the bench."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Response

from webapp.pages.history.drift_kept import daily_air, dues
from webapp.pages.instrument import description_form as instrument_form
from webapp.pages.instrument.due import NextDue, next_due
from webapp.pages.instrument.words import Fact, InstrumentStanding, facts, standing
from webapp.pages.visit.addresses import check_path, setup_path
from webapp.pages.visit.case_loading import (
    LoadedInstrument,
    load_all,
    load_instrument,
    load_setups,
    standing_assessment,
    standing_case,
)
from webapp.pages.visit.dates import day
from webapp.pages.visit.forms import Posted, form_id_of
from webapp.pages.visit.visit import FORM_ID_HERE, Visit, Visiting, new_form_id, see
from webapp.setups.case import Case
from webapp.setups.journal import Journal
from webapp.setups.say import capital
from webapp.setups.slots import RELIEF, height_slot, string_numbers
from webapp.setups.states import Assessment
from webapp.store import instruments, setups
from webapp.store.errors import AlreadyRecorded
from webapp.trade.words import label

router = APIRouter()
router.include_router(instrument_form.router)


@dataclass(frozen=True)
class CheckLine:
    """One check of the newest setup, in a word."""

    name: str
    word: str
    mark: str
    href: str


@dataclass(frozen=True)
class InstrumentPage:
    """The instrument's card."""

    id: str
    name: str
    kind: str
    touch: str
    off_the_bench: str
    standing: InstrumentStanding
    due: tuple[NextDue, ...]
    checks: tuple[CheckLine, ...]
    setup_id: str
    targets: tuple[Fact, ...]
    facts: tuple[Fact, ...]
    form_id: str


@dataclass(frozen=True)
class ArchivePage:
    """Is it really to go?"""

    id: str
    name: str
    under_way: bool


@router.get("/instruments/{instrument_id}")
def card(visit: Visiting, instrument_id: str) -> Response:
    """Everything about one instrument in short."""
    instrument, passes = load_all(visit, instrument_id)
    spec = instrument.spec
    kind = visit.trade.kinds[spec.kind].name
    archived = instrument.row.archived_at
    case = standing_case(visit, instrument, passes)
    stands = standing_assessment(visit, instrument, passes, case)
    how = standing(passes, stands, visit.now)
    found = dues(visit, instrument, passes, case, daily_air(visit)) if archived is None else ()
    newest = next((setup for setup in passes if not setup.quick), None)
    under_way = newest is not None and not newest.finished
    shown = newest or next(iter(passes), None)
    page = InstrumentPage(
        id=instrument.id,
        name=spec.name,
        kind=kind,
        touch="For your own touch, found by test." if spec.own_swing else f"For a {spec.touch.value} touch.",
        off_the_bench=day(archived) if archived else "",
        standing=how,
        due=next_due(visit, [one for one in found if not (how.read_relief and one.key == "settled")]),
        checks=_check_lines(shown.id, newest.assessment if newest and under_way else stands) if shown else (),
        setup_id=newest.id if newest else "",
        targets=_targets(visit, instrument),
        facts=facts(instrument, kind),
        form_id=FORM_ID_HERE,
    )
    return visit.render_kept("pages/instrument/instrument.html", page, new_form_id())


@router.post("/instruments/{instrument_id}/setups")
def start(visit: Visiting, instrument_id: str, form: Posted) -> Response:
    """Start a setup, or go on with the one that is under way."""
    form_id = form_id_of(form)
    try:
        with visit.writing() as session:
            passes = setups.list_for(session, visit.bench_id, instrument_id)
            open_one = next((row.id for row in passes if row.finished_at is None), None)
            setup_id = open_one or setups.start(session, visit.bench_id, instrument_id, form_id, visit.now)
    except AlreadyRecorded as earlier:
        setup_id = str(earlier.recorded_id)
    return see(setup_path(setup_id, "next"))


@router.get("/instruments/{instrument_id}/archive")
def ask_archive(visit: Visiting, instrument_id: str) -> Response:
    """Ask before it goes."""
    instrument = load_instrument(visit, instrument_id)
    under_way = any(not setup.finished for setup in load_setups(visit, instrument_id))
    page = ArchivePage(instrument.id, instrument.spec.name, under_way)
    return visit.render("pages/instrument/archive.html", page)


@router.post("/instruments/{instrument_id}/archive")
def archive(visit: Visiting, instrument_id: str) -> Response:
    """Take it off the bench's list; everything recorded stays."""
    with visit.writing() as session:
        instruments.archive(session, visit.bench_id, instrument_id)
    return see("/")


def _check_lines(setup_id: str, found: Assessment) -> tuple[CheckLine, ...]:
    return tuple(
        CheckLine(capital(label(check)), state.said, state.word.value, check_path(setup_id, check))
        for check, state in found.checks.items()
        if state.here
    )


def _targets(visit: Visit, instrument: LoadedInstrument) -> tuple[Fact, ...]:
    """The bands that the setup will aim for, for this touch."""
    spec, say = instrument.spec, visit.say
    case = Case(spec, visit.trade, Journal.of([]), visit.now, say)
    numbers = string_numbers(spec)
    way = case.relief_standard
    slots = (
        (f"Relief (held at {way.hold}, pressed at {way.press}, over {way.gap})", RELIEF),
        ("Thickest string at 12, held at 1", height_slot(numbers[0])),
        ("Thinnest string at 12, held at 1", height_slot(numbers[-1])),
    )
    bands = ((name, case.bands(slot).target) for name, slot in slots)
    return tuple(Fact(name, say.band(band.low, band.high)) for name, band in bands)
