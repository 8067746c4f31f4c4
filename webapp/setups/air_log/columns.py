"""A first look at a logger's file: how its columns are divided, what they are called, which is which."""

from __future__ import annotations

import codecs
import csv
import io
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from webapp.setups.air_log.dates import is_clock, is_date

LONGEST_LINE = 4000
_SPREADSHEET = "This is a spreadsheet or a packed file, not a CSV. Open it, save it as CSV, and choose that."
_OTHER_FILES = {
    b"PK\x03\x04": _SPREADSHEET,
    b"\xd0\xcf\x11\xe0": _SPREADSHEET,
    b"\x1f\x8b": "This is a packed file. Unpack it, and choose the CSV that was in it.",
    b"%PDF": "This is a PDF, not a CSV. Export the readings from the logger as CSV.",
}
EMPTY = "This file is empty. Export the readings from the logger again."
NO_TEXT = "This is not a text file, so it holds no readings. Export the readings from the logger as CSV."
UNKNOWN = "The letters of this file cannot be read. Save it as CSV in UTF-8, and choose that."
# A text has next to none of these; a few may be a logger's stray bytes.
MOST_CONTROL = 0.01
_BLANKS = "\t\r\n\f\x1a"


class BadFile(Exception):
    """The file as a whole cannot be used; `sentence` is for the player."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def encoding_of(head: bytes) -> str:
    """The name of the encoding, judged by the first bytes of the file; raises BadFile where it is no text."""
    if not head.strip(b"\x00 \t\r\n\x1a"):
        raise BadFile(NO_TEXT if b"\x00" in head else EMPTY)
    for magic, sentence in _OTHER_FILES.items():
        if head.startswith(magic):
            raise BadFile(sentence)
    if head.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        raise BadFile(UNKNOWN)
    encoding = _likely(head)
    text = codecs.getincrementaldecoder(encoding)("replace").decode(head)
    strange = sum(unicodedata.category(sign) in ("Cc", "Cn", "Co") for sign in text if sign not in _BLANKS)
    if strange > MOST_CONTROL * len(text):
        raise BadFile(NO_TEXT if b"\x00" in head else UNKNOWN)
    return encoding


def _likely(head: bytes) -> str:
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    # Plain letters and digits in UTF-16 leave every second byte zero, even without a mark at the start.
    zeros = [head[parity::2].count(0) / max(1, len(head[parity::2])) for parity in (0, 1)]
    if max(zeros) > 0.4 and min(zeros) < 0.02:
        return "utf-16-be" if zeros[0] > zeros[1] else "utf-16-le"
    try:
        # Not final: the last letter may be cut in two.
        codecs.getincrementaldecoder("utf-8")("strict").decode(head)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def lines_of(chunks: Iterable[bytes], encoding: str) -> Iterator[str]:
    """The lines, without their ends. Of a line without an end only so much is kept as memory can bear."""
    letters = codecs.getincrementaldecoder(encoding)("replace")
    decoder = io.IncrementalNewlineDecoder(letters, translate=True)
    rest = ""
    for chunk in chunks:
        *whole, rest = (rest + decoder.decode(chunk)).split("\n")
        yield from whole
        rest = rest[:LONGEST_LINE]
    rest += decoder.decode(b"", final=True)
    if rest:
        yield rest


HEAD_BYTES = 65_536
SAMPLE = 3000
PREVIEW = 5
# In the order in which they are believed where they do equally well: a comma may be a decimal comma.
DELIMITERS = {"tab": "\t", "semicolon": ";", "bar": "|", "comma": ","}
NO_READINGS = (
    "No readings were found in this file. Below its heading, each line should hold a time, a temperature "
    "and a humidity."
)
_FIGURE = re.compile(r"[-+\u2212]?\d*[.,]?\d+\s*(?:[°º]?\s*[CcFf%]?)(?:\s*[rR][hHfF])?", re.ASCII)
_TIME = re.compile(r"time|date|zeit|datum|fecha|hora|heure|data\b|tijd|stamp|moment", re.IGNORECASE)
_TEMPERATURE = re.compile(r"temp|[°º]\s?[cf]|celsius|fahrenheit|\bt\b", re.IGNORECASE)
_HUMIDITY = re.compile(r"hum|feucht|%|\br\.?[hf]\b|umid|vocht|\bh\b", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"[°º]\s?F|\(F\)|\[F\]|_F\b|\bF\b|fahrenheit")
_OTHER = re.compile(r"dew|tau|heat index|pressure", re.IGNORECASE)


@dataclass(frozen=True)
class Sheet:
    """What a first look shows. `skip` lines come before the first reading, the heading with them."""

    encoding: str
    delimiter: str
    skip: int
    columns: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]

    @cached_property
    def guess(self) -> Guess:
        return _guess(self)

    def cells(self, column: int) -> list[str]:
        """The first cells of a column that hold anything."""
        return [row[column] for row in self.sample if column < len(row) and row[column]]


@dataclass(frozen=True)
class Guess:
    """Which column is which, as far as names and cells tell; None where they do not."""

    time: int | None
    clock: int | None
    temperature: int | None
    humidity: int | None
    fahrenheit: bool


def look(head: bytes, *, complete: bool, delimiter: str | None = None) -> Sheet:
    """Judge a file by its first bytes; raises BadFile. `complete`: they are the whole file."""
    encoding = encoding_of(head)
    lines = list(lines_of([head], encoding))
    if not complete and len(lines) > 1:
        lines.pop()  # it may be cut
    lines = lines[: SAMPLE + 50]
    if lines and re.fullmatch(r"sep=[\t;|,]", lines[0].strip(" \r")) and delimiter is None:
        delimiter = lines[0].strip(" \r")[-1]
    if delimiter is None:
        delimiter = max(DELIMITERS.values(), key=lambda one: _sense(lines, one))
    cells = [split(line, delimiter) for line in lines]
    first = next((n for n, row in enumerate(cells) if _facts(row) >= 2), None)
    if first is None:
        raise BadFile(NO_READINGS)
    if len(cells[first]) < 3:
        raise BadFile(
            f"A column is missing: this file has only {len(cells[first])}. "
            "Three are needed: time, temperature and humidity."
        )
    names, skip = _heading(cells[:first], len(cells[first]))
    sample = tuple(tuple(row) for row in cells[first:] if any(row))[:SAMPLE]
    return Sheet(encoding, delimiter, skip if names else first, _named(names, len(cells[first])), sample)


def split(line: str, delimiter: str) -> list[str]:
    """The cells of one line, without the blanks around them. A quote never reaches into the next line."""
    if '"' in line:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))]
    return [cell.strip() for cell in line.split(delimiter)]


def _is_fact(cell: str) -> bool:
    return bool(_FIGURE.fullmatch(cell)) or is_date(cell) or is_clock(cell)


def _facts(row: Sequence[str]) -> int:
    return sum(_is_fact(cell) for cell in row)


def _sense(lines: Sequence[str], delimiter: str) -> int:
    """How well a sign divides the lines: cells that are numbers or times count for it, others against."""
    total = 0
    for line in lines[:60]:
        row = [cell for cell in split(line, delimiter) if cell]
        facts = _facts(row)
        if len(row) > 1 and facts:
            total += 2 * facts - len(row) + (1 if facts >= 3 else 0)
    return total


def _heading(above: Sequence[Sequence[str]], count: int) -> tuple[list[str], int]:
    """The names of the columns and the lines down to them. A line of units may stand below the names."""
    for number in range(len(above), 0, -1):
        row = above[number - 1]
        if not any(row):
            continue
        if sum(map(bool, row)) < 2 or _facts(row):
            return [], 0
        names = list(row)
        over = above[number - 2] if number > 1 else []
        if len(over) == len(row) == count and sum(map(bool, over)) >= 2 and not _facts(over):
            names = [f"{name} {unit}".strip() for name, unit in zip(over, row, strict=True)]
        return names, len(above)
    return [], 0


def _named(names: Sequence[str], count: int) -> tuple[str, ...]:
    given = [*names, *[""] * count][: max(count, len(names))]
    return tuple(name[:60] or f"Column {number}" for number, name in enumerate(given, 1))


def _guess(sheet: Sheet) -> Guess:
    columns = range(len(sheet.columns))
    dates = [n for n in columns if _mostly(sheet, n, is_date)]
    clocks = [n for n in columns if n not in dates and _mostly(sheet, n, is_clock)]
    figures = [n for n in columns if _mostly(sheet, n, lambda cell: bool(_FIGURE.fullmatch(cell)))]
    # A logger that had stopped may write words for pages: then the names have to do.
    rarely = [n for n in columns if any(map(is_date, sheet.cells(n)[:200]))]
    by_name = [n for n in columns if _TIME.search(sheet.columns[n]) and n not in clocks]
    time = _best(sheet, dates or rarely or by_name, _TIME, None)
    apart = time is not None and clocks and not any(map(_has_clock, sheet.cells(time)[:20]))
    temperature = _best(sheet, [n for n in figures if n != time], _TEMPERATURE, _HUMIDITY)
    humidity = _best(sheet, [n for n in figures if n not in (time, temperature)], _HUMIDITY, _TEMPERATURE)
    clock = clocks[0] if apart else None
    return Guess(time, clock, temperature, humidity, _is_fahrenheit(sheet, temperature))


def _has_clock(cell: str) -> bool:
    """Whether a date's cell holds the time of day too."""
    return ":" in cell or cell.isdigit()


