"""What every page of a setup asks first, put as one question: the key, the setup with all that it goes by,
and how far its instrument's journals go. While a class works, this is mostly all that is asked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import reduce

from sqlalchemy import ColumnElement, String, bindparam, cast, func, select
from sqlmodel import Session

from webapp.store import keys
from webapp.store.asking import ask_one
from webapp.store.instruments import InstrumentRow
from webapp.store.keys import KeyRow
from webapp.store.setups import WHOLE, WHOLE_ORDER, PastMark, SetupRow, joined_whole
from webapp.store.tables import Base, Bench, DeviceKey, Entry, Instrument, Setup, columns

_KEY, _BENCH, _INSTRUMENT = columns(DeviceKey), columns(Bench), columns(Instrument)
_PAST = Base.metadata.tables["setup"].alias("past")
_ENTRY = columns(Entry)


def _told(*counted: ColumnElement[int]) -> ColumnElement[str]:
    """Several numbers as one text, since a question within a question has one answer."""
    numbers: list[ColumnElement[str]] = [cast(func.coalesce(number, 0), String) for number in counted]
    return reduce(lambda told, number: told + " " + number, numbers)


_SETUPS = (
    select(_told(func.count(), func.count(_PAST.c.finished_at), func.count(_PAST.c.lesson_id)))
    .where(_PAST.c.instrument_id == _INSTRUMENT.id)
    .scalar_subquery()
)
_ENTRIES = (
    select(_told(func.count(), func.max(_ENTRY.id)))
    .where(_PAST.c.instrument_id == _INSTRUMENT.id, _ENTRY.setup_id == _PAST.c.id)
    .scalar_subquery()
)
_FIRST = (
    select(*keys.ASKED, *WHOLE, _SETUPS, _ENTRIES)
    .select_from(
        joined_whole()
        .join(Base.metadata.tables["bench"], _BENCH.id == _INSTRUMENT.bench_id)
        .join(Base.metadata.tables["device_key"], _KEY.bench_id == _BENCH.id)
    )
    .where(_KEY.secret_hash == bindparam("hashed"), columns(Setup).id == bindparam("setup"))
    .order_by(*WHOLE_ORDER)
    .limit(1)
)


@dataclass(frozen=True)
class First:
    """A key that is good, and a setup on its bench."""

    key: KeyRow
    setup: SetupRow
    instrument: InstrumentRow
    lesson_json: str
    mark: PastMark


def ask_first(session: Session, secret: str, setup_id: str, at: datetime) -> First | None:
    """None where the key is not good or its bench has no such setup: ask again, one by one, to know which."""
    hashed = keys.hash_of(secret)
    line = ask_one(session, _FIRST, hashed=hashed, setup=setup_id)
    if line is None:
        return None
    asked = len(keys.ASKED)
    key = keys.good(line[:asked], hashed, at)
    whole, counted = line[asked : asked + 12], " ".join(line[asked + 12 :])
    if key is None:
        return None
    begun, finished, taught, entries, newest = (int(number) for number in counted.split())
    mark = PastMark(begun, finished, taught, entries, newest or None)
    return First(key, SetupRow(*whole[:6]), InstrumentRow(*whole[6:11]), whole[11] or "", mark)
