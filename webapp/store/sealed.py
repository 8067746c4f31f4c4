"""Sealed lines (seal_sums.py): given their sum as they are written, and checked whenever they are read.

Objects are given it, and checked, by themselves. A question for plain columns asks for all that is `sealed`,
and takes the answer through `sound`. Entries have a sum of another kind (entries.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Column, event
from sqlmodel import SQLModel

from webapp.store.errors import Damaged
from webapp.store.seal_sums import SEALED, sum_of

Table = type[SQLModel]


def guard(*tables: Table) -> None:
    """Has the objects of some tables given their sum, and checked."""
    for table in tables:
        for when in ("before_insert", "before_update"):
            event.listen(table, when, _seal)
        for when in ("load", "refresh"):
            event.listen(table, when, _check)


def sealed(*tables: Table) -> tuple[Column[Any], ...]:
    """The columns that the sums of some tables speak of, each table's with its sum behind them."""
    return tuple(_columns(table)[name] for table in tables for name in (*SEALED[_name(table)], "seal"))


def sound(line: Sequence[Any], *tables: Table) -> list[dict[str, Any]]:
    """What a line of `sealed` columns says of each table, by name; nothing of one that had none to join.

    Raises Damaged where it is not what was recorded.
    """
    found, start = [], 0
    for name in map(_name, tables):
        stop = start + len(SEALED[name])
        told, seal = line[start:stop], line[stop]
        if seal is not None and sum_of(name, told) != seal:
            raise Damaged(name)
        found.append({} if seal is None else dict(zip(SEALED[name], told, strict=True)))
        start = stop + 1
    return found


def with_sum(table: Table, line: Mapping[str, Any]) -> dict[str, Any]:
    """A line to be added to a table as plain columns."""
    name = _name(table)
    return {**line, "seal": sum_of(name, (line[one] for one in SEALED[name]))}


def _seal(_mapper: object, _connection: object, line: Any) -> None:
    line.seal = _sum_of(line)


def _check(line: Any, *_how: object) -> None:
    if _sum_of(line) != line.seal:
        raise Damaged(_name(type(line)))


def _sum_of(line: Any) -> str:
    name = _name(type(line))
    return sum_of(name, (getattr(line, one) for one in SEALED[name]))


def _name(table: Table) -> str:
    return str(table.__tablename__)


def _columns(table: Table) -> Any:
    return table.metadata.tables[_name(table)].columns