def _mostly(sheet: Sheet, column: int, judge: Callable[[str], bool]) -> bool:
    cells = sheet.cells(column)[:40]
    return bool(cells) and sum(map(judge, cells)) > len(cells) / 2


def _best(
    sheet: Sheet, among: Sequence[int], name: re.Pattern[str], not_name: re.Pattern[str] | None
) -> int | None:
    """The column whose name says so; else one without a name. Only a time need not be named."""
    named = [n for n in among if name.search(sheet.columns[n]) and not _OTHER.search(sheet.columns[n])]
    surely = [n for n in named if not_name is None or not not_name.search(sheet.columns[n])]
    if surely or named:
        return (surely or named)[0]
    unnamed = [n for n in among if sheet.columns[n] == f"Column {n + 1}"]
    return unnamed[0] if unnamed else among[0] if not_name is None and among else None


def _is_fahrenheit(sheet: Sheet, column: int | None) -> bool:
    """By the name, else by the cells: no room is at 45 degrees Celsius."""
    if column is None:
        return False
    if re.search(r"[°º]\s?C|\(C\)|\[C\]|celsius", sheet.columns[column]):
        return False
    cells = sheet.cells(column)
    if _FAHRENHEIT.search(sheet.columns[column]) or any(re.search(r"F\s*$", cell) for cell in cells[:5]):
        return True
    values = sorted(float(m[0].replace(",", ".")) for cell in cells if (m := re.match(r"\d+[.,]?\d*", cell)))
    return bool(values) and values[len(values) // 2] > 45
