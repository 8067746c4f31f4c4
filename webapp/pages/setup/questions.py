"""The questions answered by looking, listening and playing: start, buzz board and its cause, pickups by ear,
play test; and whether the neck is let to rest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException
from fastapi.responses import Response

from webapp.drawings.board.board import BoardRow, BoardString, board_rows, board_string
from webapp.drawings.shapes import Drawing
from webapp.pages.listening.take_work import Takes
from webapp.pages.setup.at_hand import AtHand, at_hand, keep_tools, read_tools
from webapp.pages.setup.pictures import question_picture
from webapp.pages.setup.reading_help import Flash, flash
from webapp.pages.visit.addresses import REST, check_path, question_name, setup_path
from webapp.pages.visit.answering import answer, onward, recorded, seen_of
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.forms import FormReader, Posted, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.buzz_marks import ASKED, CAUSE, answers_since, newest_board
from webapp.setups.case import Case
from webapp.setups.checks import height, pickups, playtest, start
from webapp.setups.dates import clock, day
from webapp.setups.journal import KEPT, START_PLACE, Entry, EntryKind, Part
from webapp.setups.slots import RELIEF, check_of, string_label, string_numbers, strings_seen
from webapp.setups.states import Act, CheckState
from webapp.trade.pages import CheckPage
from webapp.trade.words import Check, Touch

router = APIRouter()

ANSWERS = (("yes", "Yes"), ("no", "No"), ("unsure", "Not sure"))


@dataclass(frozen=True)
class QuestionPage:
    """What every question page shows; the fields with a default are those of one page only."""

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
    picture: Drawing | None = None
    rows: tuple[BoardRow, ...] = ()
    strings: tuple[BoardString, ...] = ()
    checked: frozenset[str] = frozenset()
    before: frozenset[str] = frozenset()
    heard: frozenset[str] = frozenset()
    ages: tuple[tuple[str, str], ...] = ()
    at_hand: AtHand | None = None
    seen_before: bool = False
    asked: tuple[tuple[str, str, str], ...] = ()
    answers: tuple[tuple[str, str], ...] = ANSWERS
    rested_at: str = ""


Read = Callable[[Visit, LoadedSetup, FormReader], list[dict[str, Any]]]


@dataclass(frozen=True)
class Question:
    """One of the question pages: its place in the journal (its name is that place's, unless told), how it is
    read.

    `read` gives the details of the observations to record, after putting its faults beside the fields.
    """

    place: str
    read: Read
    answered: Callable[[Case], Entry | None]
    told: str = ""

    @property
    def name(self) -> str:
        return self.told or question_name(self.place)

    @property
    def template(self) -> str:
        return f"pages/setup/{self.name}.html"

    @property
    def check(self) -> Check:
        return check_of(self.place)


def _read_start(visit: Visit, setup: LoadedSetup, form: FormReader) -> list[dict[str, Any]]:
    sheet = visit.trade.start
    stoppers = [s.key for s in sheet.stoppers if s.key in form.many("stopper")]
    age = form.choice("age", [a.key for a in sheet.ages], "how old the strings are")
    missing = [item for item in sheet.items if item.key not in form.many("done")]
    read_tools(visit, form)
    if not stoppers:
        for item in missing:
            form.fault(f"done_{item.key}", f"Not ticked yet: {item.label[0].lower()}{item.label[1:]}.")
    return [{"done": [i.key for i in sheet.items if i not in missing], "age": age, "stoppers": stoppers}]


def _read_buzz(visit: Visit, setup: LoadedSetup, form: FormReader) -> list[dict[str, Any]]:
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
        return []
    return [{"taps": [places[mark] for mark in dict.fromkeys(marked)], "touch": touch.value}]


def _read_cause(visit: Visit, setup: LoadedSetup, form: FormReader) -> list[dict[str, Any]]:
    keys = [question.key for question in visit.trade.buzz.question]
    told = {key: form.choice(f"asked_{key}", ASKED, "one of the answers") for key in keys}
    return [{"asked": key, "answer": answer} for key, answer in told.items()]


def _read_listen(visit: Visit, setup: LoadedSetup, form: FormReader) -> list[dict[str, Any]]:
    known = [s.key for s in visit.trade.ear]
    return [{"heard": [key for key in known if key in form.many("heard")]}]


def _read_playtest(visit: Visit, setup: LoadedSetup, form: FormReader) -> list[dict[str, Any]]:
    known = [s.key for q in visit.trade.playtest for s in q.symptoms]
    symptoms = [key for key in known if key in form.many("symptom")]
    return [{"symptoms": symptoms, "signed": form.raw("sign") == "yes"}]


def _read_rest(visit: Visit, setup: LoadedSetup, form: FormReader) -> list[dict[str, Any]]:
    if not _rests(setup):
        form.fault("", "The neck need not rest now: go on with the setup.")
    return [{"answer": KEPT}]


QUESTIONS = (
    Question(START_PLACE, _read_start, start.newest),
    Question(height.BUZZ, _read_buzz, height.current_board),
    Question(CAUSE, _read_cause, height.current_board),
    Question(pickups.EAR, _read_listen, pickups.newest_listening),
    Question(playtest.PLACE, _read_playtest, playtest.newest),
    Question(RELIEF.key, _read_rest, lambda case: None, REST),
)
_BY_NAME = {question.name: question for question in QUESTIONS}


def _rests(setup: LoadedSetup) -> bool:
    """Whether the setup waits for the neck to rest."""
    step = setup.assessment.checks[RELIEF.check].step
    return step is not None and step.act is Act.REST


def show(visit: Visit, setup_id: str, question: Question, after: str) -> Response:
    setup = load_setup(visit, setup_id)
    if question.name == REST and not _rests(setup):
        return see(onward(setup))
    return visit.render(question.template, build(visit, setup, question, FormReader({}), after))


def send(visit: Visit, setup_id: str, question: Question, form: FormReader) -> Response:
    setup = load_setup(visit, setup_id)

    def keep(details: list[dict[str, Any]]) -> Response:
        kind, check = EntryKind.OBSERVATION, question.check
        new = [Entry(kind, check, question.place, detail=detail) for detail in details]
        keep_tools(visit, form)
        return see(_afterwards(recorded(visit, setup, form, question.place, new), question, details))

    def shown(status: int) -> Response:
        page = build(visit, load_setup(visit, setup_id), question, form)
        return visit.render(question.template, page, status)

    return answer(form, question.read(visit, setup, form), keep, shown)


def _afterwards(setup: LoadedSetup, question: Question, details: list[dict[str, Any]]) -> str:
    """Where an answer leads: to what it means, where it means something; else to the next step."""
    detail = details[-1]
    told = detail.get("taps") or detail.get("heard") or detail.get("stoppers") or "asked" in detail
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
    board = question.name == "buzz"
    known = _taps(newest_board(setup.journal)) if board else frozenset()
    return QuestionPage(
        setup=setup,
        state=state,
        action=setup_path(setup.id, "ask", question.name),
        form=form,
        form_id=form_id_of(form),
        seen=form.show_with("seen", seen_of(setup.journal, question.place)),
        last=last,
        guide=visit.trade.pages[question.check],
        cautions=tuple(c.text for c in visit.trade.cautions_for(setup.spec, question.check.value)),
        flash=flash(setup, after),
        picture=question_picture(setup.case, question.name),
        rows=board_rows(setup.spec.fret_count, dotted=setup.spec.radius_nut_mm is not None) if board else (),
        strings=_columns(setup) if board else (),
        at_hand=at_hand(visit, form) if question.name == "start" else None,
        seen_before=bool(setup.case.past) or last is not None,
        ages=tuple((age.key, age.label) for age in visit.trade.start.ages),
        checked=frozenset(form.many("buzz")) if form.data else known if last else frozenset(),
        before=known if last is None else frozenset(),
        heard=_heard(visit, setup) if board else frozenset(),
        asked=_asked(setup),
        rested_at=_rested_at(setup),
    )


def _columns(setup: LoadedSetup) -> tuple[BoardString, ...]:
    """The strings of the buzz board, as they lie before the player."""
    spec = setup.spec
    return tuple(
        board_string(n, string_label(spec, n).split()[0], spec.string(n).gauge_mm) for n in strings_seen(spec)
    )


def _taps(board: Entry | None) -> frozenset[str]:
    """The notes marked on one board, as its boxes name them."""
    return frozenset(f"{s}:{f}" for s, f in board.detail.get("taps", [])) if board else frozenset()


def _heard(visit: Visit, setup: LoadedSetup) -> frozenset[str]:
    """The notes that a take since the newest board says may buzz, as the boxes name them."""
    board = newest_board(setup.journal)
    marks = Takes(visit.app.settings.folder).marks(visit.bench_id, setup.id, board.at if board else None)
    return frozenset(f"{string}:{fret}" for string, fret in marks)


def _asked(setup: LoadedSetup) -> tuple[tuple[str, str, str], ...]:
    """The questions about a buzz: field, label, and what was answered since the board."""
    told = answers_since(setup.case, newest_board(setup.journal))
    return tuple((f"asked_{q.key}", q.label, told.get(q.key, "")) for q in setup.case.trade.buzz.question)


def _rested_at(setup: LoadedSetup) -> str:
    """From when on the rod may be gone on with after a rest; empty where it was not turned."""
    turned = setup.journal.last_turn(Part.ROD)
    step = setup.assessment.checks[RELIEF.check].step
    if turned is None or step is None:
        return ""
    at = turned.at + timedelta(hours=step.hours)
    return f"{clock(at)}, {day(at)}"


async def question_of(name: str) -> Question:
    """The dependency that finds the question of an address."""
    if name not in _BY_NAME:
        raise HTTPException(404)
    return _BY_NAME[name]


Asked = Annotated[Question, Depends(question_of)]


@router.get("/setups/{setup_id}/ask/{name}")
def show_question(setup_id: str, question: Asked, visit: Visiting, after: str = "") -> Response:
    return show(visit, setup_id, question, after)


@router.post("/setups/{setup_id}/ask/{name}")
def send_question(setup_id: str, question: Asked, visit: Visiting, form: Posted) -> Response:
    return send(visit, setup_id, question, form)
