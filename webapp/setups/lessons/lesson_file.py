"""A lesson as a file, to be taken to another Benchside."""

from __future__ import annotations

import json
from typing import Any

from pydantic import ValidationError

from webapp.physics.numbers import say_number
from webapp.setups.checks import CHECKS
from webapp.setups.lesson import BandRow, LessonCheck, LessonSheet, plain_text
from webapp.trade.content import Trade
from webapp.trade.ranges import TargetUsual
from webapp.trade.spec import Kind
from webapp.trade.words import Check


def checks_of(kind: Kind) -> tuple[Check, ...]:
    """The checks that an instrument of this kind has."""
    return tuple(check for check, one in CHECKS.items() if one.is_here(kind.spec))


def rows_of(trade: Trade, kind: Kind) -> tuple[BandRow, ...]:
    """Every row of a kind, in the order of the bench."""
    return tuple(row for one in CHECKS.values() for row in one.band_rows(trade, kind))


SCHEMA = "benchside-lesson"
VERSION = 1
FILE_BYTES = 256_000

_NO_LESSON = "This file is not a lesson that Benchside exported."


class BadLesson(ValueError):
    """A file that is no lesson of ours; `sentence` is for the teacher."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def lesson_file(sheet: LessonSheet) -> str:
    """The lesson as JSON; lengths in mm, tuning errors in cents."""
    bands = {key: _pair(bands) for key, bands in sheet.bands.items()}
    checks = [{"check": one.check.value, "notes": one.notes} for one in sheet.checks]
    lesson = {"title": sheet.title, "kind": sheet.kind, "intro": sheet.intro}
    document = {"schema": SCHEMA, "version": VERSION, "lesson": {**lesson, "checks": checks, "bands": bands}}
    return json.dumps(document, ensure_ascii=False, indent=2) + "\n"


def _pair(bands: TargetUsual) -> dict[str, list[float]]:
    return {"target": [bands.target.low, bands.target.high], "usual": [bands.usual.low, bands.usual.high]}


def read_lesson_file(content: bytes, trade: Trade) -> LessonSheet:
    """The lesson in a file. Raises BadLesson with one sentence."""
    lesson = _lesson(_document(content))
    kind = trade.kinds.get(str(lesson.get("kind")))
    if kind is None:
        raise BadLesson(f"This Benchside has no kind of instrument called “{str(lesson.get('kind'))[:40]}”.")
    try:
        sheet = LessonSheet.model_validate(
            {key: lesson.get(key) for key in ("title", "kind", "checks") if key in lesson}
            | {"intro": _clean(lesson.get("intro", "")), "bands": lesson.get("bands", {})}
        )
    except ValidationError as refusal:
        raise BadLesson(_why(refusal)) from refusal
    return _fitting(sheet, trade, kind)


def _document(content: bytes) -> dict[str, Any]:
    if len(content) > FILE_BYTES:
        raise BadLesson(f"This file is larger than {FILE_BYTES // 1000} kB, too large for a lesson.")
    try:
        document = json.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as problem:
        raise BadLesson(_NO_LESSON) from problem
    if not isinstance(document, dict) or document.get("schema") != SCHEMA:
        raise BadLesson(_NO_LESSON)
    return document


def _lesson(document: dict[str, Any]) -> dict[str, Any]:
    version = document.get("version")
    if version != VERSION or isinstance(version, bool):
        raise BadLesson("This lesson was exported by another version of Benchside. This one cannot read it.")
    lesson = document.get("lesson")
    if not isinstance(lesson, dict):
        raise BadLesson(_NO_LESSON)
    return lesson


def _fitting(sheet: LessonSheet, trade: Trade, kind: Kind) -> LessonSheet:
    """The lesson, if its bands can be this kind's; only what belongs to its checks is kept."""
    here = checks_of(kind)
    for one in sheet.checks:
        if one.check not in here:
            raise BadLesson(f"The lesson asks for {one.check.value}, which this kind of instrument has not.")
    rows = {row.key: row for row in rows_of(trade, kind)}
    for key, bands in sheet.bands.items():
        _check_row(key, rows.get(key), bands)
    chosen: set[Check] = {one.check for one in sheet.checks}
    kept = {key: bands for key, bands in sheet.bands.items() if rows[key].check in chosen}
    title = " ".join(_clean(sheet.title).split())
    if not title:
        raise BadLesson("The lesson in this file has no title.")
    checks = tuple(LessonCheck(check=one.check, notes=_clean(one.notes)) for one in sheet.checks)
    return sheet.model_copy(update={"bands": kept, "title": title, "checks": checks})


def _check_row(key: str, row: BandRow | None, bands: TargetUsual) -> None:
    if row is None:
        raise BadLesson(f"The lesson sets “{key[:40]}”, which this kind of instrument has not.")
    if not row.plausible.holds(bands.usual):
        ends = f"{say_number(row.plausible.low)} and {say_number(row.plausible.high)} {row.check.unit}"
        raise BadLesson(f"{row.label}: its bands must lie between {ends}.")


def _clean(text: Any) -> Any:
    """Text that a page can show; anything else is for the model to refuse."""
    return plain_text(text) if isinstance(text, str) else text


def _why(refusal: ValidationError) -> str:
    first = refusal.errors(include_input=False, include_url=False)[0]
    where = ", ".join(str(part)[:40] for part in first["loc"]) or "the lesson"
    reason = str(first["msg"]).removeprefix("Value error, ")
    return f"In this file, {where} is not right: {reason[:1].lower()}{reason[1:160]}."
