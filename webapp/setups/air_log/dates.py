"""The dates and times that loggers write."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, datetime, time, timedelta, timezone, tzinfo
from enum import StrEnum


class DateOrder(StrEnum):
    """Which comes first in 03/04/2026."""

    DAY = "day"
    MONTH = "month"


class DateTrouble(Exception):
    """One line of the file cannot be used; the text says why."""


_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_FIGURES = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})(?:(?:,\s*|T|\s+)(\S.*))?", re.ASCII)
_DAY_NAMED = re.compile(
    r"(\d{1,2})[ .-]+([a-z]{3,9})[ .,-]+(\d{4}|\d{2})(?:,?\s+(\d.*))?", re.ASCII | re.IGNORECASE
)
_MONTH_NAMED = re.compile(r"([a-z]{3,9})[ .]+(\d{1,2}),?\s+(\d{4})(?:,?\s+(\d.*))?", re.ASCII | re.IGNORECASE)
_CLOCK = re.compile(
    r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(?:[.,](\d{1,6})\d*)?)?\s*"
    r"(?:([AaPp])\.?\s?[Mm]\.?)?\s*(Z|UTC|GMT|[+-]\d{2}(?::?\d{2})?)?",
    re.ASCII,
)
_SECONDS_SINCE_1970 = {10: 1, 13: 1000}


def moment(text: str, order: DateOrder, zone: tzinfo | None) -> datetime:
    """The moment on the clock of `zone` (None: this computer's), without a zone; raises DateTrouble.

    A time written with its own zone is moved to `zone`; one written without is taken as it stands.
    """
    found = _parsed(text.strip(), order)
    if found.tzinfo is None:
        return found
    try:
        return found.astimezone(zone).replace(tzinfo=None)
    except (OverflowError, OSError, ValueError):
        raise DateTrouble(f"{shown(text)} is not a day of the calendar.") from None


def _parsed(text: str, order: DateOrder) -> datetime:
    if text.isdigit():
        return _digits(text)
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        pass
    year, month, day, clock = _date_parts(text, order)
    at = clock_time(clock) if clock else time()
    try:
        return datetime.combine(datetime(year, month, day), at)
    except ValueError:
        first = f" with the {order.value} first" if is_local(text) else ""
        raise DateTrouble(f"{shown(text)} is not a day of the calendar{first}.") from None


def _digits(text: str) -> datetime:
    """Seconds or milliseconds since 1970, which loggers count in UTC."""
    try:
        return datetime.fromtimestamp(int(text) / _SECONDS_SINCE_1970[len(text)], UTC)
    except (KeyError, ValueError):
        raise DateTrouble(_no_date(text)) from None


def _date_parts(text: str, order: DateOrder) -> tuple[int, int, int, str]:
    match = _FIGURES.fullmatch(text)
    if match:
        first, second, third = match[1], match[3], match[4]
        if len(first) == 4:
            return int(first), int(second), int(third), match[5] or ""
        day, month = (first, second) if order is DateOrder.DAY else (second, first)
        return _year(third, text), int(month), int(day), match[5] or ""
    match = _DAY_NAMED.fullmatch(text)
    if match:
        return _year(match[3], text), _month(match[2], text), int(match[1]), match[4] or ""
    match = _MONTH_NAMED.fullmatch(text)
    if match:
        return _year(match[3], text), _month(match[1], text), int(match[2]), match[4] or ""
    raise DateTrouble(_no_date(text))


def _year(text: str, whole: str) -> int:
    if len(text) not in (2, 4):
        raise DateTrouble(_no_date(whole))
    return int(text) + (2000 if len(text) == 2 else 0)


def _month(text: str, whole: str) -> int:
    try:
        return _MONTHS.index(text[:3].lower()) + 1
    except ValueError:
        raise DateTrouble(_no_date(whole)) from None


def clock_time(text: str) -> time:
    """A time of day, perhaps with its zone; raises DateTrouble."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        raise DateTrouble(f"{shown(text)} is not a time of day.")
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    if match[5]:
        hour = hour % 12 + (12 if match[5] in "Pp" else 0) if 1 <= hour <= 12 else 99
    try:
        return time(hour, minute, second, int((match[4] or "").ljust(6, "0")), _zone(match[6]))
    except ValueError:
        raise DateTrouble(f"{shown(text)} is not a time of day.") from None


def _zone(text: str | None) -> tzinfo | None:
    if text is None:
        return None
    if text[0] not in "+-":
        return UTC
    figures = text[1:].replace(":", "").ljust(4, "0")
    away = timedelta(hours=int(figures[:2]), minutes=int(figures[2:]))
    return timezone(-away if text[0] == "-" else away)


def is_date(text: str) -> bool:
    """Whether the text reads as a date, whatever its order."""
    for order in DateOrder:
        try:
            _parsed(text.strip(), order)
        except DateTrouble:
            continue
        return True
    return False


def is_clock(text: str) -> bool:
    """Whether the text is a time of day without a date."""
    try:
        clock_time(text)
    except DateTrouble:
        return False
    return ":" in text


def is_local(text: str) -> bool:
    """Whether the order of day and month matters: 03/04/2026."""
    match = _FIGURES.fullmatch(text.strip())
    return match is not None and len(match[1]) < 4


def orders(texts: Iterable[str]) -> tuple[DateOrder, ...]:
    """The orders in which more of these dates are days of the calendar than in the other; both if alike."""
    local = [match for match in (_FIGURES.fullmatch(text.strip()) for text in texts) if match]
    day_first = sum(int(match[1]) > 12 for match in local if len(match[1]) < 4)
    month_first = sum(int(match[3]) > 12 for match in local if len(match[1]) < 4)
    if day_first == month_first:
        return tuple(DateOrder)
    return (DateOrder.DAY,) if day_first > month_first else (DateOrder.MONTH,)


def shown(text: str) -> str:
    """What stands in the file, in quotes, for a sentence about it."""
    text = text.strip()
    return f"\u201c{text[:40]}{'…' if len(text) > 40 else ''}\u201d"


def _no_date(text: str) -> str:
    return f"{shown(text)} is not a date that can be read."
