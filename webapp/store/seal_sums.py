"""The sums themselves, over plain values: the same on both databases, and for a file that is read bare."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime
from hashlib import blake2b
from typing import Any

BYTES = 8
ENTRY = "entry"
# A sum speaks of these columns, in this order. Another order, or one more, is another sum: a migration that
# needs that seals the table anew.
CHAIN = (
    "setup_id", "form_id", "part", "at", "kind", "check", "slot", "value", "unit", "typed", "tool", "error",
    "detail", "voids",
)  # fmt: skip
SEALED: Mapping[str, tuple[str, ...]] = {
    "bench": ("id", "created_at", "unit", "is_demo", "tools"),
    "instrument": ("id", "bench_id", "created_at", "form_id", "archived_at"),
    "instrument_version": ("instrument_id", "number", "created_at", "spec"),
    "setup": (
        "id", "instrument_id", "form_id", "started_at", "finished_at", "finished_version", "lesson_id",
        "lesson_version",
    ),
    "lesson": ("id", "bench_id", "form_id", "created_at", "students", "link", "token_hash"),
    "lesson_version": ("lesson_id", "number", "created_at", "sheet"),
    "hand_in": ("id", "lesson_id", "setup_id", "name", "handed_at", "what"),
    "air_day": ("bench_id", "day", "source", "temperature_c", "humidity_percent", "rows"),
    "air_log_day": ("job_id", "day", "readings"),
}  # fmt: skip


def chained(before: str, told: Iterable[Any]) -> str:
    """The sum of an entry's values (`CHAIN`) and of the entry before it in its setup (empty: the first)."""
    return _sum((before, *told))


def sum_of(table: str, told: Iterable[Any]) -> str:
    """The sum of a line's values (`SEALED`)."""
    return _sum((table, *told))


def _sum(values: Iterable[Any]) -> str:
    # Most are text, and each page sums some of them up.
    words = "\x1f".join([value if type(value) is str else _word(value) for value in values])
    return blake2b(words.encode("utf-8", "surrogatepass"), digest_size=BYTES).hexdigest()


def _word(value: Any) -> str:
    if value is None:
        return "\x00"
    if isinstance(value, float):
        # One database keeps the sign of a nought, the other does not.
        return (value + 0.0).hex()
    if isinstance(value, datetime):
        utc = value if value.tzinfo is UTC else value.astimezone(UTC)
        return utc.isoformat(timespec="microseconds")
    if isinstance(value, str):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bytes | bytearray | memoryview):
        return bytes(value).hex()
    return str(int(value))
