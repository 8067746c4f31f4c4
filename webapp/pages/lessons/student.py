"""A student's side of a lesson: reading it again beside the setup, handing in, taking back."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Response

from webapp.pages.lessons.class_sheet import CheckSeen, seen_checks
from webapp.pages.lessons.lesson_link import LessonView, lesson_view
from webapp.pages.visit.addresses import setup_path
from webapp.pages.visit.answering import NotKept, answer
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.dates import clock, day
from webapp.setups.lesson import LessonSheet, plain_text
from webapp.setups.lessons.class_sheet import HandIn, hand_in_of
from webapp.store import lessons, rates
from webapp.store.lessons import LONGEST_NAME, Full
from webapp.store.tables import HandInRecord

router = APIRouter()

NO_NAME = "Type the name that your teacher knows you by."
FULL = "This lesson holds as many hand-ins as it takes. Ask your teacher to make room."
TOO_FAST = "Very many are handing in just now. Wait a little, then press the button again."


@dataclass(frozen=True)
class StudentLessonPage:
    setup: LoadedSetup
    lesson: LessonView


@dataclass(frozen=True)
class HandInPage:
    """What would be handed in, or what was; `more` where the setup has gone on since."""

    setup: LoadedSetup
    lesson: LessonSheet
    form: FormReader
    handed: HandInRecord | None
    more: bool
    checks: tuple[CheckSeen, ...]
    turned: tuple[str, ...]

    @property
    def name(self) -> str:
        """What was typed, or the name it was handed in under."""
        return self.form.raw("name", self.handed.name if self.handed else "")

    @property
    def action(self) -> str:
        return setup_path(self.setup.id, "hand-in")

    @property
    def when(self) -> str:
        return f"{day(self.handed.handed_at)} at {clock(self.handed.handed_at)}" if self.handed else ""


@router.get("/setups/{setup_id}/lesson")
def read(setup_id: str, visit: Visiting) -> Response:
    setup, lesson = _taught(visit, setup_id)
    page = StudentLessonPage(setup, lesson_view(lesson, visit.trade, visit.unit))
    return visit.render("pages/lessons/read.html", page)


@router.get("/setups/{setup_id}/hand-in")
def ask(setup_id: str, visit: Visiting) -> Response:
    setup, lesson = _taught(visit, setup_id)
    return _show(visit, setup, lesson, FormReader({}))


@router.post("/setups/{setup_id}/hand-in")
def hand_in(setup_id: str, visit: Visiting, form: Posted) -> Response:
    """A copy of the setup as it is now goes to the teacher's sheet, in place of an earlier one."""
    setup, lesson = _taught(visit, setup_id)
    name = " ".join(plain_text(form.text("name", LONGEST_NAME, NO_NAME)).split())
    if form.ok and not name:
        form.fault("name", NO_NAME)
    return answer(
        form,
        name,
        lambda name: _keep(visit, setup, name),
        lambda status: _show(visit, setup, lesson, form, status),
    )


@router.post("/setups/{setup_id}/hand-in/take-back")
def take_back(setup_id: str, visit: Visiting) -> Response:
    """The copy is gone for good; the setup itself stays as it is."""
    _taught(visit, setup_id)
    with visit.writing() as session:
        lessons.take_hand_in_back(session, visit.bench_id, setup_id)
    return see(setup_path(setup_id, "hand-in"))


def _keep(visit: Visit, setup: LoadedSetup, name: str) -> Response:
    what = _as_it_is(setup).model_dump_json()
    try:
        with visit.writing() as session:
            if not rates.take(session, lessons.HANDING_IN, setup.row.lesson_id or "", visit.now):
                raise NotKept(TOO_FAST, status=429)
            lessons.hand_in(session, visit.bench_id, setup.id, name, what, visit.now)
    except Full as why:
        raise NotKept(FULL, status=403) from why
    return see(setup_path(setup.id, "hand-in"))


def _as_it_is(setup: LoadedSetup) -> HandIn:
    return hand_in_of(setup.case, setup.assessment, setup.finished)


def _taught(visit: Visit, setup_id: str) -> tuple[LoadedSetup, LessonSheet]:
    """A setup that belongs to a lesson, else 404."""
    setup = load_setup(visit, setup_id)
    if setup.lesson is None:
        raise HTTPException(404)
    return setup, setup.lesson


def _show(
    visit: Visit, setup: LoadedSetup, lesson: LessonSheet, form: FormReader, status: int = 200
) -> Response:
    with visit.reading() as session:
        handed = lessons.hand_in_of(session, visit.bench_id, setup.id)
    last = max([e.at for e in setup.journal.entries] + [setup.row.finished_at or setup.row.started_at])
    more = handed is not None and last > handed.handed_at
    kept = HandIn.model_validate_json(handed.what) if handed and not more else None
    what = kept or _as_it_is(setup)
    page = HandInPage(setup, lesson, form, handed, more, seen_checks(what, visit.say), what.turned)
    return visit.render("pages/lessons/hand_in.html", page, status)
