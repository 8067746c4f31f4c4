"""Touch by test: raise until it just stops buzzing; that setting is the player's own swing."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.portrait.whereabouts import whereabouts
from webapp.drawings.shapes import Drawing
from webapp.pages.visit.answering import answer
from webapp.pages.visit.case_loading import Closer, load_closer
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.physics.mixture import NINETY
from webapp.setups.case import Case
from webapp.setups.geometry import STANDARD_HEIGHT, HeightWay
from webapp.setups.slots import slot_label, string_label, string_numbers
from webapp.setups.strings.string_setting import setting_of
from webapp.setups.tryout.clearance_map import Rest, rests_on
from webapp.setups.tryout.touch_test import (
    BoardSays,
    HeightTest,
    TargetPair,
    TouchNotFound,
    board_touch,
    boards_say,
    found_by_heights,
    target_pairs,
    with_own,
)
from webapp.store import instruments
from webapp.trade.ranges import Band
from webapp.trade.spec import InstrumentSpec, OwnSwing
from webapp.trade.words import Check

router = APIRouter()


@dataclass(frozen=True)
class TargetRow:
    """One target before and after: the table's for the named touch, and the one of the own swing."""

    name: str
    table: Band
    own: Band


@dataclass(frozen=True)
class TouchPage:
    """Everything the touch page shows."""

    closer: Closer
    form: FormReader
    version: int
    ways: tuple[tuple[str, str], ...]
    tools: tuple[tuple[str, str], ...]
    boards: tuple[BoardSays, ...]
    targets: tuple[TargetRow, ...]

    @property
    def path(self) -> str:
        return f"{self.closer.path}/touch"

    @property
    def case(self) -> Case:
        return self.closer.case

    @property
    def own(self) -> OwnSwing | None:
        return self.case.spec.own_swing

    @property
    def board_touch(self) -> str:
        return board_touch(self.case)

    @property
    def relief(self) -> Rest:
        """The relief that the test rests on, and where it comes from."""
        return rests_on(self.case, setting_of(self.case, self.string_number))[0]

    @property
    def string_number(self) -> int:
        """The string offered first: the one typed, else the thickest."""
        typed, numbers = self.form.raw("string"), string_numbers(self.case.spec)
        return int(typed) if typed in [str(n) for n in numbers] else numbers[0]

    @property
    def picture(self) -> Drawing:
        """Where the height is measured."""
        return whereabouts(self.case.spec, "height", "measure here")

    def label(self, number: int) -> str:
        return string_label(self.case.spec, number)

    def unit(self, name: str, default: str) -> str:
        return self.form.raw(f"{name}_unit", default)


@router.get("/instruments/{instrument_id}/touch")
def show(instrument_id: str, visit: Visiting) -> Response:
    closer = load_closer(visit, instrument_id)
    return visit.render("pages/tryout/touch_test.html", build(visit, closer, FormReader({})))


@router.post("/instruments/{instrument_id}/touch")
def send(instrument_id: str, visit: Visiting, form: Posted) -> Response:
    """Keep the swing that was found, or forget the one there is."""
    closer = load_closer(visit, instrument_id)

    def keep(spec: InstrumentSpec) -> Response:
        if spec != closer.instrument.spec:
            with visit.writing() as session:
                text, version = spec.model_dump_json(), form.shown_with("version")
                instruments.revise(session, visit.bench_id, instrument_id, text, version)
        return see(f"{closer.path}/touch")

    def shown(status: int) -> Response:
        page = build(visit, load_closer(visit, instrument_id), form)
        return visit.render("pages/tryout/touch_test.html", page, status)

    return answer(form, with_own(closer.instrument.spec, _read(visit, closer, form)), keep, shown)


def _read(visit: Visit, closer: Closer, form: FormReader) -> OwnSwing | None:
    """The swing to keep; None to forget it, or with sentences beside the fields."""
    action = form.choice("action", ("heights", "board", "forget"), "what to keep")
    if action == "board":
        return _from_board(closer, form)
    return _from_heights(visit, closer, form) if action == "heights" else None


def _from_board(closer: Closer, form: FormReader) -> OwnSwing | None:
    found = {str(one.string): one.found for one in boards_say(closer.case) if one.found is not None}
    chosen = found.get(form.raw("string"))
    if chosen is None:
        form.fault("", "The notes that buzzed no longer say a swing for this string. Look at them again.")
        return None
    return chosen.own


def _from_heights(visit: Visit, closer: Closer, form: FormReader) -> OwnSwing | None:
    case = closer.case
    number = form.choice("string", [key for key, _ in closer.strings], "the string you tested")
    way = form.choice("way", dict(height_ways(case)), "how the string was held")
    tool = form.choice("tool", dict(_tools(visit)), "what you measured with")
    plausible = visit.trade.ranges.plausible.height
    clean = form.length("clean", visit.unit, plausible)
    typed = (form.raw("buzzed_take") or form.raw("buzzed")).strip()
    buzzed = form.length("buzzed", visit.unit, plausible) if typed else None
    if not form.ok or clean is None or number is None or way is None or tool is None:
        return None
    hold, gap = way.split("-")
    test = HeightTest(
        string=int(number),
        clean_mm=clean.mm,
        buzzed_mm=buzzed.mm if buzzed else None,
        way=HeightWay(int(hold), int(gap)),
        error_mm=_reading_give(visit, tool),
    )
    try:
        return found_by_heights(case, test).own
    except TouchNotFound as doubt:
        form.fault("buzzed" if buzzed else "clean", str(doubt))
    except ValueError:
        form.fault("clean", "No touch swings a string that far. Measure the height and the relief again.")
    return None


def _reading_give(visit: Visit, key: str) -> float:
    """How far one reading with this tool may be off, mm: half of a 90 % interval."""
    tool = visit.trade.tools[visit.trade.method(Check.HEIGHT, key).tool]
    return NINETY * hypot(tool.sigma, tool.division / sqrt(12))


def build(visit: Visit, closer: Closer, form: FormReader) -> TouchPage:
    """The page's context."""
    case = closer.case
    return TouchPage(
        closer=closer,
        form=form,
        version=form.show_with("version", closer.instrument.row.version),
        ways=height_ways(case),
        tools=_tools(visit),
        boards=boards_say(case),
        targets=tuple(_row(case, pair) for pair in target_pairs(case)),
    )


def _row(case: Case, pair: TargetPair) -> TargetRow:
    return TargetRow(slot_label(case.spec, pair.slot), pair.table.target, pair.own.target)


def height_ways(case: Case) -> tuple[tuple[str, str], ...]:
    """How a height can be read."""
    last = case.spec.fret_count
    ways = (STANDARD_HEIGHT, HeightWay(0, STANDARD_HEIGHT.gap), HeightWay(1, last))
    return tuple((f"{way.hold}-{way.gap}", way.text) for way in dict.fromkeys(ways))


def _tools(visit: Visit) -> tuple[tuple[str, str], ...]:
    return tuple((method.key, method.label) for method in visit.trade.methods_for(Check.HEIGHT))
