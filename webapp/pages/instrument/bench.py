"""The bench: the player's instruments, which of them wants a hand, and for what."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property

from fastapi import APIRouter, Response
from pydantic import TypeAdapter

from webapp.drawings.portrait.portrait import PlaceMark, portrait, units_per_mm
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.visit.addresses import instrument_path
from webapp.pages.visit.answering import answer
from webapp.pages.visit.case_loading import described
from webapp.pages.visit.forms import Posted
from webapp.pages.visit.visit import Visit, Visiting, see, where_it_can
from webapp.physics.numbers import Unit
from webapp.setups.seasons.due import Due
from webapp.store import bench_lines
from webapp.store.instruments import InstrumentRow
from webapp.trade.spec import InstrumentSpec
from webapp.web.kept import hashed_once

router = APIRouter()

# More portraits than this make a long bench slow to load and to scroll.
MOST_DRAWN = 8
NEVER = True, datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class Said:
    """One line of how an instrument stands: its mark (empty: none), the words, and what follows them."""

    mark: str
    words: str
    then: str = ""


@dataclass(frozen=True)
class Stands:
    """How an instrument stands, why to look at it, and the one thing to do with it.

    `starts` is whether that thing is a setup to start, which is sent as a form; `waits` is whether it is
    under way or due, `dues` all that is due, now or later. Good from `judged_at` to `good_until`.
    """

    in_short: str
    marks: tuple[PlaceMark, ...]
    says: tuple[Said, ...]
    action: str
    action_href: str
    starts: bool
    waits: bool
    dues: tuple[Due, ...]
    judged_at: datetime
    good_until: datetime

    @property
    def rank(self) -> tuple[bool, tuple[bool, datetime]]:
        """What waits or is off comes first, then the earliest."""
        return not self.waits, self.dues[0].rank if self.dues else NEVER


@dataclass(frozen=True)
class BenchLine:
    """One instrument on the bench; `state` names what is recorded of it."""

    id: str
    spec_json: str
    state: str
    stands: Stands

    __hash__ = hashed_once

    @property
    def spec(self) -> InstrumentSpec:
        return described(self.spec_json)

    @property
    def href(self) -> str:
        return instrument_path(self.id)


@dataclass(frozen=True)
class PutAway:
    """One instrument that was taken off the bench."""

    name: str
    href: str


@dataclass(frozen=True)
class BenchPage:
    """Everything on the bench; `notice` is there on the demo bench. Portraits are made where they are drawn,
    all to one scale.
    """

    lines: tuple[BenchLine, ...]
    put_away: tuple[PutAway, ...]
    notice: str
    unit: str
    unit_error: str = ""

    @cached_property
    def _per_mm(self) -> float:
        return units_per_mm([line.spec for line in self.lines[:MOST_DRAWN]])

    @property
    def drawn(self) -> tuple[tuple[BenchLine, Drawing | None], ...]:
        """Each line with its portrait, as far as these go."""
        units = units_for(self.unit)
        return tuple(
            (line, portrait(line.spec, line.stands.marks, 1 / self._per_mm, units=units))
            if at < MOST_DRAWN
            else (line, None)
            for at, line in enumerate(self.lines)
        )


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
    lines, away = look(visit)
    page = BenchPage(
        lines=tuple(sorted(lines, key=lambda line: line.stands.rank)),
        put_away=tuple(PutAway(described(row.spec_json).name, instrument_path(row.id)) for row in away),
        notice=visit.trade.demo.notice if visit.app.settings.demo else "",
        unit=visit.unit.value,
        unit_error=unit_error,
    )
    if status != 200:
        return visit.render("pages/instrument/bench.html", page, status)
    return visit.render_kept("pages/instrument/bench.html", page)


_STANDS = TypeAdapter(Stands)


def look(visit: Visit) -> tuple[list[BenchLine], list[InstrumentRow]]:
    """Each instrument's line, the oldest first: what is kept of it where that is still good, else judged
    anew, and kept. And the instruments that were taken off the bench."""
    with visit.reading() as session:
        by = f"{visit.app.build} {visit.unit} {visit.air_mark}"
        kept = bench_lines.of_bench(session, visit.bench_id, by)
    lines, anew = [], []
    for one in kept:
        if one.row.archived_at is not None:
            continue
        stands = _STANDS.validate_json(one.said) if one.said else None
        # One that was judged in the future was judged under a wrong clock.
        if stands is None or not stands.judged_at <= visit.now < stands.good_until:
            # Loaded when it is needed: nearly all of Benchside is.
            from webapp.pages.instrument.bench_line import stands_now

            stands = stands_now(visit, one.row.id)
            anew.append((one, _STANDS.dump_json(stands).decode()))
        lines.append(BenchLine(one.row.id, one.row.spec_json, one.state, stands))
    if anew:
        with where_it_can("what the bench says"), visit.writing() as session:
            bench_lines.keep(session, visit.bench_id, anew)
    return lines, [one.row for one in kept if one.row.archived_at is not None]
