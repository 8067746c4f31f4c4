"""The journal: entries are added, and never changed or removed. A correction is an entry that voids one."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import fields, replace
from datetime import UTC, datetime
from functools import lru_cache
from sys import intern
from typing import Any, NamedTuple

from sqlalchemy import bindparam, insert, text
from sqlalchemy import select as select_columns
from sqlmodel import Session, col, func, select

from webapp.setups.journal import Entry, EntryKind, Journal
from webapp.store import setups
from webapp.store.engine import Line, ask, put
from webapp.store.errors import AlreadyRecorded, Damaged, Finished, NotFound, Stale
from webapp.store.seal_sums import CHAIN, ENTRY, chained
from webapp.store.setups import OF_INSTRUMENT
from webapp.store.tables import Base, EntryRecord, columns
from webapp.trade.words import Check

LARGEST_ID = 2**31 - 1
# Made once, and columns instead of objects: journals are read far more often than they are written.
_ENTRY = columns(EntryRecord)
_TOLD = tuple(field.name for field in fields(Entry))
TOLD = tuple(_ENTRY[name] for name in _TOLD)
"""What an entry tells, as the table's columns: a line of these is what `entry_of` takes."""
# What its sum needs besides (seal_sums.py).
SEALED_BY = (_ENTRY.setup_id, _ENTRY.form_id, _ENTRY.part, _ENTRY.seal)
_LINES = select_columns(*SEALED_BY, *TOLD).order_by(_ENTRY.id)
# By a sum: for the newest of plain numbers, a server may run through all entries of everybody.
_LAST_SEAL = (
    select_columns(_ENTRY.seal)
    .where(_ENTRY.setup_id == bindparam("setup"))
    .order_by((_ENTRY.id + 0).desc())
    .limit(1)
)
_OF_INSTRUMENT = _LINES.where(*OF_INSTRUMENT)
_OF_SOME = _OF_INSTRUMENT.where(_ENTRY.setup_id.in_(bindparam("only", expanding=True)))
# Not "the newest of them": for that, a server may run through all entries of everybody from the newest back.
_NEWER = select_columns(*TOLD).where(
    _ENTRY.setup_id == bindparam("setup"), _ENTRY.slot == bindparam("slot"), _ENTRY.id > bindparam("last")
)
_OF_FORM = (
    select_columns(_ENTRY.id)
    .where(_ENTRY.setup_id == bindparam("setup"), _ENTRY.form_id == bindparam("form"))
    .order_by(_ENTRY.part)
    .limit(1)
)
_UNSEEN = select_columns(func.max(_ENTRY.id)).where(
    _ENTRY.setup_id == bindparam("setup"),
    _ENTRY.slot.in_(bindparam("slots", expanding=True)),
    _ENTRY.id > bindparam("last"),
)
# All at once, before every step, but once the setup is held: while one waits for it, what else is asked ages.
_BEFORE = select_columns(_OF_FORM.scalar_subquery(), _LAST_SEAL.scalar_subquery(), _UNSEEN.scalar_subquery())
ADD = insert(Base.metadata.tables["entry"])
# How the two databases count.
_NUMBERS = text("SELECT nextval(pg_get_serial_sequence('entry', 'id')) FROM generate_series(1, :count)")
_NEWEST_NUMBER = text(
    "SELECT max(coalesce((SELECT max(seq) FROM sqlite_sequence WHERE name = 'entry'), 0), "
    "coalesce((SELECT max(id) FROM entry), 0))"
)
_NO_NUMBERS = text("DELETE FROM sqlite_sequence WHERE name = 'entry'")
_GIVEN = text("INSERT INTO sqlite_sequence (name, seq) VALUES ('entry', :newest)")
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


def append(
    session: Session,
    bench_id: str,
    setup_id: str,
    form_id: str,
    seen: Mapping[str, int],
    entries: Sequence[Entry],
    at: datetime,
) -> list[Entry]:
    """Adds all the entries of one form, or none; returns them in the same order as they are read from now on.

    Number and time are given here. `seen` gives, for each slot the form shows, the id of the newest entry it
    was shown with (0: none). Raises AlreadyRecorded (with the first id) for a form that arrived before,
    Finished, Stale (with the newest entry) when another form was quicker, NotFound for a setup or voided
    entry that is not there.
    """
    setup = setups.hold(session, bench_id, setup_id)
    oldest = min((*seen.values(), LARGEST_ID))
    told = {"setup": setup_id, "form": form_id, "slots": list(seen), "last": oldest}
    ((earlier, seal, unseen),) = ask(session, _BEFORE, **told)
    if earlier is not None:
        raise AlreadyRecorded(earlier)
    if setup.finished_at is not None:
        raise Finished
    if unseen is not None:
        _refuse_stale(session, setup_id, seen)
    _refuse_strange_voids(session, setup_id, {new.voids for new in entries if new.voids is not None})
    recorded, last = [], seal or ""
    for part, new in enumerate(entries):
        line = line_of(setup_id, form_id, part, replace(new, at=at), last)
        last = line["seal"]
        line |= {"id": put(session, ADD, **line), "at": at.astimezone(UTC)}
        recorded.append(entry_of(line[name] for name in _TOLD))
    return recorded


