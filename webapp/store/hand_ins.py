"""Hand-ins: copies of finished setups that students chose to show. The student may take theirs back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlmodel import Session, col, func, select

from webapp.store import setups
from webapp.store.errors import AlreadyRecorded, NotFound
from webapp.store.rates import Limit
from webapp.store.tables import HandInRecord, Lesson
from webapp.store.write_order import HELD

LONGEST_NAME = 60
PER_STUDENT = 3
HANDING_IN = Limit("hand in", 600, 3000, timedelta(hours=1))


class NotFinished(Exception):
    """Only a finished setup can be handed in: it does not change any more."""


class Full(Exception):
    """The lesson holds as many hand-ins as it may."""


def add(session: Session, bench_id: str, setup_id: str, name: str, what: str, at: datetime) -> None:
    """Hands a setup of this bench in to the lesson it belongs to.

    Raises NotFound (also for a setup of no lesson), NotFinished, AlreadyRecorded, Full.
    """
    setup = setups.get(session, bench_id, setup_id)
    lesson = (
        session.get(Lesson, setup.lesson_id, with_for_update=HELD) if setup.lesson_id else None
    )
    if lesson is None:
        raise NotFound
    if setup.finished_at is None:
        raise NotFinished
    earlier = of_setup(session, bench_id, setup_id)
    if earlier is not None:
        raise AlreadyRecorded(earlier.id)
    count = session.exec(select(func.count()).where(HandInRecord.lesson_id == lesson.id)).one()
    if count >= PER_STUDENT * lesson.students:
        raise Full
    session.add(HandInRecord(lesson_id=lesson.id, setup_id=setup_id, name=name, handed_at=at, what=what))
    session.flush()


def of_setup(session: Session, bench_id: str, setup_id: str) -> HandInRecord | None:
    """The student's own hand-in of one setup; raises NotFound for another bench's setup."""
    setups.get(session, bench_id, setup_id)
    return session.exec(select(HandInRecord).where(HandInRecord.setup_id == setup_id)).first()


def take_back(session: Session, bench_id: str, setup_id: str) -> None:
    """Removes the student's own hand-in for good. Raises NotFound for another bench's setup."""
    setups.get(session, bench_id, setup_id)
    for found in session.exec(select(HandInRecord).where(HandInRecord.setup_id == setup_id)):
        session.delete(found)
    session.flush()


def list_for(session: Session, bench_id: str, lesson_id: str) -> Sequence[HandInRecord]:
    """What was handed in to the teacher's own lesson, the oldest first; raises NotFound."""
    lesson = session.get(Lesson, lesson_id)
    if lesson is None or lesson.bench_id != bench_id:
        raise NotFound
    handed = select(HandInRecord).where(HandInRecord.lesson_id == lesson_id)
    return session.exec(handed.order_by(col(HandInRecord.handed_at), col(HandInRecord.id))).all()


def remove(session: Session, bench_id: str, lesson_id: str, hand_in_id: str) -> None:
    """Takes a hand-in off the teacher's own class sheet; the student's setup stays. Raises NotFound."""
    found = session.get(HandInRecord, hand_in_id)
    lesson = session.get(Lesson, lesson_id)
    if found is None or lesson is None or lesson.bench_id != bench_id or found.lesson_id != lesson_id:
        raise NotFound
    session.delete(found)
    session.flush()
