"""CSV as a spreadsheet reads it, and so that nothing in it can be taken for a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime

Cell = str | float | int | date | datetime | None
TYPE = "text/csv; charset=utf-8"
# With a plus in front, a number is a name for somebody: it comes out as it was typed.
_NUMBER = re.compile(r"-?\d+(?:[.,]\d+)?")
# Blanks of every sort may stand before a formula, also unseen ones; some programs know the wide signs.
_RISKY = re.compile(
    r"[\t\r\n]|[\s\x00-\x1f\u00ad\u200b-\u200f\u2060-\u2064\ufeff]*[-=+@\uff1d\uff0b\uff0d\uff20\u2212]"
)


def csv_text(heading: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """RFC 4180, with the mark in front by which spreadsheets know UTF-8."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(heading)
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return "\N{ZERO WIDTH NO-BREAK SPACE}" + out.getvalue()


def _cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    if isinstance(cell, float):
        # Nine digits are finer than any tool, and spare the dust of floats.
        return f"{cell:.9g}"
    return _harmless(cell) if isinstance(cell, str) else str(cell)


def _harmless(text: str) -> str:
    """An apostrophe in front keeps a spreadsheet from working out what somebody typed; numbers may stay."""
    if _RISKY.match(text) and not _NUMBER.fullmatch(text):
        return f"'{text}"
    return text
