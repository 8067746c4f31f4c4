"""The journal: entries are added, and never changed or removed. A correction is an entry that voids one."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from webapp.store import setups
from webapp.store.errors import AlreadyRecorded, Finished, NotFound, Stale
from webapp.store.rows import EntryRow
from webapp.store.tables import Entry, Instrument, Setup

LARGEST_ID = 2**31 - 1


@dataclass(frozen=True)
class NewEntry:
    """What a form says. `value` is canonical (mm, cents, turns), `typed` is what the player wrote."""

    kind: str
    check: str
    slot: str
    value: float | None = None
    unit: str = ""
    typed: str = ""
    tool: str = ""
    error: float | None = None
    detail: Mapping[str, Any] = field(default_factory=dict)
    voids: int | None = None

    def __post_init__(self) -> None:
        if any(number is not None and not math.isfinite(number) for number in (self.value, self.error)):
            raise ValueError("an entry's value and error are finite numbers or None")


def append(
    session: Session,
    bench_id: str,
    setup_id: str,
    form_id: str,
    seen: Mapping[str, int],
    entries: Sequence[NewEntry],
    at: datetime,
) -> list[int]:
    """Adds all the entries of one form, or none, and returns their ids in the same order.

    `seen` gives, for each slot the form shows, the id of the newest entry it was shown with (0: none).
    Raises AlreadyRecorded (with the first id) for a form that arrived before, Finished, Stale (with the
    newest entry) when another form was quicker, NotFound for a setup or voided entry that is not there.
    """
    setup = setups.hold(session, bench_id, setup_id)
    earlier = session.exec(
        select(Entry.id).where(Entry.setup_id == setup_id, Entry.form_id == form_id).order_by(col(Entry.part))
    ).first()
    if earlier is not None:
        raise AlreadyRecorded(earlier)
    if setup.finished_at is not None:
        raise Finished
    _refuse_stale(session, setup_id, seen)
    _refuse_strange_voids(session, setup_id, {new.voids for new in entries if new.voids is not None})
    made = [_entry(setup_id, form_id, part, at, new) for part, new in enumerate(entries)]
    session.add_all(made)
    session.flush()
    return [_kept_id(entry) for entry in made]


def for_setup(session: Session, bench_id: str, setup_id: str) -> list[EntryRow]:
    """The setup's journal, voided entries too, oldest first; raises NotFound."""
    setups.get(session, bench_id, setup_id)
    found = session.exec(select(Entry).where(Entry.setup_id == setup_id).order_by(col(Entry.id)))
    return _rows(found)


def for_instrument(session: Session, bench_id: str, instrument_id: str) -> list[EntryRow]:
    """The journals of all the instrument's setups, oldest entry first; none on another's bench."""
    found = session.exec(
        select(Entry)
        .join(Setup, col(Setup.id) == col(Entry.setup_id))
        .join(Instrument, col(Instrument.id) == col(Setup.instrument_id))
        .where(Instrument.id == instrument_id, Instrument.bench_id == bench_id)
        .order_by(col(Entry.id))
    )
    return _rows(found)


def _refuse_stale(session: Session, setup_id: str, seen: Mapping[str, int]) -> None:
    for slot, seen_id in seen.items():
        # A form can claim to have seen more than there is; PostgreSQL's numbers end somewhere.
        last_id = min(seen_id, LARGEST_ID)
        newest = session.exec(
            select(Entry)
            .where(Entry.setup_id == setup_id, Entry.slot == slot, col(Entry.id) > last_id)
            .order_by(col(Entry.id).desc())
        ).first()
        if newest is not None:
            raise Stale(_row(newest))


def _refuse_strange_voids(session: Session, setup_id: str, voids: set[int]) -> None:
    known = session.exec(select(Entry.id).where(Entry.setup_id == setup_id, col(Entry.id).in_(voids)))
    if set(known) != voids:
        raise NotFound


def _entry(setup_id: str, form_id: str, part: int, at: datetime, new: NewEntry) -> Entry:
    return Entry(
        setup_id=setup_id,
        form_id=form_id,
        part=part,
        at=at,
        kind=new.kind,
        check=new.check,
        slot=new.slot,
        value=new.value,
        unit=new.unit,
        typed=new.typed,
        tool=new.tool,
        error=new.error,
        detail=json.dumps(dict(new.detail), ensure_ascii=False, allow_nan=False),
        voids=new.voids,
    )


def _rows(found: Iterable[Entry]) -> list[EntryRow]:
    return [_row(entry) for entry in found]


def _row(entry: Entry) -> EntryRow:
    return EntryRow(
        _kept_id(entry),
        entry.setup_id,
        entry.at,
        entry.kind,
        entry.check,
        entry.slot,
        entry.value,
        entry.unit,
        entry.typed,
        entry.tool,
        entry.error,
        json.loads(entry.detail),
        entry.voids,
    )


def _kept_id(entry: Entry) -> int:
    if entry.id is None:
        raise ValueError("the entry has not been kept yet")
    return entry.id
