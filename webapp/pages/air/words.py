"""The air in words, and where its pages are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from webapp.drawings.chart import MONTHS
from webapp.store.air_log.days import LOGGED, AirDay

IMPORT_PATH = "/air/import"


@dataclass(frozen=True)
class AirLine:
    """One day in words."""

    day: str
    temperature: str
    humidity: str
    source: str
    readings: str


def air_line(one: AirDay, imperial: bool) -> AirLine:
    """A day's mean, in Fahrenheit too for a player who likes inches."""
    temperature = f"{one.temperature_c:.1f} °C".replace("-", "−")
    if imperial:
        temperature += f" ({one.temperature_c * 9 / 5 + 32:.0f} °F)".replace("-", "−")
    readings = "1 reading" if one.rows == 1 else f"{one.rows:,} readings"
    humidity = f"{one.humidity_percent:.0f} %"
    if one.source == LOGGED:
        return AirLine(date_words(one.day), temperature, humidity, "logger", readings)
    return AirLine(date_words(one.day), temperature, humidity, "typed", "")


def date_words(day: date) -> str:
    """'3 Apr 2026'."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def job_path(job_id: str) -> str:
    """One import's page."""
    return f"{IMPORT_PATH}/{job_id}"
