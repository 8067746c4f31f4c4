"""The bench: the player's instruments and how each of them stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from fastapi import APIRouter, Response

from webapp.pages.history.drift_kept import daily_air, dues
from webapp.pages.instrument.due import NextDue, next_due
from webapp.pages.instrument.words import InstrumentStanding, standing
from webapp.pages.visit.addresses import instrument_path
from webapp.pages.visit.answering import answer
from webapp.pages.visit.case_loading import (
    LoadedInstrument,
    load_instruments,
    load_setups,
    standing_assessment,
    standing_case,
)
from webapp.pages.visit.forms import Posted
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.physics.lengths import Unit
from webapp.setups.air_log.daily import DailyAir
from webapp.store import instruments
from webapp.trade.spec import InstrumentSpec

router = APIRouter()

NEVER = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class BenchLine:
    """One instrument on the bench, and the first reason to look at it again."""

    name: str
    kind: str
    href: str
    standing: InstrumentStanding
    due: NextDue | None


@dataclass(frozen=True)
class PutAway:
    """One instrument that was taken off the bench."""

    name: str
    href: str


@dataclass(frozen=True)
class BenchPage:
    """Everything on the bench; `notice` is there on the demo bench."""

    lines: tuple[BenchLine, ...]
    put_away: tuple[PutAway, ...]
    notice: str
    unit: str
    unit_error: str = ""


@router.get("/")
def bench(visit: Visiting) -> Response:
    """The bench as it stands."""
    return _show(visit)


@router.post("/units")
def units(visit: Visiting, form: Posted) -> Response:
    """Remember the unit the player likes."""

    def keep(unit: Unit) -> Response:
        visit.remember_unit(unit)
        return see("/")

    def shown(status: int) -> Response:
        return _show(visit, form.error("unit") or "", status)

    return answer(form, form.word("unit", Unit, "one of these units"), keep, shown)


def _show(visit: Visit, unit_error: str = "", status: int = 200) -> Response:
    instruments_here, daily = load_instruments(visit), daily_air(visit)
    lines = [_line(visit, instrument, daily) for instrument in instruments_here]
    lines.sort(key=lambda one: one[0])
    page = BenchPage(
        lines=tuple(line for _, line in lines),
        put_away=_put_away(visit),
        notice=visit.trade.demo.notice if visit.app.settings.demo else "",
        unit=visit.unit.value,
        unit_error=unit_error,
    )
    if status != 200:
        return visit.render("pages/instrument/bench.html", page, status)
    return visit.render_kept("pages/instrument/bench.html", page)


def _line(visit: Visit, instrument: LoadedInstrument, daily: DailyAir) -> tuple[datetime, BenchLine]:
    """The instrument's line, and when it wants looking at: one without a date comes last."""
    kind = visit.trade.kinds[instrument.spec.kind].name
    passes = load_setups(visit, instrument.id)
    case = standing_case(visit, instrument, passes)
    how = standing(passes, standing_assessment(visit, instrument, passes, case), visit.now)
    found = dues(visit, instrument, passes, case, daily)
    # The settling rod has a line of its own, which says the hour.
    told = next_due(visit, [due for due in found if not (how.read_relief and due.key == "settled")])
    line = BenchLine(
        instrument.spec.name, kind, instrument_path(instrument.id), how, told[0] if told else None
    )
    return (found[0].when if found else NEVER), line


def _put_away(visit: Visit) -> tuple[PutAway, ...]:
    with visit.reading() as session:
        rows = instruments.list_all(session, visit.bench_id, archived=True)
    return tuple(
        PutAway(InstrumentSpec.model_validate_json(row.spec_json).name, instrument_path(row.id))
        for row in rows
        if row.archived_at is not None
    )
