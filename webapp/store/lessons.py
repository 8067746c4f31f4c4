"""Lessons: what a teacher asks for, kept in versions; the setups done for one, and what is handed in."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, func, select

from webapp.store import setups
from webapp.store.engine import HELD
from webapp.store.errors import AlreadyRecorded, NotFound, Stale
from webapp.store.keys import hashed, token
from webapp.store.rates import Limit
from webapp.store.tables import Bench, HandInRecord, Instrument, Lesson, LessonVersion, Setup

STUDENTS = 60
STUDENTS_AT_MOST = 200
AT_MOST = 200
# A full class begins within minutes, some of them twice.
STARTING = Limit("lesson start", 2 * STUDENTS_AT_MOST, 2000, timedelta(hours=1))
MISSING = Limit("lesson", 60, 2000, timedelta(minutes=10))
AGAIN = Limit("lesson again", 120, 600, timedelta(hours=1))
# For so long the form that began a lesson leads a browser without a key to the same bench again.
SAME_FORM = timedelta(minutes=10)


class TooManyStudents(Exception):
    """The bench has as many lessons as one may have."""


@dataclass(frozen=True)
class LessonRow:
    """A lesson at its newest version."""

    id: str
    bench_id: str
    version: int
    sheet_json: str
    students: int
    created_at: datetime
    changed_at: datetime


@dataclass(frozen=True)
class Begun:
    """A setup that a lesson's link began, and on which bench."""

    bench_id: str
    setup_id: str


def add(
    session: Session, bench_id: str, form_id: str, sheet_json: str, students: int, at: datetime, seed: bytes
) -> str:
    """Keeps a new lesson and returns its id; the same form again raises AlreadyRecorded with that id."""
    if session.get(Bench, bench_id, with_for_update=HELD) is None:
        raise NotFound
    earlier = session.exec(
        select(Lesson.id).where(Lesson.bench_id == bench_id, Lesson.form_id == form_id)
    ).first()
    if earlier is not None:
        raise AlreadyRecorded(earlier)
    if session.exec(select(func.count()).where(Lesson.bench_id == bench_id)).one() >= AT_MOST:
        raise TooManyStudents
    lesson = Lesson(
        bench_id=bench_id, form_id=form_id, created_at=at, students=students, link="", token_hash=""
    )
    _set_link(lesson, seed)
    session.add(lesson)
    session.flush()
    session.add(LessonVersion(lesson_id=lesson.id, number=1, created_at=at, sheet=sheet_json))
    session.flush()
    return lesson.id


def revise(
    session: Session, bench_id: str, lesson_id: str, sheet_json: str, students: int, expected: int,
    at: datetime,
) -> None:  # fmt: skip
    """Saves a new version; raises Stale if it is not based on the newest one, NotFound."""
    _hold(session, lesson_id)
    lesson, newest = _find(session, bench_id, lesson_id)
    if newest.number != expected:
        raise Stale
    lesson.students = students
    if newest.sheet != sheet_json:
        session.add(
            LessonVersion(lesson_id=lesson_id, number=newest.number + 1, created_at=at, sheet=sheet_json)
        )
    session.flush()


def get(session: Session, bench_id: str, lesson_id: str) -> LessonRow:
    """The teacher's own lesson; raises NotFound."""
    return _row(*_find(session, bench_id, lesson_id))


def list_for(session: Session, bench_id: str) -> Sequence[LessonRow]:
    """The bench's lessons, the newest first."""
    found = session.exec(
        select(Lesson)
        .where(Lesson.bench_id == bench_id)
        .order_by(col(Lesson.created_at).desc(), col(Lesson.id))
    ).all()
    return [_row(lesson, _newest(session, lesson.id)) for lesson in found]


def token_of(session: Session, bench_id: str, lesson_id: str, seed: bytes) -> str:
    """The lesson's token, for its teacher to see; empty where the seed is not the one it was made with."""
    lesson, _ = _find(session, bench_id, lesson_id)
    made = token(seed, f"lesson {lesson.link}")
    return made if hmac.compare_digest(lesson.token_hash, hashed(made)) else ""


def renew_link(session: Session, bench_id: str, lesson_id: str, seed: bytes) -> None:
    """Gives the lesson another link; the one before it opens nothing any more. Raises NotFound."""
    lesson, _ = _find(session, bench_id, lesson_id)
    _set_link(lesson, seed)
    session.flush()


def open_by(session: Session, token: str) -> LessonRow | None:
    """The lesson that a token leads to."""
    wanted = hashed(token)
    lesson = session.exec(select(Lesson).where(Lesson.token_hash == wanted)).first()
    if lesson is None or not hmac.compare_digest(lesson.token_hash, wanted):
        return None
    return _row(lesson, _newest(session, lesson.id))


def students_of(session: Session, lesson_id: str) -> int:
    """How many benches have begun the lesson."""
    benches = select(Instrument.bench_id).join(Setup).where(Setup.lesson_id == lesson_id).distinct()
    return len(session.exec(benches).all())


def setups_of(session: Session, lesson_id: str) -> int:
    """How many setups belong to the lesson."""
    return session.exec(select(func.count()).where(Setup.lesson_id == lesson_id)).one()


def bind(session: Session, bench_id: str, setup_id: str, lesson_id: str) -> None:
    """Makes a setup one of the lesson's; raises NotFound."""
    setup = _setup(session, bench_id, setup_id)
    setup.lesson_id = lesson_id
    session.flush()


