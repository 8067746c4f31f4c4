"""A lesson's link: anyone who has it can read the lesson, and begin it on an instrument of their own."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request, Response

from webapp.pages.door.come_back import give_way_back
from webapp.pages.visit.addresses import setup_path
from webapp.pages.visit.answering import NotKept, answer
from webapp.pages.visit.forms import FormReader, Posted, form_id_of
from webapp.pages.visit.visit import caller, guessed_name, hand_over, held_key, new_form_id, see
from webapp.physics.numbers import Unit
from webapp.setups.lesson import LessonSheet, plain_text
from webapp.setups.lessons.lesson_file import kinds_of, rows_of
from webapp.setups.lessons.notes import notes_html
from webapp.setups.say import Say, capital
from webapp.store import benches, instruments, keys, lessons, rates, setups
from webapp.store.engine import Session, reading, writing
from webapp.store.keys import KeyRow, hashed
from webapp.store.lessons import Begun, LessonRow
from webapp.trade.content import Trade
from webapp.trade.ranges import Band
from webapp.trade.spec import Kind
from webapp.trade.words import Check, label
from webapp.web.state import AppState, state


@dataclass(frozen=True)
class BandLine:
    """One reading's bands in words."""

    label: str
    target: str
    usual: str


@dataclass(frozen=True)
class CheckView:
    """One check of the lesson; `html` is what the teacher says, made safe."""

    name: str
    html: str
    bands: tuple[BandLine, ...]


@dataclass(frozen=True)
class LessonView:
    title: str
    kinds: str
    html: str
    checks: tuple[CheckView, ...]


def lesson_view(sheet: LessonSheet, trade: Trade, unit: Unit | None = None) -> LessonView:
    """The lesson in words, its lengths in `unit`, or in the unit that the teacher typed them in."""
    say = Say(unit or _unit(sheet))
    return LessonView(
        title=sheet.title,
        kinds=" or ".join(kind.name for kind in kinds_of(sheet, trade)),
        html=notes_html(sheet.intro),
        checks=tuple(
            CheckView(
                name=capital(label(one.check)),
                html=notes_html(one.notes),
                bands=_lines(sheet, trade, one.check, say),
            )
            for one in sheet.checks
        ),
    )


def _unit(sheet: LessonSheet) -> Unit:
    return Unit(sheet.unit) if sheet.unit in [unit.value for unit in Unit] else Unit.mm


def _lines(sheet: LessonSheet, trade: Trade, check: Check, say: Say) -> tuple[BandLine, ...]:
    rows = [row for row in rows_of(trade, *kinds_of(sheet, trade)) if row.check is check]
    found = ((row, bands) for row in rows if (bands := sheet.bands.get(row.key, row.stated)) is not None)
    return tuple(
        BandLine(row.label, _band(bands.target, row.is_cents, say), _band(bands.usual, row.is_cents, say))
        for row, bands in found
    )


def _band(band: Band, is_cents: bool, say: Say) -> str:
    return (say.cents_band if is_cents else say.band)(band.low, band.high)


router = APIRouter()

LONGEST_NAME = 80
NO_NAME = "Give your instrument a name, so that you know it again."
NO_PLACE = "This lesson has as many students as it takes. Ask your teacher to make room for more."
TOO_FAST = "Very many are beginning this lesson just now. Wait a little, then press the button again."
QUIETLY = {"X-Robots-Tag": "noindex, nofollow"}


@dataclass(frozen=True)
class OpenLesson:
    """A lesson that a link led to, and who asks."""

    row: LessonRow
    sheet: LessonSheet
    token: str
    app: AppState
    at: datetime
    key: KeyRow | None

    @property
    def kinds(self) -> tuple[Kind, ...]:
        return kinds_of(self.sheet, self.app.trade)


@dataclass(frozen=True)
class LessonLinkPage:
    """The lesson as a student reads it."""

    lesson: LessonView
    start_path: str
    has_key: bool


@dataclass(frozen=True)
class LessonStartPage:
    """The short form before it begins."""

    lesson: LessonView
    kinds: tuple[tuple[str, str], ...]
    action: str
    back: str
    form: FormReader
    form_id: str
    has_key: bool


def opened(request: Request, token: str) -> OpenLesson | None:
    """The dependency that opens a lesson; None where the token leads to none."""
    app, at = state(request), datetime.now(UTC)
    with reading(app.engine) as session:
        row = lessons.open_by(session, token)
        # A school has one address: whoever has the right link gets in, however many mistyped it.
        if row is None and rates.is_spent(session, lessons.MISSING, caller(request), at):
            raise HTTPException(429)
    if row is None:
        with writing(app.engine) as session:
            rates.count(session, lessons.MISSING, caller(request), at)
        return None
    sheet = LessonSheet.model_validate_json(row.sheet_json)
    return OpenLesson(row, sheet, token, app, at, held_key(request, at))


Opened = Annotated[OpenLesson | None, Depends(opened)]


