"""A lesson as a file, to be taken to another Benchside."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from webapp.physics.numbers import say_number
from webapp.setups.checks import CHECKS
from webapp.setups.lesson import BandRow, LessonCheck, LessonSheet, plain_text
from webapp.setups.say import capital
from webapp.trade.content import Trade
from webapp.trade.ranges import TargetUsual
from webapp.trade.spec import Kind
from webapp.trade.words import Check, label


def kinds_of(sheet: LessonSheet, trade: Trade) -> tuple[Kind, ...]:
    """The lesson's kinds, as far as they are here."""
    return tuple(trade.kinds[key] for key in sheet.kinds if key in trade.kinds)


def checks_of(*kinds: Kind) -> tuple[Check, ...]:
    """The checks that an instrument of any of these kinds has."""
    return tuple(check for check, one in CHECKS.items() if any(one.is_here(kind.spec) for kind in kinds))


def rows_of(trade: Trade, *kinds: Kind) -> tuple[BandRow, ...]:
    """Every row of these kinds, in the order of the bench."""
    found: dict[str, BandRow] = {}
    for one in CHECKS.values():
        for row in (row for kind in kinds for row in one.band_rows(trade, kind)):
            found[row.key] = _shared(found.get(row.key, row), row)
    return tuple(found.values())


def _shared(one: BandRow, other: BandRow) -> BandRow:
    """One row for two kinds: it says what both say."""
    words = one.label if one.label == other.label else capital(label(one.check))
    return replace(one, label=words, stated=one.stated if one.stated == other.stated else None)


SCHEMA = "benchside-lesson"
VERSION = 2
READ = (1, VERSION)
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
    lesson = {"title": sheet.title, "kinds": list(sheet.kinds), "intro": sheet.intro}
    document = {"schema": SCHEMA, "version": VERSION, "lesson": {**lesson, "checks": checks, "bands": bands}}
    return json.dumps(document, ensure_ascii=False, indent=2) + "\n"


def _pair(bands: TargetUsual) -> dict[str, list[float]]:
    return {"target": [bands.target.low, bands.target.high], "usual": [bands.usual.low, bands.usual.high]}


def read_lesson_file(content: bytes, trade: Trade) -> LessonSheet:
    """The lesson in a file. Raises BadLesson with one sentence."""
    lesson = _lesson(_document(content))
    try:
        sheet = LessonSheet.model_validate(
            {key: lesson.get(key) for key in ("title", "kind", "kinds", "checks") if key in lesson}
            | {"intro": _clean(lesson.get("intro", "")), "bands": lesson.get("bands", {})}
        )
    except ValidationError as refusal:
        raise BadLesson(_why(refusal)) from refusal
    unknown = [key for key in sheet.kinds if key not in trade.kinds]
    if unknown:
        raise BadLesson(f"This Benchside has no kind of instrument called “{unknown[0]}”.")
    return _fitting(sheet, trade, kinds_of(sheet, trade))


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
    if version not in READ or isinstance(version, bool):
        raise BadLesson("This lesson was exported by another version of Benchside. This one cannot read it.")
    lesson = document.get("lesson")
    if not isinstance(lesson, dict):
        raise BadLesson(_NO_LESSON)
    return lesson


def _fitting(sheet: LessonSheet, trade: Trade, kinds: Sequence[Kind]) -> LessonSheet:
    """The lesson, if its bands can be these kinds'; only what belongs to its checks is kept."""
    here = checks_of(*kinds)
    for one in sheet.checks:
        if one.check not in here:
            raise BadLesson(f"The lesson asks for {one.check.value}, which this kind of instrument has not.")
    rows = {row.key: row for row in rows_of(trade, *kinds)}
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
