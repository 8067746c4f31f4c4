"""The report of a setup, on screen and on paper."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.bands.before_after import Change, before_after
from webapp.drawings.bands.strip import Read, Value
from webapp.drawings.marks import REPAIRER
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.setup.outcome import LeftLine, left_lines, mark_of_whole, marked_portrait
from webapp.pages.setup.pictures import as_read, short_place, units_of
from webapp.pages.setup.setup_drawings import Drawn, buzz_plan, drawn
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.visit import Onlooker, Visiting
from webapp.physics.numbers import Unit
from webapp.setups import dates
from webapp.setups.description import Fact, facts, in_short, touch_words
from webapp.setups.geometry import STANDARD_HEIGHT
from webapp.setups.past.history import Taken
from webapp.setups.past.report import CheckReport, Report, ReportRow, build_report
from webapp.setups.states import Word
from webapp.trade.ranges import Band
from webapp.trade.spec import InstrumentSpec
from webapp.web.settings import assets

router = APIRouter()

STYLES = ("benchside.css", "drawing.css")


@dataclass(frozen=True)
class ReportPage:
    """Everything the report shows. With its own `css` it is a file that stands alone."""

    setup: LoadedSetup
    report: Report
    portrait: Drawing
    moved: Drawing | None
    others: int
    facts: tuple[Fact, ...]
    drawn: Drawn
    buzz: Drawing | None
    shared: bool = False
    css: str = ""

    @property
    def spec(self) -> InstrumentSpec:
        return self.setup.spec

    @property
    def in_short(self) -> str:
        return in_short(self.spec)

    @property
    def touch(self) -> str:
        return touch_words(self.spec)

    @property
    def off(self) -> int:
        """How many places were outside their targets when they were first read."""
        return sum(row.was_off for row in self.report.rows)

    def unit(self, check: CheckReport) -> str:
        """The unit that a whole table is in, or nothing where each figure carries its own."""
        if not check.is_length:
            return "cents"
        unit = self.setup.case.say.unit
        return "" if unit is Unit.sixty_fourths else unit.value

    def place(self, row: ReportRow) -> str:
        return short_place(row.label)

    def figure(self, taken: Taken, check: CheckReport) -> str:
        """A reading said the standard way, without the unit where the table's head names it."""
        return self.setup.case.say.reading(taken.standard).removesuffix(f" {self.unit(check)}")

    def expected(self, row: ReportRow, check: CheckReport) -> str:
        """What is believed of a place that was not read since it was moved, likewise."""
        say, state = self.setup.case.say, row.state
        value = say.length(state.value) if check.is_length else say.cents(round(state.value))
        return value.removesuffix(f" {self.unit(check)}")

    def as_read(self, taken: Taken) -> str:
        """The same reading as it was taken."""
        return self.setup.case.say.reading(taken.entry)

    @property
    def mark(self) -> str:
        """The mark of the whole."""
        return mark_of_whole(self.report.ending) if self.report.finished else Word.NOT_MEASURED.value

    @property
    def sentence(self) -> str:
        """How it ended, in a line."""
        ending = self.report.ending
        if not self.report.finished:
            return "Not finished yet."
        return "Not everything was done." if ending.player_left else ending.sentence

    @property
    def left(self) -> tuple[LeftLine, ...]:
        return left_lines(self.setup, self.report.ending)

    @property
    def left_count(self) -> int:
        return sum(line.is_open for line in self.left)

    @property
    def left_for(self) -> str:
        """For whom what is left is."""
        ending = self.report.ending
        found = ["a repairer"] if ending.repairer else []
        found += ["you"] if ending.player_left else []
        return f"for {' and '.join(found)}" if found else "as near as it gets" if ending.open else "nothing"

    @property
    def turned_what(self) -> str:
        """'times: rod', 'times, 3 kinds of part'."""
        turned, times = self.report.turned, "once" if self.report.turns == 1 else "times"
        if not turned:
            return "nothing"
        part = turned[0].partition(":")[0].lower()
        return f"{times}: {part}" if len(turned) == 1 else f"{times}, {len(turned)} kinds of part"

    def band(self, band: Band, check: CheckReport) -> str:
        """A band, without the unit where the table's head names it."""
        say = self.setup.case.say
        told = (say.band if check.is_length else say.cents_band)(band.low, band.high)
        return told.removesuffix(f" {self.unit(check)}")

    def day(self, at: datetime) -> str:
        return dates.day(at)


