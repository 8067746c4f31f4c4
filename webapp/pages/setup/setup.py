"""A setup as a whole: where it stands, the next step, one check at a time, and the end."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.setup.outcome import LeftLine, left_lines, mark_of_whole, marked_portrait
from webapp.pages.setup.pictures import check_picture
from webapp.pages.setup.reading_help import check_name, value_words
from webapp.pages.visit.addresses import (
    adjust_path,
    check_path,
    question_name,
    read_path,
    setup_path,
    step_path,
)
from webapp.pages.visit.answering import FINISHED, NotKept, answer, next_words, onward
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.visit import Visit, Visiting, new_form_id, see
from webapp.setups.checks import CHECKS
from webapp.setups.dates import clock, day
from webapp.setups.past.report import Ending, ending
from webapp.setups.states import Act, CheckState, RepairItem, SlotState, Step
from webapp.store import setups as setup_store
from webapp.store.errors import Finished
from webapp.trade.pages import CheckPage
from webapp.trade.words import Check, label

router = APIRouter()


@dataclass(frozen=True)
class CheckRow:
    """One check in the list."""

    name: str
    href: str
    state: CheckState
    now: bool


@dataclass(frozen=True)
class SetupPage:
    """The whole setup on one page."""

    setup: LoadedSetup
    portrait: Drawing
    rows: tuple[CheckRow, ...]
    next_path: str
    next_sentence: str
    next_words: str
    started: str
    relief_due: str
    stopped: bool


@router.get("/setups/{setup_id}")
def overview(setup_id: str, visit: Visiting) -> Response:
    setup = load_setup(visit, setup_id)
    step = setup.assessment.next
    again = setup.assessment.read_relief_at
    page = SetupPage(
        setup=setup,
        portrait=marked_portrait(setup.spec, setup.assessment, units_for(visit.unit.value)),
        rows=tuple(
            CheckRow(check_name(check), check_path(setup_id, check), state, step.check is check)
            for check, state in setup.assessment.checks.items()
        ),
        next_path=step_path(setup_id, step),
        next_sentence=step_words(step),
        next_words=next_words(step),
        started=day(setup.row.started_at),
        relief_due=_relief_due(again, visit.now),
        stopped=step.act is Act.STOP,
    )
    return visit.render("pages/setup/setup.html", page)


def _relief_due(again: datetime | None, now: datetime) -> str:
    """What to say about a rod that was turned and not read since it settled."""
    if again is None:
        return ""
    if again <= now:
        return "The rod has settled by now. Read the relief once more."
    return f"The rod is settling. Read the relief again after {clock(again)}, {day(again)}."


def step_words(step: Step) -> str:
    """The next step in a line; several places that are done in one go are named by their check."""
    if len(step.places) < 2:
        return step.sentence
    verb, _, _ = step.sentence.partition(": ")
    return f"{verb}: {label(step.check)}"


@router.get("/setups/{setup_id}/next")
def go_on(setup_id: str, visit: Visiting, after: str = "") -> Response:
    """To the place of the next step."""
    return see(onward(load_setup(visit, setup_id), after))


@dataclass(frozen=True)
class SlotRow:
    """One reading of a check, with where to look at it."""

    state: SlotState
    value: str
    href: str


@dataclass(frozen=True)
class CheckPageContext:
    """One check: why, what was read, what it means, what is next."""

    setup: LoadedSetup
    name: str
    state: CheckState
    picture: Drawing | None
    rows: tuple[SlotRow, ...]
    guide: CheckPage
    cautions: tuple[str, ...]
    repairs: tuple[RepairItem, ...]
    next_path: str
    next_sentence: str
    answer_path: str
    answer_again: str
    read_path: str
    symptom_links: tuple[tuple[str, str], ...]


@router.get("/setups/{setup_id}/check/{check}")
def one_check(setup_id: str, check: Check, visit: Visiting) -> Response:
    setup = load_setup(visit, setup_id)
    state = setup.assessment.checks[check]
    step = setup.assessment.next
    page = CheckPageContext(
        setup=setup,
        name=check_name(check),
        state=state,
        picture=check_picture(setup.case, state),
        rows=tuple(_slot_row(setup, slot_state) for slot_state in state.slots),
        guide=visit.trade.pages[check],
        cautions=tuple(c.text for c in visit.trade.cautions_for(setup.spec, check.value)),
        repairs=tuple(item for item in setup.assessment.repairer if item.check is check),
        next_path=step_path(setup_id, step),
        next_sentence=step_words(step) if step.check is check else next_words(step),
        answer_path=_answer_path(setup, check),
        answer_again=CHECKS[check].ask_again,
        read_path=read_path(setup_id, check.value) if state.slots else "",
        symptom_links=_symptom_links(setup, check),
    )
    return visit.render("pages/setup/check.html", page)


def _slot_row(setup: LoadedSetup, state: SlotState) -> SlotRow:
    path = adjust_path if state.measured else read_path
    return SlotRow(state, value_words(setup, state), path(setup.id, state.slot.key))


def _answer_path(setup: LoadedSetup, check: Check) -> str:
    """Where a check's questions can be answered again, once they were answered."""
    place = CHECKS[check].asked
    return setup_path(setup.id, "ask", question_name(place)) if setup.journal.observations(place) else ""


def _symptom_links(setup: LoadedSetup, check: Check) -> tuple[tuple[str, str], ...]:
    """The checks that this one's answers point back to."""
    targets = CHECKS[check].points_to(setup.case)
    return tuple((f"Go back to {label(target)}", check_path(setup.id, target)) for target in targets)


@dataclass(frozen=True)
class FinishPage:
    """The last look before the journal is closed."""

    setup: LoadedSetup
    ending: Ending
    mark: str
    portrait: Drawing
    left: tuple[LeftLine, ...]
    form: FormReader
    form_id: str

    @property
    def action(self) -> str:
        return setup_path(self.setup.id, "finish")


@router.get("/setups/{setup_id}/finish")
def before_the_end(setup_id: str, visit: Visiting) -> Response:
    setup = load_setup(visit, setup_id)
    if setup.finished:
        return see(setup_path(setup_id, "report"))
    return visit.render("pages/setup/finish.html", _finish_page(visit, setup, FormReader({})))


@router.post("/setups/{setup_id}/finish")
def finish(setup_id: str, visit: Visiting, form: Posted) -> Response:
    def keep(setup: LoadedSetup) -> Response:
        try:
            with visit.writing() as session:
                setup_store.finish(session, visit.bench_id, setup_id, setup.instrument.row.version, visit.now)
        except Finished as done:
            raise NotKept(FINISHED) from done
        return see(setup_path(setup_id, "report"))

    def shown(status: int) -> Response:
        page = _finish_page(visit, load_setup(visit, setup_id), form)
        return visit.render("pages/setup/finish.html", page, status)

    return answer(form, load_setup(visit, setup_id), keep, shown)


def _finish_page(visit: Visit, setup: LoadedSetup, form: FormReader) -> FinishPage:
    found = ending(setup.assessment)
    return FinishPage(
        setup=setup,
        ending=found,
        mark=mark_of_whole(found),
        portrait=marked_portrait(setup.spec, setup.assessment, units_for(visit.unit.value), setup.id),
        left=left_lines(setup, found),
        form=form,
        form_id=new_form_id(),
    )
