"""What the bench last said of each instrument, kept beside it: a long bench is shown without its journals.

Nothing here is the only copy of anything. A line is good for one state of all that it follows from; the sum
that it is kept under names that state and the words themselves, so a line that is out of date, or on which a
bit flipped, is none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import blake2b
from typing import Any

from sqlalchemy import bindparam, delete, insert
from sqlalchemy import select as select_columns
from sqlalchemy.exc import OperationalError
from sqlmodel import Session, func

from webapp.store import instruments
from webapp.store.engine import ask
from webapp.store.instruments import InstrumentRow
from webapp.store.tables import (
    Base,
    BenchLine,
    EntryRecord,
    Instrument,
    LessonVersion,
    Setup,
    columns,
)
from webapp.store.trouble import DAMAGED, trouble_of

BYTES = 8

_INSTRUMENT, _SETUP, _ENTRY = columns(Instrument), columns(Setup), columns(EntryRecord)
_LESSON, _LINE = columns(LessonVersion), columns(BenchLine)
_TABLES = Base.metadata.tables
_SETUPS_HERE = (_SETUP.instrument_id == _INSTRUMENT.id, _INSTRUMENT.bench_id == bindparam("bench"))
_OF_SETUPS = (
    select_columns(_INSTRUMENT.id, func.count(), func.count(_SETUP.finished_at), func.count(_SETUP.lesson_id))
    .where(*_SETUPS_HERE)
    .group_by(_INSTRUMENT.id)
)
_OF_ENTRIES = (
    select_columns(_INSTRUMENT.id, func.count(), func.max(_ENTRY.id))
    .where(_ENTRY.setup_id == _SETUP.id, *_SETUPS_HERE)
    .group_by(_INSTRUMENT.id)
)
_OF_LESSONS = (
    select_columns(_INSTRUMENT.id, func.max(_LESSON.id))
    .where(_LESSON.lesson_id == _SETUP.lesson_id, *_SETUPS_HERE)
    .group_by(_INSTRUMENT.id)
)
_SAID = select_columns(_LINE.instrument_id, _LINE.said, _LINE.seal).where(
    _LINE.instrument_id == _INSTRUMENT.id, _INSTRUMENT.bench_id == bindparam("bench")
)
_ADD = insert(_TABLES["bench_line"])


@dataclass(frozen=True)
class KeptLine:
    """An instrument, the state of all that its line follows from, and the words that are kept for that state
    (empty: none)."""

    row: InstrumentRow
    state: str
    said: str


def of_bench(session: Session, bench_id: str, by: str) -> list[KeptLine]:
    """Every instrument of the bench, the oldest first, those that were taken off it too; `by` names what else
    a line follows from, besides what is stored of the instrument."""
    states = _states(session, bench_id)
    kept = _kept(session, bench_id)
    found = []
    for row in instruments.list_all(session, bench_id, archived=True):
        state = _sum(by, row.id, row.version, states.get(row.id, ()))
        said, seal = kept.get(row.id, ("", ""))
        found.append(KeptLine(row, state, said if seal == _sum(state, said) else ""))
    return found


def _kept(session: Session, bench_id: str) -> Mapping[str, tuple[str, str]]:
    """The words and the sum kept for each instrument; none at all where one is no text any more."""
    try:
        return {name: (said, seal) for name, said, seal in ask(session, _SAID, bench=bench_id)}
    except OperationalError as unread:
        if trouble_of(unread) is not DAMAGED:
            raise
        return {}


def keep(session: Session, bench_id: str, lines: Sequence[tuple[KeptLine, str]]) -> None:
    """Keeps what is said of instruments of the bench in the state in which they were found."""
    mine = {row.id for row in instruments.list_all(session, bench_id, archived=True)}
    lines = [one for one in lines if one[0].row.id in mine]
    connection = session.connection()
    these = [line.row.id for line, _ in lines]
    connection.execute(delete(_TABLES["bench_line"]).where(_LINE.instrument_id.in_(these)))
    told = [
        {"instrument_id": line.row.id, "said": said, "seal": _sum(line.state, said)} for line, said in lines
    ]
    if told:
        connection.execute(_ADD, told)


def _states(session: Session, bench_id: str) -> Mapping[str, tuple[Any, ...]]:
    """What tells whether anything was written on an instrument since: entries are only ever added, a setup is
    begun, finished and bound to a lesson once, and a lesson's change is a new version."""
    found: dict[str, tuple[Any, ...]] = {}
    for question in (_OF_SETUPS, _OF_ENTRIES, _OF_LESSONS):
        for name, *counted in ask(session, question, bench=bench_id):
            found[name] = (*found.get(name, ()), *counted)
    return found


def _sum(*values: object) -> str:
    words = "\x1f".join(map(str, values)).encode("utf-8", "surrogatepass")
    return blake2b(words, digest_size=BYTES).hexdigest()
