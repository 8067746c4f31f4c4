"""The class sheet: what a class handed in, side by side; one hand-in on its own; the whole as CSV."""

from __future__ import annotations

from dataclasses import dataclass, replace
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException, Response

from webapp.pages.lessons.lessons import lesson_path, load_lesson
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.physics.numbers import Unit
from webapp.setups.csv_text import TYPE
from webapp.setups.dates import clock, day
from webapp.setups.lesson import LessonSheet
from webapp.setups.lessons.class_sheet import (
    BY_NAME,
    ClassSheet,
    HandedCheck,
    HandedPlace,
    HandIn,
    Pointer,
    SheetLine,
    class_sheet,
    sheet_csv,
)
from webapp.setups.say import Say, capital
from webapp.setups.states import Word
from webapp.store import lessons
from webapp.store.tables import HandInRecord
from webapp.trade.words import Check, label


@dataclass(frozen=True)
class PlaceSeen:
    """One reading in words; no value where nothing was read."""

    label: str
    value: str
    word: str
    mark: str
    kept: bool


@dataclass(frozen=True)
class CheckSeen:
    """One check in words: its verdict, and the reading that speaks for it."""

    name: str
    word: str
    mark: str
    kept: bool
    telling: str
    places: tuple[PlaceSeen, ...]


def seen_checks(what: HandIn, say: Say) -> tuple[CheckSeen, ...]:
    return tuple(seen(done, say) for done in what.checks)


def seen(done: HandedCheck, say: Say) -> CheckSeen:
    return CheckSeen(
        name=capital(label(done.check)),
        word=done.said,
        mark=_mark(done),
        kept=done.kept,
        telling=_telling(done, say),
        places=tuple(seen_place(place, say) for place in done.places),
    )


def seen_place(place: HandedPlace, say: Say) -> PlaceSeen:
    return PlaceSeen(place.label, _value(place, say), place.said, place.word.value, place.kept)


def _mark(done: HandedCheck) -> str:
    """The questions without readings have words of their own, with marks of the verdicts."""
    if done.word is Word.GOOD or done.places:
        return done.word.value
    return (Word.TOO_LOW if done.word is Word.TOO_LOW else Word.NOT_MEASURED).value


def _telling(done: HandedCheck, say: Say) -> str:
    """The reading behind the verdict: '0.70 mm'; and where, if one of several is off."""
    place = done.telling
    if place is None or place.value is None or (len(done.places) > 1 and done.word is Word.GOOD):
        return ""
    value = _value(place, say)
    return value if len(done.places) == 1 else f"{value} {short(place.label)}"


def short(label: str) -> str:
    """A place for a narrow column: 'G, fret 12', 'Bridge, bass'."""
    return label.replace(" string", "").replace(" pickup", "").replace(" side", "")


def _value(place: HandedPlace, say: Say) -> str:
    if place.value is None:
        return ""
    return say.range(place.value, place.low, place.high, place.unit == "cents")


def bare(value: str, say: Say) -> str:
    """A value without the unit that the head of its column names."""
    return (
        value.replace(" cents", "").replace(" cent", "").replace(f" {unit_of(False, say)}", "")
        if value
        else value
    )


def unit_of(is_cents: bool, say: Say) -> str:
    """The unit of a whole column; in 64ths each figure carries its own."""
    return "cents" if is_cents else "" if say.unit is Unit.sixty_fourths else say.unit.value


router = APIRouter()


@dataclass(frozen=True)
class Column:
    """One head of the table; without a link where sorting by it says nothing."""

    name: str
    unit: str
    sort_path: str
    sorted: bool
    detail_path: str


@dataclass(frozen=True)
class SheetRow:
    """One student. Of `checks` and `places` one is filled: the whole sheet, or one check of it."""

    name: str
    href: str
    so_far: bool
    checks: tuple[CheckSeen | None, ...] = ()
    places: tuple[PlaceSeen | None, ...] = ()


@dataclass(frozen=True)
class SheetPage:
    path: str
    title: str
    check: str
    columns: tuple[Column, ...]
    place_names: tuple[str, ...]
    unit: str
    rows: tuple[SheetRow, ...]
    pointers: tuple[Pointer, ...]
    by_name: bool
    lesson_path: str
    name_path: str


@dataclass(frozen=True)
class OnePage:
    """One student's hand-in, whole."""

    title: str
    name: str
    when: str
    so_far: bool
    checks: tuple[CheckSeen, ...]
    turned: tuple[str, ...]
    sheet_path: str
    action: str


@router.get("/lessons/{lesson_id}/sheet")
def show(lesson_id: str, visit: Visiting, sort: str = BY_NAME, check: str = "") -> Response:
    _, lesson = load_lesson(visit, lesson_id)
    sheet = _sheet(_handed_in(visit, lesson_id), lesson, sort)
    chosen = next((one for one in sheet.checks if one.value == check and sheet.places(one)), None)
    page = _page(visit, lesson_id, lesson, sheet, sort, chosen)
    return visit.render("pages/lessons/class_sheet.html", page)


