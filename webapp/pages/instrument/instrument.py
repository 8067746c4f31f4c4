"""An instrument's own page: what it is, how it stands, what comes next; taking it off the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.marks import REPAIRER
from webapp.drawings.over_time.sparkline import Moved, small_multiples
from webapp.drawings.portrait.instrument_map import MapPlace, instrument_map
from webapp.drawings.portrait.portrait import portrait
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.history.season import daily_air, dues
from webapp.pages.instrument.places import map_places, moved_rows
from webapp.pages.setup.setup_drawings import Drawn, drawn
from webapp.pages.visit.addresses import instrument_path, setup_path
from webapp.pages.visit.answering import next_words
from webapp.pages.visit.case_loading import (
    LoadedInstrument,
    LoadedSetup,
    described,
    load_instrument,
    load_past,
    load_setups,
    passes_of,
    standing_assessment,
    standing_case,
)
from webapp.pages.visit.forms import FormReader, Posted, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, form_id_at, see
from webapp.setups import dates
from webapp.setups.buzz_marks import newest_board, string_buzzes
from webapp.setups.case import Case
from webapp.setups.dates import clock, day, day_near
from webapp.setups.description import Fact, facts, in_short
from webapp.setups.geometry import STANDARD_HEIGHT
from webapp.setups.journal import Journal, Part
from webapp.setups.say import capital
from webapp.setups.seasons.due import Due
from webapp.setups.slots import RELIEF, height_slot, slots_by_key, string_numbers
from webapp.setups.states import Assessment, Word
from webapp.setups.strings.relief_pull import SAME_STRINGS
from webapp.store import instruments, setups
from webapp.store.errors import AlreadyRecorded
from webapp.trade.words import label
from webapp.web.kept import Past, hashed_once


@dataclass(frozen=True)
class InstrumentStanding:
    """How an instrument's newest setup stands."""

    under_way: bool = False
    sentence: str = "Not set up yet"
    next_words: str = ""
    next_href: str = ""
    read_relief: str = ""
    repairer: tuple[str, ...] = ()


def standing(passes: Sequence[LoadedSetup], now_standing: Assessment, now: datetime) -> InstrumentStanding:
    """What to say of an instrument: its setups, newest first, and how it stands after all of them."""
    full = [setup for setup in passes if not setup.quick]
    repairer = tuple(item.text for item in now_standing.repairer)
    relief = relief_words(now_standing.read_relief_at, now)
    if not full:
        return InstrumentStanding(read_relief=relief, repairer=repairer)
    setup = full[0]
    found = setup.assessment
    if setup.row.finished_at is not None:
        sentence = f"Last set up on {day(setup.row.finished_at)}"
        newest = passes[0]
        if newest.quick and newest.row.finished_at is not None:
            sentence += f", {_between(newest)} on {day(newest.row.finished_at)}"
        return InstrumentStanding(False, sentence, "", "", relief, repairer)
    sentence = f"Setup under way since {day(setup.row.started_at)}"
    path = setup_path(setup.id, "next")
    return InstrumentStanding(True, sentence, next_words(found.next), path, relief, repairer)


def _between(quick: LoadedSetup) -> str:
    """What was done between setups."""
    strings = quick.journal.last_turn(Part.STRINGS)
    if strings is None:
        return "quick check"
    return "retuned" if strings.detail.get(SAME_STRINGS) else "strings changed"


def relief_words(at: datetime | None, now: datetime) -> str:
    """When relief should be read once more after the rod was turned; empty where it need not be."""
    if at is None:
        return ""
    if at <= now:
        return "The rod has settled: read relief again"
    return f"Read relief again on {day_near(at, now)}, after {clock(at)}"


router = APIRouter()


@dataclass(frozen=True)
class Step:
    """Something that wants doing besides the main button: its mark, and where it leads, if anywhere."""

    mark: str
    words: str
    why: str
    href: str = ""


@dataclass(frozen=True)
class Tool:
    """A page that answers one question about the instrument."""

    key: str
    name: str
    answers: str
    href: str


@dataclass(frozen=True)
class InstrumentPage:
    """The instrument's card; its drawings are made where they are drawn."""

    id: str
    spec_json: str
    unit: str
    in_short: str
    touch: str
    off_the_bench: str
    standing: InstrumentStanding
    later: str
    steps: tuple[Step, ...]
    setup_first: bool
    places: tuple[MapPlace, ...]
    moved: tuple[Moved, ...]
    tools: tuple[Tool, ...]
    report_href: str
    targets: tuple[Fact, ...]
    facts: tuple[Fact, ...]
    form_id: str

    __hash__ = hashed_once

    @property
    def name(self) -> str:
        return described(self.spec_json).name

    @property
    def picture(self) -> Drawing:
        """How every place is; of an instrument on which nothing was recorded, what it looks like."""
        spec, units = described(self.spec_json), units_for(self.unit)
        if not self.places:
            return portrait(spec, units=units)
        return instrument_map(spec, self.places, units=units)

    @property
    def moves(self) -> Drawing | None:
        """How each place has moved, where any was read twice."""
        return small_multiples(self.moved) if self.moved else None


@dataclass(frozen=True)
class ArchivePage:
    """Is it really to go?"""

    id: str
    name: str
    under_way: bool