@router.get("/lesson/{token}")
def read(request: Request, lesson: Opened) -> Response:
    if lesson is None or not lesson.kinds:
        return _gone(request)
    view = lesson_view(lesson.sheet, lesson.app.trade)
    page = LessonLinkPage(view, f"/lesson/{lesson.token}/start", lesson.key is not None)
    return _page(request, "pages/lessons/link.html", page)


@router.get("/lesson/{token}/start")
def ask(request: Request, lesson: Opened) -> Response:
    if lesson is None or not lesson.kinds:
        return _gone(request)
    return _show(request, lesson, FormReader({}), new_form_id())


@router.post("/lesson/{token}/start")
def start(request: Request, lesson: Opened, form: Posted) -> Response:
    """An instrument of one of the kinds, a setup that follows the lesson, and a bench if need be."""
    if lesson is None or not lesson.kinds:
        return _gone(request)
    name = " ".join(plain_text(form.text("name", LONGEST_NAME, NO_NAME)).split())
    form_id = form_id_of(form)
    if form.ok and not name:
        form.fault("name", NO_NAME)
    kind = lesson.kinds[0].key
    if len(lesson.kinds) > 1:
        kind = form.choice("kind", [one.key for one in lesson.kinds], "what it is") or ""
    return answer(
        form,
        name,
        lambda name: _begin(request, lesson, kind, name, form_id),
        lambda status: _show(request, lesson, form, form_id, status),
    )


def _begin(request: Request, lesson: OpenLesson, kind: str, name: str, form_id: str) -> Response:
    app, at, key = lesson.app, lesson.at, lesson.key
    # For a while the form's own name lets its browser in again, so only its hash is kept, as with a key.
    form_id = hashed(f"{lesson.row.id} {form_id} {name}")
    with writing(app.engine, lesson.row.id) as session:
        begun = lessons.begun_by(session, lesson.row.id, form_id, key.bench_id if key else None, at)
        if begun is None:
            _make_sure_of_room(session, lesson)
            bench_id = key.bench_id if key else benches.make(session, at, lesson.sheet.unit)
            begun = Begun(bench_id, _make(session, lesson, bench_id, kind, name, form_id))
        elif key is None:
            _make_way_again(session, lesson, begun)
        if key is not None:
            return see(setup_path(begun.setup_id, "next"))
        device = guessed_name(request.headers.get("user-agent", ""))
        secret = keys.make_key(session, begun.bench_id, device, at)
        way_back = give_way_back(session, begun.bench_id, at)
    answer = see(f"/come-back?setup={begun.setup_id}")
    hand_over(answer, app, secret)
    way_back.put(answer, app)
    return answer


def _make_way_again(session: Session, lesson: OpenLesson, begun: Begun) -> None:
    """The button was pressed twice: the answer with the first keys was thrown away, so they go as well."""
    if not rates.take(session, lessons.AGAIN, lesson.row.id, lesson.at):
        raise NotKept(TOO_FAST, status=429)
    for one in keys.list_for(session, begun.bench_id):
        if one.last_used_at == one.made_at:
            keys.revoke(session, begun.bench_id, one.id, lesson.at)


def _make_sure_of_room(session: Session, lesson: OpenLesson) -> None:
    """Counted together with what is made, so that a rush cannot slip through."""
    own = lesson.key is not None and lesson.key.bench_id == lesson.row.bench_id
    if not own and lessons.setups_of(session, lesson.row.id) >= lesson.row.students:
        raise NotKept(NO_PLACE, status=403)
    if not rates.take(session, lessons.STARTING, lesson.row.id, lesson.at):
        raise NotKept(TOO_FAST, status=429)


def _make(session: Session, lesson: OpenLesson, bench_id: str, kind: str, name: str, form_id: str) -> str:
    """The instrument as its kind usually is, to be corrected later, and its setup."""
    spec = lesson.app.trade.kinds[kind].spec.model_copy(update={"name": name, "assumed": True})
    instrument_id = instruments.add(session, bench_id, form_id, spec.model_dump_json())
    setup_id = setups.start(session, bench_id, instrument_id, form_id, lesson.at)
    lessons.bind(session, bench_id, setup_id, lesson.row.id)
    return setup_id


def _show(
    request: Request, lesson: OpenLesson, form: FormReader, form_id: str, status: int = 200
) -> Response:
    path = f"/lesson/{lesson.token}"
    view = lesson_view(lesson.sheet, lesson.app.trade)
    kinds = tuple((kind.key, kind.name) for kind in lesson.kinds)
    page = LessonStartPage(view, kinds, f"{path}/start", path, form, form_id, lesson.key is not None)
    return _page(request, "pages/lessons/start.html", page, status)


def _page(request: Request, template: str, page: object, status: int = 200) -> Response:
    answer = state(request).templates.TemplateResponse(request, template, {"page": page}, status_code=status)
    answer.headers.update(QUIETLY)
    if status >= 400:
        answer.headers["HX-Push-Url"] = "false"
    return answer


def _gone(request: Request) -> Response:
    return _page(request, "pages/lessons/gone.html", None, 404)
