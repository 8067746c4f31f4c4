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


@dataclass(frozen=True)
class Broken:
    """A line that is not as it was recorded: its table, and its key (of an entry: its setup's)."""

    table: str
    key: str

    @property
    def sentence(self) -> str:
        what = "An entry of setup" if self.table == ENTRY else f"The line of {self.table}"
        return f"{what} {self.key} is not as it was recorded."


def broken(ask: Asked) -> Iterator[Broken]:
    """Everything that is not as it was recorded, each once."""
    for table, names in SEALED.items():
        for *told, seal in ask(f"SELECT {_quoted(names)}, seal FROM {table}"):
            if sum_of(table, told) != seal:
                yield Broken(
                    table, " ".join(str(one) for one in told[:2]) if table != "bench" else str(told[0])
                )
    found = dict.fromkeys(line[0] for line in _entries(ask) if not line[1])
    yield from (Broken(ENTRY, str(setup)) for setup in found)


def sound_lines(ask: Asked, setup_id: str) -> list[Mapping[str, Any]]:
    """The entries of one setup that are as they were recorded, oldest first."""
    return [told for setup, good, told in _entries(ask) if good and setup == setup_id]


def setups_of(ask: Asked, bench_id: str) -> dict[str, Any]:
    """The setups of one bench, the newest first, and when each was begun, as far as that can be read."""
    lines = ask(
        "SELECT setup.id, setup.started_at, instrument.bench_id FROM setup JOIN instrument "
        "ON instrument.id = setup.instrument_id ORDER BY setup.started_at DESC"
    )
    return {str(name): at for name, at, bench in lines if bench == bench_id}


def _entries(ask: Asked) -> Iterator[tuple[str, bool, Mapping[str, Any]]]:
    setup, before = None, ""
    question = f"SELECT {_quoted(CHAIN)}, seal FROM entry ORDER BY setup_id, id"
    for *told, seal in ask(question):
        before = before if told[0] == setup else ""
        setup = told[0]
        yield setup, chained(before, told) == seal, dict(zip(CHAIN, told, strict=True))
        before = str(seal)


def _quoted(names: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def fault_of(path: Path) -> str:
    """The first line of a file that is not as it was recorded, as a sentence; empty where there is none, or
    where the file is of a time before there were sums."""
    try:
        with sqlite.raw(path) as connection:
            if not has_seals(connection):
                return ""
            return next((one.sentence for one in broken(lambda sql: connection.execute(sql))), "")
    except (sqlite3.Error, OverflowError, ValueError, TypeError) as problem:
        return f"It cannot be read whole ({' '.join(str(problem).split())})."


def has_seals(connection: sqlite3.Connection) -> bool:
    return any(row[1] == "seal" for row in connection.execute("PRAGMA table_info(entry)"))


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
    ask = asked(connection)
    for table, names in sealed.items():
        by = keys.get(table, "id").split()
        rows = list(ask(f"SELECT {_quoted([*by, *names])} FROM {table}"))
        where = " AND ".join(f'"{name}" = :k{n}' for n, name in enumerate(by))
        _put(connection, f"UPDATE {table} SET seal = :seal WHERE {where}", (
            {f"k{n}": row[n] for n in range(len(by))} | {"seal": sum_of(table, row[len(by):])} for row in rows
        ))  # fmt: skip
    before: dict[Any, str] = {}
    sums = []
    for number, *told in ask(f"SELECT id, {_quoted(chain)} FROM entry ORDER BY id"):
        before[told[0]] = chained(before.get(told[0], ""), told)
        sums.append({"number": number, "seal": before[told[0]]})
    _put(connection, "UPDATE entry SET seal = :seal WHERE id = :number", sums)


def _put(connection: Connection, sql: str, rows: Iterable[Mapping[str, Any]]) -> None:
    all_of_them = [dict(row) for row in rows]
    if all_of_them:
        connection.execute(text(sql), all_of_them)
