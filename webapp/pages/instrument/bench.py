"""The bench: the player's instruments, which of them wants a hand, and for what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property

from fastapi import APIRouter, Response

from webapp.drawings.marks import REPAIRER
from webapp.drawings.portrait.portrait import PlaceMark, portrait, units_per_mm
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.history.season import daily_air, dues
from webapp.pages.instrument.instrument import InstrumentStanding, due_words, look_again, standing
from webapp.pages.instrument.places import UNMARKED, place_marks
from webapp.pages.visit.addresses import instrument_path
from webapp.pages.visit.answering import answer, next_words
from webapp.pages.visit.case_loading import (
    LoadedInstrument,
    LoadedSetup,
    described,
    load_instruments,
    load_setups,
    standing_assessment,
    standing_case,
)
from webapp.pages.visit.forms import Posted
from webapp.pages.visit.visit import FORM_ID_HERE, Visit, Visiting, new_form_id, see
from webapp.physics.numbers import Unit
from webapp.setups.air_log.daily import DailyAir
from webapp.setups.description import in_short
from webapp.setups.say import capital
from webapp.setups.seasons.due import Due
from webapp.setups.states import Act, Assessment, Step, Word
from webapp.store import instruments
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import label
from webapp.web.kept import hashed_once

router = APIRouter()

# More portraits than this make a long bench slow to load and to scroll.
MOST_DRAWN = 8
NEVER = (True, datetime.max.replace(tzinfo=UTC))
DONE = (Word.GOOD, Word.EXPECTED, Word.NOT_HERE, Word.NOT_TAUGHT)


@dataclass(frozen=True)
class Said:
    """One line of how an instrument stands: its mark (empty: none), the words, and what follows them."""

    mark: str
    words: str
    then: str = ""


@dataclass(frozen=True)
class BenchLine:
    """One instrument on the bench, why to look at it, and the one thing to do with it.

    `starts` is whether that thing is a setup to start, which is sent as a form.
    """

    id: str
    spec_json: str
    in_short: str
    marks: tuple[PlaceMark, ...]
    says: tuple[Said, ...]
    action: str
    action_href: str
    starts: bool

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
    form_id: str
    unit_error: str = ""

    @cached_property
    def _per_mm(self) -> float:
        return units_per_mm([line.spec for line in self.lines[:MOST_DRAWN]])

    @property
    def drawn(self) -> tuple[tuple[BenchLine, Drawing | None], ...]:
        """Each line with its portrait, as far as these go."""
        units = units_for(self.unit)
        return tuple(
            (line, portrait(line.spec, line.marks, 1 / self._per_mm, units=units))
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
    daily = daily_air(visit)
    lines = sorted((_line(visit, one, daily) for one in load_instruments(visit)), key=lambda line: line[0])
    page = BenchPage(
        lines=tuple(line for _, line in lines),
        put_away=_put_away(visit),
        notice=visit.trade.demo.notice if visit.app.settings.demo else "",
        unit=visit.unit.value,
        form_id=FORM_ID_HERE if status == 200 else new_form_id(),
        unit_error=unit_error,
    )
    if status != 200:
        return visit.render("pages/instrument/bench.html", page, status)
    return visit.render_kept("pages/instrument/bench.html", page, new_form_id())


Rank = tuple[bool, tuple[bool, datetime]]


def _line(visit: Visit, instrument: LoadedInstrument, daily: DailyAir) -> tuple[Rank, BenchLine]:
    """The instrument's line, behind its place on the bench: what is due or under way comes first."""
    passes = load_setups(visit, instrument.id)
    if not passes:
        return _judged(visit, instrument, passes, daily)
    what = ("line", instrument.row.spec_json, visit.air_mark, passes[0].lesson_json)
    return visit.once(passes[0].past, what, lambda: _judged(visit, instrument, passes, daily))


