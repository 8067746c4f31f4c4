"""Days and times as the page says them, in the zone of the computer that runs the bench."""

from __future__ import annotations

from datetime import datetime

from webapp.drawings.chart import MONTHS

LONG_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def day(at: datetime) -> str:
    """'3 April 2026'."""
    here = at.astimezone()
    return f"{here.day} {LONG_MONTHS[here.month - 1]} {here.year}"


def short_day(at: datetime) -> str:
    """'3 Apr 2026', for tables."""
    here = at.astimezone()
    return f"{here.day} {MONTHS[here.month - 1]} {here.year}"


def clock(at: datetime) -> str:
    """'14:05'."""
    return at.astimezone().strftime("%H:%M")
