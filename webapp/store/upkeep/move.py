"""Copying a whole database from one place to another, and comparing every row."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Engine, Row, Table, func, insert, select, text

from webapp.store import seals
from webapp.store.engine import reading, writing
from webapp.store.errors import Unusable
from webapp.store.tables import Base

BATCH = 1000


@dataclass(frozen=True)
class Moved:
    """One table: how many rows, and the digest that both sides came to."""

    table: str
    rows: int
    digest: str


def move(source: Engine, target: Engine, target_name: str) -> list[Moved]:
    """Copies everything, in one transaction: all of it arrives, or nothing. Both have today's tables.

    Raises Unusable when something is in the target already, or when a row did not arrive as it was.
    """
    tables = Base.metadata.sorted_tables
    with reading(source) as from_session, writing(target, "move") as to_session:
        old, new = from_session.connection(), to_session.connection()
        for fault in seals.broken(seals.asked(old)):
            raise Unusable(f"{fault.sentence} So nothing was moved.")
        for table in tables:
            if new.execute(select(func.count()).select_from(table)).scalar():
                raise Unusable(f"There is something in {target_name} already; a move needs an empty place.")
        moved = [_copy(table, old, new) for table in tables]
        for table in tables:
            _go_on_counting(table, old, new)
        for one, table in zip(moved, tables, strict=True):
            arrived = _digest(new, table)
            if arrived != (one.rows, one.digest):
                raise Unusable(f"What arrived in {table.name} is not what was sent, so nothing was moved.")
        return moved


def _copy(table: Table, old: Connection, new: Connection) -> Moved:
    rows, digest = 0, hashlib.sha256()
    for batch in _batches(old, table):
        for row in batch:
            digest.update(_canonical(row))
        rows += len(batch)
        new.execute(insert(table), [dict(row._mapping) for row in batch])
    return Moved(table.name, rows, digest.hexdigest())


def _digest(connection: Connection, table: Table) -> tuple[int, str]:
    rows, digest = 0, hashlib.sha256()
    for batch in _batches(connection, table):
        for row in batch:
            digest.update(_canonical(row))
        rows += len(batch)
    return rows, digest.hexdigest()


def digests(engine: Engine) -> dict[str, tuple[int, str]]:
    """Every table's number of rows and digest: the same wherever the same rows are kept."""
    with reading(engine) as session:
        return {table.name: _digest(session.connection(), table) for table in Base.metadata.sorted_tables}


def _batches(connection: Connection, table: Table) -> Iterator[Sequence[Row[Any]]]:
    """All rows by their key: an entry is never sent before the one that it voids."""
    found = connection.execute(select(table))
    # In Python's order: the two databases sort text differently.
    keys = [column.name for column in table.primary_key.columns]
    rows = sorted(found, key=lambda row: tuple(row._mapping[name] for name in keys))
    for start in range(0, len(rows), BATCH):
        yield rows[start : start + BATCH]


def _canonical(row: Row[Any]) -> bytes:
    return ("\x1f".join(map(_words, row)) + "\x1e").encode("utf-8", "surrogatepass")


def _words(value: Any) -> str:
    """A value in words that are the same on both sides, to the last bit of a float."""
    if isinstance(value, float):
        return f"float {value.hex()}"
    if isinstance(value, datetime):
        return f"datetime {value.isoformat(timespec='microseconds')}"
    if isinstance(value, date):
        return f"date {value.isoformat()}"
    if isinstance(value, bytes | memoryview):
        return f"bytes {bytes(value).hex()}"
    return f"{type(value).__name__} {value}"


def _go_on_counting(table: Table, old: Connection, new: Connection) -> None:
    """A number that was given once is not given again, also where its row is gone."""
    column = table.autoincrement_column
    if column is None:
        return
    highest = new.execute(select(func.max(column))).scalar() or 0
    last = max(highest, _last_given(table, old))
    if not last:
        return
    if new.dialect.name == "postgresql":
        sequence = text("SELECT setval(pg_get_serial_sequence(:table, :column), :last)")
        new.execute(sequence, {"table": table.name, "column": column.name, "last": last})
    elif table.dialect_options["sqlite"]["autoincrement"]:
        kept = text("UPDATE sqlite_sequence SET seq = :last WHERE name = :table")
        if new.execute(kept, {"last": last, "table": table.name}).rowcount == 0:
            begun = text("INSERT INTO sqlite_sequence (name, seq) VALUES (:table, :last)")
            new.execute(begun, {"last": last, "table": table.name})


def _last_given(table: Table, old: Connection) -> int:
    column = table.autoincrement_column
    assert column is not None
    if old.dialect.name == "postgresql":
        asked = text("SELECT pg_sequence_last_value(pg_get_serial_sequence(:table, :column)::regclass)")
        found = old.execute(asked, {"table": table.name, "column": column.name}).scalar()
    elif table.dialect_options["sqlite"]["autoincrement"]:
        asked = text("SELECT seq FROM sqlite_sequence WHERE name = :table")
        found = old.execute(asked, {"table": table.name}).scalar()
    else:
        found = 0
    return int(found or 0)
