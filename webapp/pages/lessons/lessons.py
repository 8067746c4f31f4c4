"""The teacher's lessons: writing one, its link and its printed sheet, taking it along as a file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Query, Request, Response
from starlette.datastructures import UploadFile

from webapp.pages.lessons.lesson_form import LessonFormPage, new_values, read_sheet, sheet_values
from webapp.pages.lessons.lesson_link import LessonView, lesson_view
from webapp.pages.visit.addresses import Link, link_to
from webapp.pages.visit.answering import NotKept, answer
from webapp.pages.visit.forms import FormReader, Posted, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, new_form_id, see
from webapp.physics.numbers import Unit
from webapp.setups.dates import day
from webapp.setups.lesson import LessonSheet
from webapp.setups.lessons.lesson_file import FILE_BYTES, BadLesson, kinds_of, lesson_file, read_lesson_file
from webapp.store import lessons
from webapp.store.engine import Session
from webapp.store.keys import links_key
from webapp.store.lessons import AT_MOST, STUDENTS, LessonRow, TooManyStudents
from webapp.trade.content import Trade
from webapp.trade.spec import Kind

router = APIRouter()

NEW, IMPORT = "/lessons/new", "/lessons/import"
FULL = f"This bench has {AT_MOST} lessons already, as many as it may."
NO_FILE = "Choose a lesson file that a Benchside exported."


@dataclass(frozen=True)
class LessonLine:
    """One lesson of the list."""

    title: str
    told: str
    href: str


@dataclass(frozen=True)
class LessonsPage:
    lines: tuple[LessonLine, ...]


@dataclass(frozen=True)
class LessonKindsPage:
    """The kinds to choose from, and whether the one asked for is not here."""

    kinds: tuple[Kind, ...]
    unknown: bool


@dataclass(frozen=True)
class LessonPage:
    """One lesson, for its teacher. Without a link the one in use cannot be shown any more."""

    id: str
    lesson: LessonView
    link: Link | None
    students: int
    students_at_most: int
    handed_in: int

    @property
    def path(self) -> str:
        return lesson_path(self.id)


@dataclass(frozen=True)
class ImportPage:
    form: FormReader
    action: str = IMPORT


def lesson_path(lesson_id: str) -> str:
    return f"/lessons/{lesson_id}"


@router.get("/lessons")
def listed(visit: Visiting) -> Response:
    with visit.reading() as session:
        lines = tuple(_line(session, visit, row) for row in lessons.list_for(session, visit.bench_id))
    return visit.render("pages/lessons/lessons.html", LessonsPage(lines))


@router.get(NEW)
def new(visit: Visiting, kind: Annotated[tuple[str, ...], Query()] = ()) -> Response:
    """The kinds to choose from, or the form as the chosen kinds fill it in."""
    kinds = _kinds(visit, kind)
    if not kinds:
        page = LessonKindsPage(tuple(visit.trade.kinds.values()), bool(kind))
        return visit.render("pages/lessons/kind.html", page, 404 if kind else 200)
    form = FormReader(new_values(visit.trade, kinds, visit.unit))
    return _form(visit, LessonFormPage(form, kinds, visit.trade, NEW, visit.unit, form_id=new_form_id()))


@router.post(NEW)
def create(visit: Visiting, form: Posted) -> Response:
    """Keep a new lesson, once."""
    kinds = _kinds(visit, form.many("kind"))
    if not kinds:
        every = LessonKindsPage(tuple(visit.trade.kinds.values()), True)
        return visit.render("pages/lessons/kind.html", every, 422)
    unit = _typed_in(form, visit)
    page = LessonFormPage(form, kinds, visit.trade, NEW, unit, form_id=form_id_of(form))
    return answer(
        form,
        read_sheet(form, visit.trade, kinds, unit),
        lambda read: see(lesson_path(_keep(visit, page.form_id, *read))),
        lambda status: _form(visit, page, status),
        lesson_path,
    )


def _kinds(visit: Visit, keys: Sequence[str]) -> tuple[Kind, ...]:
    """The kinds of these names; none where one of them is not here."""
    known = visit.trade.kinds
    return tuple(known[key] for key in dict.fromkeys(keys)) if all(key in known for key in keys) else ()


@router.get(IMPORT)
def ask_import(visit: Visiting) -> Response:
    return visit.render("pages/lessons/import.html", ImportPage(FormReader({})))


async def read_upload(request: Request) -> bytes | None:
    """The dependency that takes the file in: at most what a lesson may have, and one byte more."""
    form = await request.form(max_files=1, max_fields=10)
    file = form.get("file")
    if not isinstance(file, UploadFile) or not file.filename:
        return None
    return await file.read(FILE_BYTES + 1)


@router.post(IMPORT)
def take_in(visit: Visiting, content: Annotated[bytes | None, Depends(read_upload)]) -> Response:
    """A lesson from another Benchside; it gets a link of its own here."""
    form = FormReader({})
    return answer(
        form,
        _read_file(form, content, visit.trade),
        lambda sheet: see(lesson_path(_keep(visit, new_form_id(), sheet, STUDENTS))),
        lambda status: visit.render("pages/lessons/import.html", ImportPage(form), status),
    )


def _read_file(form: FormReader, content: bytes | None, trade: Trade) -> LessonSheet | None:
    """The lesson of a file; None, with a sentence, where it is none."""
    try:
        if content is None:
            raise BadLesson(NO_FILE)
        return read_lesson_file(content, trade)
    except BadLesson as bad:
        form.fault("file", bad.sentence)
        return None


@router.get("/lessons/{lesson_id}")
def show(lesson_id: str, visit: Visiting) -> Response:
    return visit.render("pages/lessons/lesson.html", _page(visit, lesson_id))


@router.get("/lessons/{lesson_id}/print")
def printed(lesson_id: str, visit: Visiting) -> Response:
    """One sheet of paper for the class: title, square, link."""
    return visit.render("pages/lessons/print.html", _page(visit, lesson_id))


@router.get("/lessons/{lesson_id}/edit")
def edit(lesson_id: str, visit: Visiting) -> Response:
    row, sheet, kinds = _lesson(visit, lesson_id)
    values = sheet_values(sheet, visit.trade, kinds, visit.unit, row.students)
    return _form(visit, _edit_page(visit, row, kinds, FormReader(values), visit.unit))


@router.post("/lessons/{lesson_id}/edit")
def revise(lesson_id: str, visit: Visiting, form: Posted) -> Response:
    """Keep the lesson as a new version. Setups that go on follow it; finished ones stay as they were."""
    row, _, kinds = _lesson(visit, lesson_id)
    unit = _typed_in(form, visit)

    def keep(read: tuple[LessonSheet, int]) -> Response:
        sheet, students = read
        with visit.writing() as session:
            text, version = sheet.model_dump_json(), form.shown_with("version")
            lessons.revise(session, visit.bench_id, lesson_id, text, students, version, visit.now)
        return see(lesson_path(lesson_id))

    def shown(status: int) -> Response:
        newest, _, _ = _lesson(visit, lesson_id)
        return _form(visit, _edit_page(visit, newest, kinds, form, unit), status)

    return answer(form, read_sheet(form, visit.trade, kinds, unit), keep, shown)


@router.post("/lessons/{lesson_id}/link")
def renew_link(lesson_id: str, visit: Visiting) -> Response:
    """Another link; whoever has only the old one finds nothing behind it."""
    with visit.writing() as session:
        lessons.renew_link(session, visit.bench_id, lesson_id, links_key(visit.app.settings.folder))
    return see(lesson_path(lesson_id))


@router.get("/lessons/{lesson_id}/file")
def file(lesson_id: str, visit: Visiting) -> Response:
    """The lesson for another Benchside."""
    _, sheet, _ = _lesson(visit, lesson_id)
    headers = {"Content-Disposition": 'attachment; filename="lesson.json"'}
    return Response(lesson_file(sheet), media_type="application/json", headers=headers)


def load_lesson(visit: Visit, lesson_id: str) -> tuple[LessonRow, LessonSheet]:
    """The teacher's own lesson; 404 where this bench has none such."""
    with visit.reading() as session:
        row = lessons.get(session, visit.bench_id, lesson_id)
    return row, LessonSheet.model_validate_json(row.sheet_json)


