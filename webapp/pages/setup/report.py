"""The report of a setup, on screen and on paper."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.setup.reading_help import check_name
from webapp.pages.setup.setup_drawings import Drawn, buzz_plan, drawn
from webapp.pages.visit import dates
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.visit import Onlooker, Visiting
from webapp.physics.lengths import Unit
from webapp.setups.convert import STANDARD_HEIGHT
from webapp.setups.past.ending import Left, Who
from webapp.setups.past.history import Taken
from webapp.setups.past.report import CheckReport, Report, ReportRow, build_report
from webapp.trade.ranges import Band
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import label
from webapp.web.settings import assets

router = APIRouter()

STYLES = ("benchside.css", "drawing.css")


@dataclass(frozen=True)
class ReportPage:
    """Everything the report shows. With its own `css` it is a file that stands alone."""

    setup: LoadedSetup
    report: Report
    drawn: Drawn
    buzz: Drawing | None
    shared: bool = False
    css: str = ""

    @property
    def spec(self) -> InstrumentSpec:
        return self.setup.spec

    @property
    def strings(self) -> str:
        """Notes and gauges, bass side first: 'E1 1.14 mm, A1 0.89 mm'."""
        say = self.setup.case.say
        return ", ".join(f"{s.note} {say.length(s.gauge_mm)}" for s in self.spec.strings)

    @property
    def scale(self) -> str:
        say, spec = self.setup.case.say, self.spec
        bass = say.length(spec.scale_bass_mm)
        return f"{bass} to {say.length(spec.scale_treble_mm)}" if spec.is_multiscale else bass

    @property
    def touch(self) -> str:
        return label(self.spec.touch)

    def unit(self, check: CheckReport) -> str:
        """The unit that a whole table is in, or nothing where each figure carries its own."""
        if not check.is_length:
            return "cents"
        unit = self.setup.case.say.unit
        return "" if unit is Unit.sixty_fourths else unit.value

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
    def right(self) -> tuple[str, ...]:
        """The checks with which nothing is amiss."""
        return tuple(check_name(state.check) for state in self.report.ending.right)

    @property
    def sentence(self) -> str:
        """How it ended, in a line."""
        ending = self.report.ending
        return "Not everything was done." if ending.player_left else ending.sentence

    @property
    def relief_again(self) -> str:
        """When the rod has settled and is to be read once more; empty where it need not be."""
        at = self.report.ending.relief_at
        again = "Still to come: read the relief once more, when the rod has settled"
        return f"{again}, from {dates.clock(at)} on {dates.day(at)}." if at else ""

    def who(self, left: Left) -> str:
        """Who sees to it; once a setup is finished, nobody does in it."""
        undone = self.report.finished and left.who is Who.PLAYER
        return "left undone" if undone else left.who.value

    def left_name(self, left: Left) -> str:
        """What is not right: 'String height, A string'."""
        name = check_name(left.check)
        if not left.slot:
            return f"{name}: {left.what}" if left.what else name
        return name if left.what == name else f"{name}, {left.what}"

    def band(self, band: Band, check: CheckReport) -> str:
        """A band in the player's unit, or in cents."""
        say = self.setup.case.say
        return (say.band if check.is_length else say.cents_band)(band.low, band.high)

    def day(self, at: datetime) -> str:
        return dates.day(at)

    def clock(self, at: datetime) -> str:
        return dates.clock(at)


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
    return ReportPage(
        setup=setup,
        report=report if with_notes else replace(report, notes=()),
        drawn=drawn(setup.case, STANDARD_HEIGHT.gap, units_for(visit.unit.value)),
        buzz=buzz_plan(setup.case, marks) if marks else None,
        shared=shared,
    )
