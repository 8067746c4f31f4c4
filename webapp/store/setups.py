"""Setups: one pass through the checks on one instrument."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlmodel import Session, col, func, select

from webapp.store import instruments
from webapp.store.errors import AlreadyRecorded, Finished, NotFound
from webapp.store.tables import Instrument, LessonVersion, Setup
from webapp.store.turns import HELD


@dataclass(frozen=True)
class SetupRow:
    """`finished_version` is the version of the instrument's description that the report speaks of."""

    id: str
    instrument_id: str
    started_at: datetime
    finished_at: datetime | None
    finished_version: int | None
    lesson_id: str | None = None


def start(
    session: Session, bench_id: str, instrument_id: str, form_id: str, at: datetime | None = None
) -> str:
    """Starts a setup and returns its id; the same form again raises AlreadyRecorded with that id."""
    instruments.hold(session, bench_id, instrument_id)
    earlier = session.exec(
        select(Setup.id).where(Setup.instrument_id == instrument_id, Setup.form_id == form_id)
    ).first()
    if earlier is not None:
        raise AlreadyRecorded(earlier)
    setup = Setup(instrument_id=instrument_id, form_id=form_id, started_at=at or datetime.now(UTC))
    session.add(setup)
    session.flush()
    return setup.id


def get(session: Session, bench_id: str, setup_id: str) -> SetupRow:
    """The setup, or NotFound."""
    return _row(_find(session, bench_id, setup_id))


def hold(session: Session, bench_id: str, setup_id: str) -> SetupRow:
    """The setup, which no other writer goes on with until this one is done; raises NotFound."""
    return _row(_find(session, bench_id, setup_id, held=True))


def list_for(session: Session, bench_id: str, instrument_id: str) -> Sequence[SetupRow]:
    """The instrument's setups, the newest first."""
    found = session.exec(
        select(Setup)
        .join(Instrument)
        .where(Setup.instrument_id == instrument_id, Instrument.bench_id == bench_id)
        .order_by(col(Setup.started_at).desc(), col(Setup.id))
    ).all()
    return [_row(setup) for setup in found]


def finish(session: Session, bench_id: str, setup_id: str, version_number: int, at: datetime) -> SetupRow:
    """Closes the setup's journal for good; raises Finished if it was closed before."""
    setup = _find(session, bench_id, setup_id, held=True)
    if setup.finished_at is not None:
        raise Finished
    instruments.version(session, bench_id, setup.instrument_id, version_number)
    setup.finished_at = at
    setup.finished_version = version_number
    if setup.lesson_id is not None:
        setup.lesson_version = _newest_lesson(session, setup.lesson_id)
    session.flush()
    return _row(setup)


def _newest_lesson(session: Session, lesson_id: str) -> int:
    """What the report goes by, however the teacher changes the lesson afterwards."""
    numbers = select(func.max(LessonVersion.number)).where(LessonVersion.lesson_id == lesson_id)
    return int(session.exec(numbers).one())


def _find(session: Session, bench_id: str, setup_id: str, *, held: bool = False) -> Setup:
    wanted = select(Setup).join(Instrument).where(Setup.id == setup_id, Instrument.bench_id == bench_id)
    if held:
        wanted = wanted.with_for_update(of=Setup, **HELD).execution_options(populate_existing=True)
    setup = session.exec(wanted).first()
    if setup is None:
        raise NotFound
    return setup


def _row(setup: Setup) -> SetupRow:
    return SetupRow(
        setup.id, setup.instrument_id, setup.started_at, setup.finished_at, setup.finished_version,
        setup.lesson_id,
    )  # fmt: skip