def begun_by(
    session: Session, lesson_id: str, form_id: str, bench_id: str | None, at: datetime
) -> Begun | None:
    """What the same form began: on this bench, whenever that was; without a bench, a short while ago."""
    begun = select(Instrument.bench_id, Setup.id).join(Setup)
    begun = begun.where(Setup.lesson_id == lesson_id, Setup.form_id == form_id)
    if bench_id is not None:
        begun = begun.where(Instrument.bench_id == bench_id)
    else:
        begun = begun.where(Setup.started_at > at - SAME_FORM, Setup.started_at < at + SAME_FORM)
    found = session.exec(begun.order_by(col(Setup.started_at))).first()
    return None if found is None else Begun(*found)


def sheet_for_setup(session: Session, bench_id: str, setup_id: str) -> str | None:
    """The lesson as it counts for this setup: the newest while it goes on, else that of its last day."""
    setup = _setup(session, bench_id, setup_id)
    if setup.lesson_id is None:
        return None
    if setup.lesson_version is None:
        return _newest(session, setup.lesson_id).sheet
    wanted = LessonVersion.number == setup.lesson_version
    versions = select(LessonVersion).where(LessonVersion.lesson_id == setup.lesson_id, wanted)
    return session.exec(versions).one().sheet


def _setup(session: Session, bench_id: str, setup_id: str) -> Setup:
    setup = session.exec(
        select(Setup).join(Instrument).where(Setup.id == setup_id, Instrument.bench_id == bench_id)
    ).first()
    if setup is None:
        raise NotFound
    return setup


def _hold(session: Session, lesson_id: str) -> None:
    session.exec(select(Lesson.id).where(Lesson.id == lesson_id).with_for_update(**HELD)).all()


def _find(session: Session, bench_id: str, lesson_id: str) -> tuple[Lesson, LessonVersion]:
    lesson = session.get(Lesson, lesson_id)
    if lesson is None or lesson.bench_id != bench_id:
        raise NotFound
    return lesson, _newest(session, lesson_id)


def _newest(session: Session, lesson_id: str) -> LessonVersion:
    versions = select(LessonVersion).where(LessonVersion.lesson_id == lesson_id)
    newest = session.exec(versions.order_by(col(LessonVersion.number).desc())).first()
    assert newest is not None, "a lesson is kept together with its first version"
    return newest


def _set_link(lesson: Lesson, seed: bytes) -> None:
    lesson.link = secrets.token_urlsafe(12)
    lesson.token_hash = hashed(token(seed, f"lesson {lesson.link}"))


def _row(lesson: Lesson, newest: LessonVersion) -> LessonRow:
    return LessonRow(
        lesson.id, lesson.bench_id, newest.number, newest.sheet, lesson.students, lesson.created_at,
        newest.created_at,
    )  # fmt: skip


LONGEST_NAME = 60
PER_STUDENT = 3
HANDING_IN = Limit("hand in", 600, 3000, timedelta(hours=1))


class Full(Exception):
    """The lesson holds as many hand-ins as it may."""


def hand_in(session: Session, bench_id: str, setup_id: str, name: str, what: str, at: datetime) -> None:
    """Hands a setup of this bench in, as it is now, to the lesson it belongs to; what was handed in before
    gives way to it.

    Raises NotFound (also for a setup of no lesson), Full.
    """
    setup = setups.get(session, bench_id, setup_id)
    lesson = session.get(Lesson, setup.lesson_id, with_for_update=HELD) if setup.lesson_id else None
    if lesson is None:
        raise NotFound
    kept = hand_in_of(session, bench_id, setup_id)
    if kept is None:
        count = session.exec(select(func.count()).where(HandInRecord.lesson_id == lesson.id)).one()
        if count >= PER_STUDENT * lesson.students:
            raise Full
        kept = HandInRecord(lesson_id=lesson.id, setup_id=setup_id, name=name, handed_at=at, what=what)
    kept.name, kept.handed_at, kept.what = name, at, what
    session.add(kept)
    session.flush()


def hand_in_of(session: Session, bench_id: str, setup_id: str) -> HandInRecord | None:
    """The student's own hand-in of one setup; raises NotFound for another bench's setup."""
    setups.get(session, bench_id, setup_id)
    return session.exec(select(HandInRecord).where(HandInRecord.setup_id == setup_id)).first()


def take_hand_in_back(session: Session, bench_id: str, setup_id: str) -> None:
    """Removes the student's own hand-in for good. Raises NotFound for another bench's setup."""
    setups.get(session, bench_id, setup_id)
    for found in session.exec(select(HandInRecord).where(HandInRecord.setup_id == setup_id)):
        session.delete(found)
    session.flush()


def hand_ins_for(session: Session, bench_id: str, lesson_id: str) -> Sequence[HandInRecord]:
    """What was handed in to the teacher's own lesson, the oldest first; raises NotFound."""
    lesson = session.get(Lesson, lesson_id)
    if lesson is None or lesson.bench_id != bench_id:
        raise NotFound
    handed = select(HandInRecord).where(HandInRecord.lesson_id == lesson_id)
    return session.exec(handed.order_by(col(HandInRecord.handed_at), col(HandInRecord.id))).all()


def remove_hand_in(session: Session, bench_id: str, lesson_id: str, hand_in_id: str) -> None:
    """Takes a hand-in off the teacher's own class sheet; the student's setup stays. Raises NotFound."""
    found = session.get(HandInRecord, hand_in_id)
    lesson = session.get(Lesson, lesson_id)
    if found is None or lesson is None or lesson.bench_id != bench_id or found.lesson_id != lesson_id:
        raise NotFound
    session.delete(found)
    session.flush()