def line_of(setup_id: str, form_id: str, part: int, new: Entry, last: str) -> dict[str, Any]:
    """An entry as the table has it, but for its number: the next of its setup, where the newest has the sum
    `last` (empty: it is the first)."""
    line = {"setup_id": setup_id, "form_id": form_id, "part": part, **_line(new)}
    return line | {"seal": chained(last, (line[name] for name in CHAIN))}


def take_numbers(session: Session, count: int) -> Sequence[int]:
    """So many numbers for entries to come, upwards, above all that were ever given; nobody else gets them."""
    if session.connection().dialect.name == "postgresql":
        return [line[0] for line in session.connection().execute(_NUMBERS, {"count": count})]
    newest = session.connection().execute(_NEWEST_NUMBER).scalar_one()
    session.connection().execute(_NO_NUMBERS)
    session.connection().execute(_GIVEN, {"newest": newest + count})
    return range(newest + 1, newest + count + 1)


def journals(
    session: Session, bench_id: str, instrument_id: str, only: Collection[str] | None = None
) -> dict[str, Journal]:
    """The journals of the instrument's setups, or of `only` some, by the setup's id; those without an entry
    are left out. None on another's bench. Raises Damaged."""
    mine: dict[str, Any] = {"bench": bench_id, "instrument": instrument_id}
    if only is None or len(only) > SOME:
        lines = ask(session, _OF_INSTRUMENT, **mine)
    else:
        lines = ask(session, _OF_SOME, **mine, only=list(only))
    found: dict[str, list[Entry]] = {}
    for setup_id, _, _, told in sound(lines):
        if only is None or setup_id in only:
            found.setdefault(setup_id, []).append(entry_of(told))
    return {setup_id: Journal.of(some) for setup_id, some in found.items()}


def sound(lines: Iterable[Line]) -> Iterator[tuple[str, str, int, Sequence[Any]]]:
    """Entries, whole setups of them and in their order, as `SEALED_BY` and `TOLD` ask: each one's setup, form
    and part, and what `entry_of` takes. Raises Damaged before one that is not what was recorded."""
    last: dict[str, str] = {}
    for setup_id, form_id, part, seal, *words in lines:
        named = dict(zip(_TOLD, words, strict=True), setup_id=setup_id, form_id=form_id, part=part)
        if chained(last.get(setup_id, ""), (named[name] for name in CHAIN)) != seal:
            raise Damaged(ENTRY, setup_id)
        last[setup_id] = seal
        yield setup_id, form_id, part, words


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
            raise Stale(max(map(entry_of, newer), key=lambda entry: entry.id))


def _refuse_strange_voids(session: Session, setup_id: str, voids: set[int]) -> None:
    if not voids:
        return
    known = session.exec(
        select(EntryRecord.id).where(EntryRecord.setup_id == setup_id, col(EntryRecord.id).in_(voids))
    )
    if set(known) != voids:
        raise NotFound


def _line(entry: Entry) -> dict[str, Any]:
    """An entry as the table has it. The table gives the number itself."""
    told = {name: getattr(entry, name) for name in _TOLD if name != "id"}
    detail = json.dumps(dict(entry.detail), ensure_ascii=False, allow_nan=False)
    numbers = {name: None if told[name] is None else float(told[name]) for name in ("value", "error")}
    return told | numbers | {"kind": entry.kind.value, "check": entry.check.value, "detail": detail}


def entry_of(told: Iterable[Any]) -> Entry:
    """The entry that a line of the columns `TOLD` tells."""
    kind, check, slot, value, unit, typed, tool, error, detail, *where = told
    # Thousands of entries are kept in memory, and most of their words are the same few.
    slot, unit, tool = intern(slot), intern(unit), intern(tool)
    return Entry(
        EntryKind(kind), Check(check), slot, value, unit, typed, tool, error, _detail(detail), *where
    )


@lru_cache(maxsize=2048)
def _detail(text: str) -> Mapping[str, Any]:
    """Shared by all entries that say the same, so nobody changes it."""
    found: Mapping[str, Any] = json.loads(text)
    return found
