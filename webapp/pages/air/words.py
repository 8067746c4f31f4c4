"""The air in words, and where its pages are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from webapp.drawings.chart import MONTHS
from webapp.physics.numbers import say_count, say_number
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
    temperature = f"{say_number(one.temperature_c, 1)} °C"
    if imperial:
        temperature += f" ({say_number(one.temperature_c * 9 / 5 + 32, 0)} °F)"
    readings = "1 reading" if one.rows == 1 else f"{say_count(one.rows)} readings"
    humidity = f"{say_number(one.humidity_percent, 0)} %"
    if one.source == LOGGED:
        return AirLine(date_words(one.day), temperature, humidity, "logger", readings)
    return AirLine(date_words(one.day), temperature, humidity, "typed", "")


def date_words(day: date) -> str:
    """'3 Apr 2026'."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def job_path(job_id: str) -> str:
    """One import's page."""
    return f"{IMPORT_PATH}/{job_id}"