def _lesson(visit: Visit, lesson_id: str) -> tuple[LessonRow, LessonSheet, tuple[Kind, ...]]:
    row, sheet = load_lesson(visit, lesson_id)
    kinds = kinds_of(sheet, visit.trade)
    if not kinds:
        raise HTTPException(404)
    return row, sheet, kinds


def _keep(visit: Visit, form_id: str, sheet: LessonSheet, students: int) -> str:
    seed = links_key(visit.app.settings.folder)
    try:
        with visit.writing() as session:
            text = sheet.model_dump_json()
            return lessons.add(session, visit.bench_id, form_id, text, students, visit.now, seed)
    except TooManyStudents as full:
        raise NotKept(FULL) from full


def _typed_in(form: FormReader, visit: Visit) -> Unit:
    """The unit that the form's bare numbers are in: the one it was shown with."""
    return Unit(form.raw("unit")) if form.raw("unit") in [unit.value for unit in Unit] else visit.unit


def _edit_page(
    visit: Visit, row: LessonRow, kinds: tuple[Kind, ...], form: FormReader, unit: Unit
) -> LessonFormPage:
    action = f"{lesson_path(row.id)}/edit"
    version = form.show_with("version", row.version)
    return LessonFormPage(form, kinds, visit.trade, action, unit, lesson_id=row.id, version=version)


def _page(visit: Visit, lesson_id: str) -> LessonPage:
    row, sheet = load_lesson(visit, lesson_id)
    with visit.reading() as session:
        seed = links_key(visit.app.settings.folder)
        token = lessons.token_of(session, visit.bench_id, lesson_id, seed)
        begun = lessons.students_of(session, lesson_id)
        handed_in = len(lessons.hand_ins_for(session, visit.bench_id, lesson_id))
    link = link_to(visit.request, f"/lesson/{token}") if token else None
    view = lesson_view(sheet, visit.trade, visit.unit)
    return LessonPage(lesson_id, view, link, begun, row.students, handed_in)


def _line(session: Session, visit: Visit, row: LessonRow) -> LessonLine:
    sheet = LessonSheet.model_validate_json(row.sheet_json)
    begun = lessons.students_of(session, row.id)
    handed = len(lessons.hand_ins_for(session, visit.bench_id, row.id))
    told = f"Changed {day(row.changed_at)}. {_count(begun, 'student')}, {_count(handed, 'hand-in')}."
    return LessonLine(sheet.title, told, lesson_path(row.id))


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}" if number else f"no {what} yet"


def _form(visit: Visit, page: LessonFormPage, status: int = 200) -> Response:
    return visit.render("pages/lessons/form.html", page, status)