@router.get("/setups/{setup_id}/report")
def show(setup_id: str, visit: Visiting) -> Response:
    return visit.render("pages/setup/report.html", report_page(visit, setup_id))


@router.get("/setups/{setup_id}/report.html")
def as_file(setup_id: str, visit: Visiting) -> Response:
    """The report as one file that opens anywhere: style and drawings in it, no script, nothing to fetch."""
    page = report_page(visit, setup_id, shared=True)
    styles = [(assets().static / name).read_text(encoding="utf-8") for name in STYLES]
    answer = visit.render("pages/setup/report.html", replace(page, css="\n".join(styles)))
    name = f"{_file_name(page.spec.name)}-{page.report.started_at.astimezone().date()}.html"
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _file_name(name: str) -> str:
    """Letters and figures of an instrument's name, for any file system."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "report"


def report_page(
    visit: Onlooker, setup_id: str, *, shared: bool = False, with_notes: bool = True
) -> ReportPage:
    """The page's context; one that is shared leads nowhere else on the bench."""
    setup = load_setup(visit, setup_id)
    report = build_report(setup.case, setup.assessment, setup.row.started_at, setup.row.finished_at)
    marks = report.buzz.strings if report.buzz else ()
    units = units_for(visit.unit.value)
    changes = tuple(_changes(setup, report))
    return ReportPage(
        setup=setup,
        report=report if with_notes else replace(report, notes=()),
        portrait=marked_portrait(setup.spec, setup.assessment, units, "" if shared else setup_id),
        moved=before_after(changes) if changes else None,
        others=len(report.rows) - len(changes),
        facts=facts(setup.spec, visit.trade),
        drawn=drawn(setup.case, STANDARD_HEIGHT.gap, units),
        buzz=buzz_plan(setup.case, marks) if marks else None,
        shared=shared,
    )


def _changes(setup: LoadedSetup, report: Report) -> Iterator[Change]:
    """What was off, or is, before and after."""
    case, handed = setup.case, {item.check for item in report.ending.repairer}
    for row in report.rows:
        slot, bands, word = row.state.slot, row.bands, row.verdict.word
        before, after = _reads(setup, row)
        if before is None or not (row.was_off or word.is_off):
            continue
        yield Change(
            name=_short(row),
            units=units_of(case, slot),
            usual=(bands.usual.low, bands.usual.high),
            target=(bands.target.low, bands.target.high),
            before=before,
            after=after,
            word=REPAIRER if word.is_off and slot.check in handed else word.value,
            said=row.said,
        )


def _reads(setup: LoadedSetup, row: ReportRow) -> tuple[Read | None, Read | None]:
    """The first reading, and how it stands now where that is something else."""
    case, slot = setup.case, row.state.slot
    before, after = (as_read(case, slot, one.entry) if one else None for one in (row.before, row.after))
    if row.read_once:
        return before, None
    return before, Value(row.state.value, row.state.give) if row.expected else after


def _short(row: ReportRow) -> str:
    """A place on a drawing of several checks: 'Relief', 'Height E', 'Cents E, 12', 'Pickup, bridge bass'."""
    slot, place = row.state.slot, short_place(row.label).replace(" fret", "")
    if slot.pickup:
        return f"Pickup, {place.replace(' pickup,', '').lower()}"
    return place if place == row.label else f"{'Cents' if slot.is_cents else slot.check.short} {place}"
