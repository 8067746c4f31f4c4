"""The calendar file as an independent reader of iCalendar understands it."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from icalendar import Calendar

from webapp.setups.seasons.due import DayEvent, calendar_text

STAMP = datetime(2025, 3, 1, 9, 30, tzinfo=UTC)
LONG = "Relief is probably too high by now; about 0.42 mm, give or take 0.08 mm: the air has changed. " * 4


@pytest.mark.library("icalendar")
@pytest.mark.parametrize(
    "words", ["A plain one", "Commas, semicolons; back\\slashes\nand lines", "Größe ✓ " * 20, LONG]
)
def test_a_reader_finds_every_event_as_it_was_meant(words: str) -> None:
    events = [
        DayEvent(f"{n}.review@benchside", date(2025, 5, n + 1), words, f"{words} {n}", f"http://x.test/{n}")
        for n in range(3)
    ]
    read = Calendar.from_ical(calendar_text("Look again", events, STAMP))
    assert read["VERSION"] == "2.0" and not read.errors
    found = list(read.walk("VEVENT"))
    assert len(found) == 3
    for event, told in zip(found, events, strict=True):
        assert not event.errors
        assert str(event["UID"]) == told.uid
        assert event.decoded("DTSTART") == told.day and event.decoded("DTSTAMP") == STAMP
        assert str(event["SUMMARY"]) == told.summary and str(event["DESCRIPTION"]) == told.description
        assert str(event["URL"]) == told.url
