"""Instruments and the versions of their description."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Select, bindparam
from sqlalchemy import select as select_columns
from sqlmodel import Session, func, select

from webapp.store.engine import HELD, ask, ask_one
from webapp.store.errors import AlreadyRecorded, NotFound, Stale
from webapp.store.sealed import sealed, sound
from webapp.store.tables import Bench, Instrument, InstrumentVersion, columns


@dataclass(frozen=True)
class InstrumentRow:
    """An instrument at one version. `created_at` is when the instrument came, not the version."""

    id: str
    version: int
    spec_json: str
    created_at: datetime
    archived_at: datetime | None = None

    @classmethod
    def of(cls, instrument: Mapping[str, Any], version: Mapping[str, Any]) -> InstrumentRow:
        """Of the sound lines of both tables."""
        return cls(
            instrument["id"], version["number"], version["spec"], instrument["created_at"],
            instrument["archived_at"],
        )  # fmt: skip


# Made once: to put a question together takes as long as to answer it.
_INSTRUMENT, _VERSION = columns(Instrument), columns(InstrumentVersion)
_OF_BENCH = select_columns(*sealed(Instrument, InstrumentVersion)).where(
    _VERSION.instrument_id == _INSTRUMENT.id, _INSTRUMENT.bench_id == bindparam("bench")
)
_VERSIONS = _OF_BENCH.where(_INSTRUMENT.id == bindparam("instrument"))
_NEWEST = _VERSIONS.order_by(_VERSION.number.desc()).limit(1)
_THAT = _VERSIONS.where(_VERSION.number == bindparam("number"))
_LAST = (
    select_columns(_VERSION.instrument_id, func.max(_VERSION.number).label("number"))
    .group_by(_VERSION.instrument_id)
    .subquery()
)
_ALL = _OF_BENCH.where(
    _VERSION.instrument_id == _LAST.c.instrument_id, _VERSION.number == _LAST.c.number
).order_by(_INSTRUMENT.created_at, _INSTRUMENT.id)


def add(session: Session, bench_id: str, form_id: str, spec_json: str) -> str:
    """Adds an instrument and returns its id; the same form again raises AlreadyRecorded with that id."""
    if session.get(Bench, bench_id, with_for_update=HELD) is None:
        raise NotFound
    earlier = session.exec(
        select(Instrument.id).where(Instrument.bench_id == bench_id, Instrument.form_id == form_id)
    ).first()
    if earlier is not None:
        raise AlreadyRecorded(earlier)
    now = datetime.now(UTC)
    instrument = Instrument(bench_id=bench_id, created_at=now, form_id=form_id)
    session.add(instrument)
    session.flush()
    session.add(InstrumentVersion(instrument_id=instrument.id, number=1, created_at=now, spec=spec_json))
    session.flush()
    return instrument.id


def revise(session: Session, bench_id: str, instrument_id: str, spec_json: str, expected_version: int) -> int:
    """Saves a new version and returns its number; raises Stale if it is not based on the newest one."""
    hold(session, bench_id, instrument_id)
    newest = get(session, bench_id, instrument_id)
    if newest.version != expected_version:
        raise Stale
    if newest.spec_json == spec_json:
        return newest.version
    number = newest.version + 1
    session.add(
        InstrumentVersion(
            instrument_id=instrument_id, number=number, created_at=datetime.now(UTC), spec=spec_json
        )
    )
    session.flush()
    return number


def hold(session: Session, bench_id: str, instrument_id: str) -> None:
    """Keeps other writers off the instrument until this one is done; raises NotFound."""
    wanted = select(Instrument.id).where(Instrument.id == instrument_id, Instrument.bench_id == bench_id)
    if session.exec(wanted.with_for_update(**HELD)).first() is None:
        raise NotFound


def get(session: Session, bench_id: str, instrument_id: str) -> InstrumentRow:
    """The instrument at its newest version; raises NotFound, Damaged."""
    return _one(session, _NEWEST, {"bench": bench_id, "instrument": instrument_id})


def version(session: Session, bench_id: str, instrument_id: str, number: int) -> InstrumentRow:
    """The instrument as it was described in version `number`; raises NotFound, Damaged."""
    return _one(session, _THAT, {"bench": bench_id, "instrument": instrument_id, "number": number})


def _one(session: Session, wanted: Select[Any], mine: dict[str, Any]) -> InstrumentRow:
    found = ask_one(session, wanted, **mine)
    if found is None:
        raise NotFound
    return InstrumentRow.of(*sound(found, Instrument, InstrumentVersion))


def list_all(session: Session, bench_id: str, *, archived: bool = False) -> Sequence[InstrumentRow]:
    """The bench's instruments at their newest versions, oldest first; archived ones only when asked for.

    Raises Damaged.
    """
    found = ask(session, _ALL, bench=bench_id)
    rows = [InstrumentRow.of(*sound(line, Instrument, InstrumentVersion)) for line in found]
    return [row for row in rows if archived or row.archived_at is None]


def archive(session: Session, bench_id: str, instrument_id: str) -> None:
    """Takes an instrument off the bench's list; everything recorded about it stays."""
    instrument = session.get(Instrument, instrument_id)
    if instrument is None or instrument.bench_id != bench_id:
        raise NotFound
    if instrument.archived_at is None:
        instrument.archived_at = datetime.now(UTC)
        session.flush()