def _judged(
    visit: Visit, instrument: LoadedInstrument, passes: Sequence[LoadedSetup], daily: DailyAir
) -> tuple[Rank, BenchLine]:
    case = standing_case(visit, instrument, passes)
    stands = standing_assessment(visit, instrument, passes, case)
    how = standing(passes, stands, visit.now)
    found = dues(visit, instrument, passes, case, daily)
    due_now = next((one for one in found if one.is_due(visit.now)), None)
    # The settling rod has a line of its own, which says the hour.
    due = next((one for one in found if not (how.read_relief and one.key == "settled")), None)
    setup = next((one for one in passes if not one.quick), None)
    at = setup.assessment.next.check if setup is not None and how.under_way else None
    marks = place_marks(instrument.spec, stands, at)
    action, href, starts = _action(how, due_now, setup is None, instrument_path(instrument.id))
    line = BenchLine(
        id=instrument.id,
        spec_json=instrument.row.spec_json,
        in_short=in_short(instrument.spec),
        marks=marks,
        says=tuple(_says(visit, setup, how, stands, due)),
        action=action,
        action_href=href,
        starts=starts,
    )
    waits = due_now is not None or how.under_way
    return (not waits, found[0].rank if found else NEVER), line


def _action(how: InstrumentStanding, due: Due | None, never: bool, home: str) -> tuple[str, str, bool]:
    """What the button says, where it leads, and whether it starts a setup."""
    if how.under_way:
        return "Continue", how.next_href, False
    if never or (due is not None and due.sets_up):
        return "Put this right" if due is not None and due.off else "Start a setup", f"{home}/setups", True
    if due is not None and due.key != "strings":
        return f"Read {label(due.check)}", f"{home}/quick", False
    return "Quick check", f"{home}/quick", False


def _says(
    visit: Visit, setup: LoadedSetup | None, how: InstrumentStanding, stands: Assessment, due: Due | None
) -> Iterator[Said]:
    """What is due or off, what is left for a repairer, and else that all is well; each in a few words."""
    is_due = due is not None and due.is_due(visit.now)
    if how.read_relief:
        yield Said(Word.EXPECTED, f"{how.read_relief}.")
    elif due is not None and is_due:
        yield Said(Word.TOUCH_HIGH, f"{due_words(due)}.")
    if how.repairer:
        yield Said(REPAIRER, f"{len(how.repairer)} for a repairer.")
    if setup is not None and how.under_way:
        done = setup.assessment.done_count
        begun = f"{done} of {sum(1 for c in setup.assessment.checks.values() if c.here)} checks done."
        yield Said(Word.NOT_MEASURED, begun if done else "Setup begun.", _next(setup.assessment.next))
    elif setup is None:
        yield Said(Word.NOT_MEASURED, f"{how.sentence}.")
    elif not is_due:
        yield from _well(stands, look_again(due, visit.now) if due else "")


def _well(stands: Assessment, later: str) -> Iterator[Said]:
    handed = {item.check for item in stands.repairer}
    off = [
        (state.word, f"{capital(label(check))}: {state.said}.")
        for check, state in stands.checks.items()
        if state.here and state.word not in UNMARKED and check not in handed
    ]
    if off:
        more = f"And {len(off) - 1} more." if len(off) > 1 else ""
        yield Said(*off[0], then=f"{more} {later}".strip())
    elif all(state.word in DONE for check, state in stands.checks.items() if check not in handed):
        yield Said(Word.GOOD, "All good.", later)
    elif later:
        yield Said("", "", later)


def _next(step: Step) -> str:
    words = next_words(step).removeprefix("Continue: ")
    return f"Next: {words}." if step.act is not Act.STOP else f"{words}."


def _put_away(visit: Visit) -> tuple[PutAway, ...]:
    with visit.reading() as session:
        rows = instruments.list_all(session, visit.bench_id, archived=True)
    return tuple(
        PutAway(InstrumentSpec.model_validate_json(row.spec_json).name, instrument_path(row.id))
        for row in rows
        if row.archived_at is not None
    )
