"""Checksums of what was recorded, so that a bit that flips on a disk is found and never believed.

Each entry carries the sum of its own words and of the sum before it in its setup: one that was changed, lost
or put in between shows. Other lines that a page says something from carry a sum of their own. The sums keep
nobody out: whoever may write to the file may write sums too.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, text

from webapp.store import sqlite
from webapp.store.seal_sums import CHAIN, ENTRY, SEALED, chained, sum_of

Lines = Iterable[Sequence[Any]]
Asked = Callable[[str], Lines]
"""Answers a question in SQL with plain lines."""
# The revision before left a day's air that was typed without a sum, or with the one of what was typed first.
ALL_SEALED_FROM = "0008"


@dataclass(frozen=True)
class Broken:
    """A line that is not as it was recorded: its table, and what names it there (an entry: its setup)."""

    table: str
    ids: tuple[str, ...]

    @property
    def sentence(self) -> str:
        what = "An entry of setup" if self.table == ENTRY else f"The line of {self.table}"
        return f"{what} {' '.join(self.ids)} is not as it was recorded."


def broken(ask: Asked) -> Iterator[Broken]:
    """Everything that is not as it was recorded, each once."""
    for table, names in SEALED.items():
        for *told, seal in ask(f"SELECT {quoted(names)}, seal FROM {table}"):
            if sum_of(table, told) != seal:
                yield Broken(table, tuple(str(one) for one in told[: 1 if table == "bench" else 2]))
    found = dict.fromkeys(line[0] for line in told_entries(ask) if not line[1])
    yield from (Broken(ENTRY, (str(setup),)) for setup in found)


def told_entries(ask: Asked) -> Iterator[tuple[str, bool, Mapping[str, Any]]]:
    """Every entry's setup, whether it is as it was recorded, and what it says."""
    setup, before = None, ""
    question = f"SELECT {quoted(CHAIN)}, seal FROM entry ORDER BY setup_id, id"
    for *told, seal in ask(question):
        before = before if told[0] == setup else ""
        setup = told[0]
        yield setup, chained(before, told) == seal, dict(zip(CHAIN, told, strict=True))
        before = str(seal)


def quoted(names: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def fault_of(path: Path) -> str:
    """The first line of a file that is not as it was recorded, as a sentence; empty where there is none, or
    where the file is of a time before each line had a sum."""
    try:
        with sqlite.raw(path) as connection:
            ((revision,),) = connection.execute("SELECT version_num FROM alembic_version").fetchall()
            if revision < ALL_SEALED_FROM:
                return ""
            return next((one.sentence for one in broken(lambda sql: connection.execute(sql))), "")
    except (sqlite3.Error, OverflowError, ValueError, TypeError) as problem:
        return f"It cannot be read whole ({' '.join(str(problem).split())})."


def asked(connection: Connection) -> Asked:
    """Of a database that is open; what cannot be read as text is read as what it is."""
    bare = connection.connection.dbapi_connection
    if isinstance(bare, sqlite3.Connection):
        return lambda sql: _tolerantly(bare, sql)
    return lambda sql: connection.execute(text(sql))


def _tolerantly(bare: sqlite3.Connection, sql: str) -> Lines:
    usual = bare.text_factory
    bare.text_factory = sqlite.readable
    try:
        return bare.execute(sql).fetchall()
    finally:
        bare.text_factory = usual


def seal_all(
    connection: Connection, chain: Sequence[str], sealed: Mapping[str, Sequence[str]], keys: Mapping[str, str]
) -> None:
    """Gives every line its sum, by the columns given: a migration calls it with those of its time."""
    for table, names in sealed.items():
        seal_lines(connection, table, names, keys.get(table, "id").split())
    ask = asked(connection)
    before: dict[Any, str] = {}
    sums = []
    for number, *told in ask(f"SELECT id, {quoted(chain)} FROM entry ORDER BY id"):
        before[told[0]] = chained(before.get(told[0], ""), told)
        sums.append({"number": number, "seal": before[told[0]]})
    _put(connection, "UPDATE entry SET seal = :seal WHERE id = :number", sums)


def seal_lines(
    connection: Connection, table: str, names: Sequence[str], by: Sequence[str], only: str = "1 = 1"
) -> None:
    """Gives lines of one table their sums by the columns given; `by` are those of its key."""
    rows = list(asked(connection)(f"SELECT {quoted([*by, *names])} FROM {table} WHERE {only}"))
    where = " AND ".join(f'"{name}" = :k{n}' for n, name in enumerate(by))
    _put(connection, f"UPDATE {table} SET seal = :seal WHERE {where}", (
        {f"k{n}": row[n] for n in range(len(by))} | {"seal": sum_of(table, row[len(by):])} for row in rows
    ))  # fmt: skip


def _put(connection: Connection, sql: str, rows: Iterable[Mapping[str, Any]]) -> None:
    all_of_them = [dict(row) for row in rows]
    if all_of_them:
        connection.execute(text(sql), all_of_them)
