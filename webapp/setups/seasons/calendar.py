"""Due dates as an iCalendar file (RFC 5545): all-day events, nobody invited, nothing sent."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime

FOLD_OCTETS = 75
PRODUCT = "-//Benchside//When to look again//EN"


@dataclass(frozen=True)
class DayEvent:
    """Something on one day. `uid` is the same each time it is told, so that a calendar updates it."""

    uid: str
    day: date
    summary: str
    description: str
    url: str


def calendar_text(name: str, events: Iterable[DayEvent], stamp: datetime) -> str:
    """The whole file; `stamp` is when it was made, with zone."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:{PRODUCT}",
        "CALSCALE:GREGORIAN",
        f"X-WR-CALNAME:{escaped(name)}",
        *(line for event in events for line in _event(event, stamp)),
        "END:VCALENDAR",
    ]
    return "".join(f"{folded(line)}\r\n" for line in lines)


def _event(event: DayEvent, stamp: datetime) -> list[str]:
    return [
        "BEGIN:VEVENT",
        f"UID:{escaped(event.uid)}",
        f"DTSTAMP:{stamp.astimezone(UTC):%Y%m%dT%H%M%SZ}",
        f"DTSTART;VALUE=DATE:{event.day:%Y%m%d}",
        f"SUMMARY:{escaped(event.summary)}",
        f"DESCRIPTION:{escaped(event.description)}",
        f"URL:{event.url}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def escaped(text: str) -> str:
    """A TEXT value (section 3.3.11): no control characters, and its own signs behind a backslash."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    text = "".join(c for c in text if c == "\n" or (c >= " " and c != "\x7f"))
    for sign, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(sign, written)
    return text


def folded(line: str) -> str:
    """A content line in pieces of at most 75 octets (section 3.1), never within a character."""
    pieces, size = [""], 0
    for character in line:
        octets = len(character.encode())
        if size + octets > FOLD_OCTETS:
            pieces.append("")
            size = 1  # the blank that says it goes on
        pieces[-1] += character
        size += octets
    return "\r\n ".join(pieces)
