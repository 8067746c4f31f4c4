"""Setups: one pass through the checks on one instrument."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlmodel import Session, col, select

from webapp.store import instruments
from webapp.store.errors import AlreadyRecorded, Finished, NotFound
from webapp.store.tables import Instrument, Setup


@dataclass(frozen=True)
class SetupRow:
    """`finished_version` is the version of the instrument's description that the report speaks of."""

    id: str
    instrument_id: str
    started_at: datetime
    finished_at: datetime | None
    finished_version: int | None


def start(
    session: Session, bench_id: str, instrument_id: str, form_id: str, at: datetime | None = None
) -> str:
    """Starts a setup and returns its id; the same form again raises AlreadyRecorded with that id."""
    instruments.get(session, bench_id, instrument_id)
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
    setup = _find(session, bench_id, setup_id)
    if setup.finished_at is not None:
        raise Finished
    instruments.version(session, bench_id, setup.instrument_id, version_number)
    setup.finished_at = at
    setup.finished_version = version_number
    session.flush()
    return _row(setup)


def _find(session: Session, bench_id: str, setup_id: str) -> Setup:
    setup = session.exec(
        select(Setup).join(Instrument).where(Setup.id == setup_id, Instrument.bench_id == bench_id)
    ).first()
    if setup is None:
        raise NotFound
    return setup


def _row(setup: Setup) -> SetupRow:
    return SetupRow(
        setup.id, setup.instrument_id, setup.started_at, setup.finished_at, setup.finished_version
    )
