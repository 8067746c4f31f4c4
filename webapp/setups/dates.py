"""Days and times as the page says them, in the zone of the computer that runs the bench."""

from __future__ import annotations

from datetime import date, datetime

LONG_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
# No other day of that name is as near.
NEAR_DAYS = 180
MONTHS = tuple(month[:3] for month in LONG_MONTHS)


def day(at: datetime) -> str:
    """'3 April 2026'."""
    here = at.astimezone()
    return f"{here.day} {LONG_MONTHS[here.month - 1]} {here.year}"


def day_near(at: datetime, now: datetime) -> str:
    """The same without its year, where that goes without saying: '3 April'."""
    whole = day(at)
    return whole.rpartition(" ")[0] if abs((at - now).days) < NEAR_DAYS else whole


def short_date(day: date) -> str:
    """'3 Apr 2026', for tables."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def short_day(at: datetime) -> str:
    """The day of a moment, likewise."""
    return short_date(at.astimezone())


def clock(at: datetime) -> str:
    """'14:05'."""
    return at.astimezone().strftime("%H:%M")
