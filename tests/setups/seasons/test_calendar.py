"""The calendar file against the rules of RFC 5545, read by a small parser of our own."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta, timezone

from hypothesis import given
from hypothesis import strategies as st

from webapp.setups.seasons.calendar import DayEvent, calendar_text, escaped, folded

STAMP = datetime(2025, 3, 1, 10, 30, tzinfo=timezone(timedelta(hours=1)))
NAME = re.compile(r"[A-Z-]+")


def unfolded(text: str) -> list[str]:
    """Section 3.1: lines end with CRLF, none is over 75 octets, a blank in front goes on the line before."""
    assert text.endswith("\r\n")
    lines: list[str] = []
    for line in text.removesuffix("\r\n").split("\r\n"):
        assert "\n" not in line and "\r" not in line
        assert len(line.encode()) <= 75
        if line.startswith(" "):
            lines[-1] += line[1:]
        else:
            lines.append(line)
    return lines


def plain(value: str) -> str:
    """Section 3.3.11, undone."""
    assert not re.search(r"(?<!\\)(?:\\\\)*[;,]", value), value
    return re.sub(r"\\(.)", lambda m: "\n" if m[1] in "nN" else m[1], value)


def parts(line: str) -> tuple[str, str, str]:
    head, _, value = line.partition(":")
    name, _, parameters = head.partition(";")
    assert NAME.fullmatch(name)
    return name, parameters, value


def event(**changes: object) -> DayEvent:
    told = {
        "uid": "abc.review@benchside", "day": date(2025, 5, 30), "summary": "Bass: a setup",
        "description": "90 days, at least; read on", "url": "http://127.0.0.1:8765/instruments/abc",
    }  # fmt: skip
    return DayEvent(**(told | changes))  # type: ignore[arg-type]


def test_the_file_is_one_calendar_of_day_events() -> None:
    lines = [parts(line) for line in unfolded(calendar_text("Look, again", [event(), event(uid="x")], STAMP))]
    names = [name for name, _, _ in lines]
    assert lines[0] == ("BEGIN", "", "VCALENDAR") and lines[-1] == ("END", "", "VCALENDAR")
    assert names.count("VERSION") == names.count("PRODID") == 1
    assert ("X-WR-CALNAME", "", "Look\\, again") in lines
    first = lines[lines.index(("BEGIN", "", "VEVENT")) : lines.index(("END", "", "VEVENT")) + 1]
    assert [name for name, _, _ in first] == [
        "BEGIN", "UID", "DTSTAMP", "DTSTART", "SUMMARY", "DESCRIPTION", "URL", "TRANSP", "END",
    ]  # fmt: skip
    assert ("DTSTAMP", "", "20250301T093000Z") in first
    assert ("DTSTART", "VALUE=DATE", "20250530") in first
    assert ("DESCRIPTION", "", "90 days\\, at least\\; read on") in first
    assert "ATTENDEE" not in names and "METHOD" not in names and "VALARM" not in names


def test_an_empty_calendar_is_still_one() -> None:
    assert unfolded(calendar_text("x", [], STAMP))[-1] == "END:VCALENDAR"


@given(st.text(max_size=300))
def test_any_text_comes_back(text: str) -> None:
    described = calendar_text("x", [event(description=text, summary=text)], STAMP)
    values = {name: value for name, _, value in map(parts, unfolded(described))}
    kept = re.sub(r"\r\n?", "\n", text).replace("\t", " ")
    kept = "".join(c for c in kept if c == "\n" or (c >= " " and c != "\x7f"))
    assert plain(values["DESCRIPTION"]) == plain(values["SUMMARY"]) == kept


@given(st.text(st.characters(min_codepoint=32, blacklist_categories=["Cs"]), max_size=400))
def test_folding_never_splits_a_character(line: str) -> None:
    for piece in folded(line).split("\r\n"):
        assert len(piece.encode("utf-8")) <= 75


def test_a_long_line_is_folded_at_exactly_the_limit() -> None:
    assert folded("x" * 75) == "x" * 75
    assert folded("x" * 76) == "x" * 75 + "\r\n x"
    assert escaped("a\\b;c,d\ne") == "a\\\\b\\;c\\,d\\ne"
