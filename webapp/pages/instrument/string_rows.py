"""The rows of strings on the form: how many there are, and giving or taking some."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from webapp.pages.instrument.description_fields import BASSES, STRINGS_AT_MOST
from webapp.physics.numbers import MM_PER_UNIT, LengthError, Unit, parse_length, write_number
from webapp.physics.strings import note_number
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Family

FIELDS = ("note", "gauge", "wound")
FOURTH = 5  # semitones
# Sets step about this much from one string to the next: common practice, only a start to type over.
THICKER, THINNER = 1.25, 0.75
LOWEST_NOTE = 12  # C0, the lowest note that can be typed
SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
FLATS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


@dataclass(frozen=True)
class StringRow:
    """One string as typed, and the second one of its course: empty where it has none."""

    note: str
    gauge: str
    wound: str
    second: tuple[str, str, str] = ("", "", "")


def second(number: int) -> str:
    """The place of the second string of a course: '3b'."""
    return f"{number}b"


def places_of(spec: InstrumentSpec) -> tuple[str, ...]:
    """Every string's place as forms name it, bass side first: '6', '6b', '5', ..."""
    found: list[str] = []
    for number in range(spec.string_count, 0, -1):
        found += [str(number), second(number)] if spec.string(number).partner else [str(number)]
    return tuple(found)


def row_count(data: Mapping[str, str]) -> int:
    """How many rows the form was sent with."""
    return next((n for n in range(STRINGS_AT_MOST) if f"note_{n + 1}" not in data), STRINGS_AT_MOST)


def resized(data: Mapping[str, str], count: int, family: Family) -> dict[str, str]:
    """The form's texts with another number of strings; every other text stays as it was typed."""
    unit = _unit(data)
    rows = _rows(data)
    while rows and len(rows) < count:
        if family in BASSES and len(rows) == 5:
            rows.append(_beside(rows[-1], FOURTH, THINNER, unit))  # a six-string bass gains its high string
        else:
            rows.insert(0, _beside(rows[0], -FOURTH, THICKER, unit))
    while len(rows) > count:
        rows.pop(-1 if family in BASSES and len(rows) == 6 else 0)
    kept = {name: text for name, text in data.items() if not _is_row(name)}
    return {**kept, **_texts(rows), "string_count": str(count)}


def _unit(data: Mapping[str, str]) -> Unit:
    try:
        return Unit(data.get("gauge_unit", Unit.inch.value))
    except ValueError:
        return Unit.inch


def _rows(data: Mapping[str, str]) -> list[StringRow]:
    """The rows, bass side first."""
    numbers = range(row_count(data), 0, -1)
    return [StringRow(*_row(data, str(n)), _row(data, second(n))) for n in numbers]


def _row(data: Mapping[str, str], place: str) -> tuple[str, str, str]:
    note, gauge, wound = (data.get(f"{start}_{place}", "") for start in FIELDS)
    return note, gauge, wound


def _texts(rows: list[StringRow]) -> dict[str, str]:
    texts: dict[str, str] = {}
    for index, row in enumerate(rows):
        number = len(rows) - index
        for place, typed in ((str(number), (row.note, row.gauge, row.wound)), (second(number), row.second)):
            texts |= {f"{start}_{place}": text for start, text in zip(FIELDS, typed, strict=True)}
    return texts


def _is_row(name: str) -> bool:
    start, _, place = name.removesuffix("_take").partition("_")
    return start in FIELDS and place.removesuffix("b").isdecimal()


def _beside(row: StringRow, semitones: int, times: float, unit: Unit) -> StringRow:
    return StringRow(_note(row.note, semitones), _gauge(row.gauge, times, unit), row.wound)


def _note(neighbour: str, semitones: int) -> str:
    """The note so far from a neighbour's; the neighbour's own text where that is none, or out of reach."""
    try:
        number = note_number(tidy_note(neighbour)) + semitones
    except ValueError:
        return neighbour
    if number < LOWEST_NOTE:
        return neighbour
    names = FLATS if "b" in neighbour[1:] else SHARPS
    return f"{names[number % 12]}{number // 12 - 1}"


def _gauge(neighbour: str, times: float, unit: Unit) -> str:
    try:
        mm = parse_length(neighbour, unit, 0.01, 10).mm * times
    except LengthError:
        return ""
    places = {Unit.inch: 3, Unit.mm: 2, Unit.thou: 0, Unit.sixty_fourths: 1}[unit]
    return write_number(mm / MM_PER_UNIT[unit], places)


def tidy_note(text: str) -> str:
    """A note as it is kept: e1 is E1, B♭0 is Bb0."""
    plain = "".join(text.split()).replace("♯", "#").replace("♭", "b")
    return plain[:1].upper() + plain[1:].lower()