@router.get("/lessons/{lesson_id}/sheet.csv")
def as_csv(lesson_id: str, visit: Visiting, sort: str = BY_NAME) -> Response:
    _, lesson = load_lesson(visit, lesson_id)
    text = sheet_csv(_sheet(_handed_in(visit, lesson_id), lesson, sort))
    headers = {"Content-Disposition": 'attachment; filename="class-sheet.csv"'}
    return Response(text, media_type=TYPE, headers=headers)


@router.get("/lessons/{lesson_id}/sheet/{hand_in_id}")
def one(lesson_id: str, hand_in_id: str, visit: Visiting) -> Response:
    _, lesson = load_lesson(visit, lesson_id)
    row = next((row for row in _handed_in(visit, lesson_id) if row.id == hand_in_id), None)
    if row is None:
        raise HTTPException(404)
    what = HandIn.model_validate_json(row.what)
    home = f"{lesson_path(lesson_id)}/sheet"
    page = OnePage(
        title=lesson.title,
        name=row.name,
        when=f"{day(row.handed_at)} at {clock(row.handed_at)}",
        so_far=not what.finished,
        checks=seen_checks(what, visit.say),
        turned=what.turned,
        sheet_path=home,
        action=f"{home}/{row.id}/remove",
    )
    return visit.render("pages/lessons/class_sheet_one.html", page)


@router.post("/lessons/{lesson_id}/sheet/{hand_in_id}/remove")
def remove(lesson_id: str, hand_in_id: str, visit: Visiting) -> Response:
    """Off the sheet; the student's own setup stays, and can be handed in again."""
    with visit.writing() as session:
        lessons.remove_hand_in(session, visit.bench_id, lesson_id, hand_in_id)
    return see(f"{lesson_path(lesson_id)}/sheet")


def _handed_in(visit: Visit, lesson_id: str) -> list[HandInRecord]:
    with visit.reading() as session:
        return list(lessons.hand_ins_for(session, visit.bench_id, lesson_id))


def _sheet(found: list[HandInRecord], lesson: LessonSheet, sort: str) -> ClassSheet:
    lines = [
        SheetLine(row.id, row.name, row.handed_at, HandIn.model_validate_json(row.what)) for row in found
    ]
    return class_sheet(lines, [one.check for one in lesson.checks], sort)


def _page(
    visit: Visit, lesson_id: str, lesson: LessonSheet, sheet: ClassSheet, sort: str, chosen: Check | None
) -> SheetPage:
    path = f"{lesson_path(lesson_id)}/sheet"
    places = sheet.places(chosen) if chosen else ()
    return SheetPage(
        path=path,
        title=lesson.title,
        check=capital(label(chosen)) if chosen else "",
        columns=tuple(_column(sheet, path, check, sort, visit.say) for check in sheet.checks),
        place_names=tuple(short(words) for _, words in places),
        unit=unit_of(chosen.is_cents, visit.say) if chosen else "",
        rows=tuple(
            _row(path, line, sheet, chosen, [key for key, _ in places], visit.say) for line in sheet.lines
        ),
        pointers=sheet.pointers,
        by_name=sort not in [check.value for check in sheet.checks],
        lesson_path=lesson_path(lesson_id),
        name_path=_query(path, check=chosen.value if chosen else ""),
    )


def _column(sheet: ClassSheet, path: str, check: Check, sort: str, say: Say) -> Column:
    detail = _query(path, check=check.value, sort=sort) if sheet.places(check) else ""
    sort_path = _query(path, sort=check.value)
    unit = unit_of(check.is_cents, say) if detail else ""
    return Column(capital(label(check)), unit, sort_path, sort == check.value, detail)


def _query(path: str, **asked: str) -> str:
    told = urlencode({key: value for key, value in asked.items() if value and value != BY_NAME})
    return f"{path}?{told}" if told else path


def _row(
    path: str, line: SheetLine, sheet: ClassSheet, chosen: Check | None, keys: list[str], say: Say
) -> SheetRow:
    href, so_far = f"{path}/{line.id}", not line.what.finished
    if chosen is None:
        found = (line.what.check(check) for check in sheet.checks)
        cells = tuple(_cell(done, say) if done else None for done in found)
        return SheetRow(line.name, href, so_far, checks=cells)
    done = line.what.check(chosen)
    places = {place.key: seen_place(place, say) for place in done.places} if done else {}
    narrow = {key: replace(place, value=bare(place.value, say)) for key, place in places.items()}
    return SheetRow(line.name, href, so_far, places=tuple(narrow.get(key) for key in keys))


def _cell(done: HandedCheck, say: Say) -> CheckSeen:
    found = seen(done, say)
    return replace(found, telling=bare(found.telling, say))
