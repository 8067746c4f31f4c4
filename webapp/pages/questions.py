"""The questions answered by looking, listening and playing: start, buzz board, pickups by ear, play test."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import Response

from webapp.drawings.board import Row, board_rows
from webapp.pages.common import Visit, see, visit
from webapp.pages.flash import Flash, flash
from webapp.pages.forms import FormReader, form_id_of, read_form
from webapp.pages.loading import LoadedSetup, load_setup
from webapp.pages.onward import onward
from webapp.pages.places import check_path, setup_path
from webapp.pages.recording import Refused, record, seen_of
from webapp.setups.buzz import board_outdated, newest_board
from webapp.setups.case import Case
from webapp.setups.checks import height, pickups, playtest, start
from webapp.setups.journal import Entry
from webapp.setups.slots import string_label, string_numbers
from webapp.setups.states import CheckState
from webapp.store.entries import NewEntry
from webapp.trade.pages import CheckPage
from webapp.trade.words import Check, Touch

router = APIRouter()


@dataclass(frozen=True)
class QuestionPage:
    """What every question page shows; `extra` holds what is its own."""

    setup: LoadedSetup
    state: CheckState
    action: str
    form: FormReader
    form_id: str
    seen: int
    last: Entry | None
    guide: CheckPage
    cautions: tuple[str, ...]
    flash: Flash | None
    rows: tuple[Row, ...] = ()
    strings: tuple[tuple[int, str], ...] = ()
    checked: frozenset[str] = frozenset()
    ages: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Question:
    """One of the question pages: its address, its place in the journal, its template, how it is read."""

    name: str
    place: str
    check: Check
    template: str
    read: Callable[[Visit, LoadedSetup, FormReader], dict[str, Any] | None]
    answered: Callable[[Case], Entry | None]


def _read_start(visit: Visit, setup: LoadedSetup, form: FormReader) -> dict[str, Any] | None:
    sheet = visit.trade.start
    stoppers = [s.key for s in sheet.stoppers if s.key in form.many("stopper")]
    age = form.choice("age", [a.key for a in sheet.ages], "how old the strings are")
    missing = [item for item in sheet.items if item.key not in form.many("done")]
    if not stoppers:
        for item in missing:
            form.fault(f"done_{item.key}", f"Not ticked yet: {item.label[0].lower()}{item.label[1:]}.")
    if not form.ok:
        return None
    return {"done": [i.key for i in sheet.items if i not in missing], "age": age, "stoppers": stoppers}


def _read_buzz(visit: Visit, setup: LoadedSetup, form: FormReader) -> dict[str, Any] | None:
    touch = form.word("touch", Touch, "how hard you plucked")
    frets, numbers = range(setup.spec.fret_count + 1), string_numbers(setup.spec)
    places = {f"{n}:{fret}": [n, fret] for n in numbers for fret in frets}
    marked = form.many("buzz")
    if any(mark not in places for mark in marked):
        form.fault("buzz", f"This board has strings 1 to {len(numbers)} and frets up to {frets[-1]}.")
    if form.raw("clear") != "yes" and not marked:
        form.fault("buzz", "Tap the notes that buzz, or say that none does.")
    if form.raw("clear") == "yes" and marked:
        form.fault("buzz", "Some notes are marked. Clear them, or press the other button.")
    if not form.ok or touch is None:
        return None
    return {"taps": [places[mark] for mark in dict.fromkeys(marked)], "touch": touch.value}


def _read_listen(visit: Visit, setup: LoadedSetup, form: FormReader) -> dict[str, Any] | None:
    known = [s.key for s in visit.trade.ear]
    return {"heard": [key for key in known if key in form.many("heard")]}


def _read_playtest(visit: Visit, setup: LoadedSetup, form: FormReader) -> dict[str, Any] | None:
    known = [s.key for q in visit.trade.playtest for s in q.symptoms]
    symptoms = [key for key in known if key in form.many("symptom")]
    return {"symptoms": symptoms, "signed": form.raw("sign") == "yes"}


def _board(case: Case) -> Entry | None:
    """The last time every fret was plucked, unless a turn since made that a thing of the past."""
    board = newest_board(case.journal)
    return None if board is None or board_outdated(case.journal, board) else board


QUESTIONS = (
    Question("start", start.PLACE, Check.START, "pages/start.html", _read_start, start.newest),
    Question("buzz", height.BUZZ, Check.HEIGHT, "pages/buzz.html", _read_buzz, _board),
    Question(
        "listen", pickups.EAR, Check.PICKUPS, "pages/listen.html", _read_listen, pickups.newest_listening
    ),
    Question(
        "playtest", playtest.PLACE, Check.PLAYTEST, "pages/playtest.html", _read_playtest, playtest.newest
    ),
)
_BY_NAME = {question.name: question for question in QUESTIONS}


def show(visit: Visit, setup_id: str, question: Question, after: str) -> Response:
    setup = load_setup(visit, setup_id)
    return visit.render(question.template, build(visit, setup, question, FormReader({}), after))


def send(visit: Visit, setup_id: str, question: Question, form: FormReader) -> Response:
    setup = load_setup(visit, setup_id)
    detail = question.read(visit, setup, form)
    if detail is None:
        return visit.render(question.template, build(visit, setup, question, form), 422)
    entry = NewEntry("observation", question.check.value, question.place, detail=detail)
    done = record(visit, setup, form, question.place, [entry])
    if isinstance(done, Refused):
        form.fault("", done.sentence)
        page = build(visit, load_setup(visit, setup_id), question, form)
        return visit.render(question.template, page, 409)
    return see(_afterwards(done, question, detail))


def _afterwards(setup: LoadedSetup, question: Question, detail: dict[str, Any]) -> str:
    """Where an answer leads: to what it means, where it means something; else to the next step."""
    told = detail.get("taps") or detail.get("heard") or detail.get("stoppers")
    symptoms = detail.get("symptoms") and not detail.get("signed")
    if told or symptoms:
        return check_path(setup.id, question.check)
    return onward(setup)


def build(
    visit: Visit, setup: LoadedSetup, question: Question, form: FormReader, after: str = ""
) -> QuestionPage:
    """The page's context."""
    state = setup.assessment.checks[question.check]
    last = question.answered(setup.case)
    board = question.check is Check.HEIGHT
    taps = [f"{s}:{f}" for s, f in last.detail.get("taps", [])] if board and last else []
    return QuestionPage(
        setup=setup,
        state=state,
        action=setup_path(setup.id, "ask", question.name),
        form=form,
        form_id=form_id_of(form),
        seen=seen_of(setup.journal, question.place),
        last=last,
        guide=visit.trade.pages[question.check],
        cautions=tuple(c.text for c in visit.trade.cautions_beside(question.check.value)),
        flash=flash(setup, after),
        rows=board_rows(setup.spec.scale_bass_mm, setup.spec.fret_count) if board else (),
        strings=tuple((n, string_label(setup.spec, n).split()[0]) for n in string_numbers(setup.spec)),
        ages=tuple((age.key, age.label) for age in visit.trade.start.ages),
        checked=frozenset(form.many("buzz") if form.data else taps),
    )


class QuestionName(StrEnum):
    """The question pages' names in addresses."""

    START = "start"
    BUZZ = "buzz"
    LISTEN = "listen"
    PLAYTEST = "playtest"


@router.get("/setups/{setup_id}/ask/{name}")
def show_question(
    setup_id: str, name: QuestionName, visit: Annotated[Visit, Depends(visit)], after: str = ""
) -> Response:
    return show(visit, setup_id, _BY_NAME[name], after)


@router.post("/setups/{setup_id}/ask/{name}")
def send_question(
    setup_id: str,
    name: QuestionName,
    visit: Annotated[Visit, Depends(visit)],
    form: Annotated[FormReader, Depends(read_form)],
) -> Response:
    return send(visit, setup_id, _BY_NAME[name], form)