@router.get("/instruments/{instrument_id}")
def card(visit: Visiting, instrument_id: str) -> Response:
    """Everything about one instrument in short."""
    instrument, past, taught = load_past(visit, instrument_id)
    row, lessons = instrument.row, tuple(taught.items())
    page = visit.once(
        past,
        ("card", row.spec_json, row.archived_at, lessons, visit.air_mark),
        lambda: _page(visit, instrument, past, passes_of(visit, instrument, past, taught)),
    )
    return visit.render_kept("pages/instrument/instrument.html", page)


def _page(
    visit: Visit, instrument: LoadedInstrument, past: Past, passes: Sequence[LoadedSetup]
) -> InstrumentPage:
    spec, archived, home = instrument.spec, instrument.row.archived_at, instrument_path(instrument.id)
    case = standing_case(visit, instrument, passes)
    stands = standing_assessment(visit, instrument, passes, case)
    how = standing(passes, stands, visit.now)
    newest = next((setup for setup in passes if not setup.quick), None)
    found = dues(visit, instrument, passes, case, daily_air(visit)) if archived is None else ()
    found = tuple(due for due in found if not (how.read_relief and due.key == "settled"))
    now = [due for due in found if due.is_due(visit.now)]
    shown = newest or next(iter(passes), None)
    at, judged = (newest.case, newest.assessment) if newest and how.under_way else (case, stands)
    return InstrumentPage(
        id=instrument.id,
        spec_json=instrument.row.spec_json,
        unit=visit.unit.value,
        in_short=in_short(spec),
        touch="For your own touch, found by test." if spec.own_swing else f"For a {spec.touch.value} touch.",
        off_the_bench=day(archived) if archived else "",
        standing=how,
        later=f"Nothing is due. {look_again(found[0], visit.now)}" if found and not now else "",
        steps=_steps(how, now, home),
        setup_first=newest is None or any(due.sets_up for due in now),
        places=map_places(at, judged, shown.id, home) if shown else (),
        moved=moved_rows(case, stands, home),
        tools=_tools(case, newest, home),
        report_href=setup_path(newest.id, "report") if newest and newest.finished else "",
        targets=_targets(visit, instrument),
        facts=facts(spec, visit.trade),
        form_id=form_id_at(instrument.id, past.mark),
    )


def _steps(how: InstrumentStanding, due: Sequence[Due], home: str) -> tuple[Step, ...]:
    """What wants doing, at most two things. What is read is read in the setup that is under way."""
    steps, look = [], "" if how.under_way else f"{home}/quick"
    if how.read_relief:
        steps.append(Step(Word.EXPECTED, how.read_relief, "", look))
    for one in due[: MOST_STEPS - len(steps) - bool(how.repairer)]:
        leads = f"{home}/strings" if one.key == "strings" else "" if one.sets_up else look
        steps.append(Step(Word.TOUCH_HIGH, due_words(one), one.why, leads))
    if how.repairer:
        steps.append(Step(REPAIRER, f"For a repairer: {len(how.repairer)}", " ".join(how.repairer)))
    return tuple(steps)


MOST_STEPS = 2
_BY_KEY = {"strings": "new strings", "review": "a setup"}


def due_words(due: Due) -> str:
    """'Relief: too much bow', 'Relief is due', 'New strings are due'."""
    if due.off:
        return due.off
    name = _BY_KEY.get(due.key) or label(due.check)
    return f"{capital(name)} {'are' if name.endswith('s') else 'is'} due"


def look_again(due: Due, now: datetime) -> str:
    """'Look again on 23 February.', or 'New strings on 23 February.'"""
    name = "New strings" if due.key == "strings" else "Look again"
    return f"{name} on {day_near(due.when, now)}."


def _tools(case: Case, newest: LoadedSetup | None, home: str) -> tuple[Tool, ...]:
    """The questions that what was read of the instrument can answer."""
    places = slots_by_key(case.spec)
    of_neck = [key for key in case.journal.ever_read if key in places and places[key].over_neck]
    tools = []
    if of_neck:
        tools += [
            Tool("low", "How low can it go?", "The lowest height that stays clean.", f"{home}/low"),
            Tool("what-if", "What if?", "Try a change before you turn anything.", f"{home}/what-if"),
            Tool("clearance", "Clearance", "Where a string has room, fret by fret.", f"{home}/clearance"),
            Tool("touch", "Your touch", "How far your pluck swings a string.", f"{home}/touch"),
        ]
    tools.append(
        Tool("strings", "Strings and their pull", "What another set would do to the neck.", f"{home}/strings")
    )
    if newest is not None and string_buzzes(newest_board(newest.journal)):
        why = setup_path(newest.id, "causes")
        tools.append(Tool("buzz", "Why does it buzz?", "The likely cause of the notes you marked.", why))
    if of_neck:
        tools.append(Tool("drawings", "Drawings", "The strings over any fret.", f"{home}/drawings"))
    if any(len(case.journal.readings(key)) > 1 for key in of_neck):
        tools.append(Tool("seasons", "Seasons", "What the air does to this neck.", f"{home}/seasons"))
    return tuple(tools)


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
def drawings(instrument_id: str, visit: Visiting, fret: str = str(STANDARD_HEIGHT.gap)) -> Response:
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
