"""The journal: entries are added, and never changed or removed. A correction is an entry that voids one."""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache
from sys import intern
from typing import Any, NamedTuple

from sqlalchemy import bindparam, insert
from sqlalchemy import select as select_columns
from sqlmodel import Session, col, func, select

from webapp.store import setups
from webapp.store.asking import Line, ask, ask_one, put
from webapp.store.errors import AlreadyRecorded, Finished, NotFound, Stale
from webapp.store.rows import EntryRow
from webapp.store.setups import OF_INSTRUMENT
from webapp.store.tables import Base, Entry, columns

LARGEST_ID = 2**31 - 1
# Made once, and columns instead of objects: journals are read far more often than they are written.
_ENTRY = columns(Entry)
_LINES = select_columns(
    _ENTRY.id, _ENTRY.setup_id, _ENTRY.at, _ENTRY.kind, _ENTRY.check, _ENTRY.slot, _ENTRY.value, _ENTRY.unit,
    _ENTRY.typed, _ENTRY.tool, _ENTRY.error, _ENTRY.detail, _ENTRY.voids,
).order_by(_ENTRY.id)  # fmt: skip
_OF_SETUP = _LINES.where(_ENTRY.setup_id == bindparam("setup"))
_OF_INSTRUMENT = _LINES.where(*OF_INSTRUMENT)
_OF_SOME = _OF_INSTRUMENT.where(_ENTRY.setup_id.in_(bindparam("only", expanding=True)))
# Not "the newest of them": for that, a server may run through all entries of everybody from the newest back.
_NEWER = _OF_SETUP.where(_ENTRY.slot == bindparam("slot"), _ENTRY.id > bindparam("last")).order_by(None)
_OF_FORM = (
    select_columns(_ENTRY.id)
    .where(_ENTRY.setup_id == bindparam("setup"), _ENTRY.form_id == bindparam("form"))
    .order_by(_ENTRY.part)
    .limit(1)
)
_ADD = insert(Base.metadata.tables["entry"])
_MARKS = (
    select_columns(_ENTRY.setup_id, func.count(), func.max(_ENTRY.id))
    .where(*OF_INSTRUMENT)
    .group_by(_ENTRY.setup_id)
)
# To name more of them takes longer than to read all.
SOME = 100


class JournalMark(NamedTuple):
    """How far a journal goes. Entries are never changed, so the same mark means the same journal."""

    entries: int
    newest: int


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
    earlier = ask_one(session, _OF_FORM, setup=setup_id, form=form_id)
    if earlier is not None:
        raise AlreadyRecorded(earlier[0])
    if setup.finished_at is not None:
        raise Finished
    _refuse_stale(session, setup_id, seen)
    _refuse_strange_voids(session, setup_id, {new.voids for new in entries if new.voids is not None})
    made = (_line(setup_id, form_id, part, at, new) for part, new in enumerate(entries))
    return [_add(session, line) for line in made]


def for_setup(session: Session, bench_id: str, setup_id: str) -> list[EntryRow]:
    """The setup's journal, voided entries too, oldest first; raises NotFound."""
    setups.get(session, bench_id, setup_id)
    return [_row(line) for line in ask(session, _OF_SETUP, setup=setup_id)]


def for_instrument(
    session: Session, bench_id: str, instrument_id: str, only: Collection[str] | None = None
) -> list[EntryRow]:
    """The journals of all the instrument's setups, or of `only` some, oldest entry first; none on another's
    bench."""
    mine: dict[str, Any] = {"bench": bench_id, "instrument": instrument_id}
    if only is None or len(only) > SOME:
        lines = map(_row, ask(session, _OF_INSTRUMENT, **mine))
        return [line for line in lines if only is None or line.setup_id in only]
    return [_row(line) for line in ask(session, _OF_SOME, **mine, only=list(only))]


def marks(session: Session, bench_id: str, instrument_id: str) -> dict[str, JournalMark]:
    """How far each setup's journal goes; the setups without an entry are left out."""
    found = ask(session, _MARKS, bench=bench_id, instrument=instrument_id)
    return {setup_id: JournalMark(count, newest) for setup_id, count, newest in found}


def _refuse_stale(session: Session, setup_id: str, seen: Mapping[str, int]) -> None:
    for slot, seen_id in seen.items():
        # A form can claim to have seen more than there is; PostgreSQL's numbers end somewhere.
        last_id = min(seen_id, LARGEST_ID)
        newer = ask(session, _NEWER, setup=setup_id, slot=slot, last=last_id)
        if newer:
            raise Stale(max(map(_row, newer), key=lambda row: row.id))


def _refuse_strange_voids(session: Session, setup_id: str, voids: set[int]) -> None:
    if not voids:
        return
    known = session.exec(select(Entry.id).where(Entry.setup_id == setup_id, col(Entry.id).in_(voids)))
    if set(known) != voids:
        raise NotFound


def _line(setup_id: str, form_id: str, part: int, at: datetime, new: NewEntry) -> dict[str, Any]:
    return {
        "setup_id": setup_id,
        "form_id": form_id,
        "part": part,
        "at": at,
        "kind": new.kind,
        "check": new.check,
        "slot": new.slot,
        "value": new.value,
        "unit": new.unit,
        "typed": new.typed,
        "tool": new.tool,
        "error": new.error,
        "detail": json.dumps(dict(new.detail), ensure_ascii=False, allow_nan=False),
        "voids": new.voids,
    }


def _add(session: Session, line: dict[str, Any]) -> int:
    return put(session, _ADD, **line)


def _row(line: Line) -> EntryRow:
    (
        number, setup_id, at, kind, check, slot, value, unit, typed, tool, error, detail, voids,
    ) = line  # fmt: skip
    # Thousands of entries are kept in memory, and most of their words are the same few.
    slot, unit, tool = intern(slot), intern(unit), intern(tool)
    told = _detail(detail)
    return EntryRow(number, setup_id, at, kind, check, slot, value, unit, typed, tool, error, told, voids)


@lru_cache(maxsize=2048)
def _detail(text: str) -> Mapping[str, Any]:
    """Shared by all entries that say the same, so nobody changes it."""
    found: Mapping[str, Any] = json.loads(text)
    return found
