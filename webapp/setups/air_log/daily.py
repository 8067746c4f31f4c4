"""The air around an instrument: daily means from a logger, filled in with what was noted beside readings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import numpy as np

from webapp.physics import drift
from webapp.setups.journal import Entry, Journal

# Temperature (Celsius) and relative humidity (percent) of a day, as means.
DailyAir = Mapping[date, tuple[float, float]]

# Indoors the temperature hardly matters to wood: where it was not noted, an ordinary room.
ROOM_C = 20.0


@dataclass(frozen=True)
class Conditions:
    """One day's air: temperature in Celsius, relative humidity in percent, and whether a logger told it."""

    day: date
    temperature_c: float
    humidity_percent: float
    logged: bool


def day_number(at: datetime) -> float:
    """A moment as days since year 1, UTC: the days of physics."""
    at = at.astimezone(UTC)
    return at.toordinal() + (at - datetime.combine(at.date(), time(), UTC)) / timedelta(days=1)


def noon(day: date) -> datetime:
    """Where a day's mean stands in time."""
    return datetime.combine(day, time(12), UTC)


def conditions(journals: Iterable[Journal], daily: DailyAir) -> tuple[Conditions, ...]:
    """Every day whose air is known, oldest first. A logger's day counts before a note of the same day."""
    found = {day: Conditions(day, t, h, True) for day, (t, h) in daily.items() if _possible(t, h)}
    noted: dict[date, list[tuple[float, float]]] = {}
    for journal in journals:
        for entry in journal.live:
            air = noted_air(entry)
            if air is not None:
                noted.setdefault(journal.stands_for(entry).at.astimezone(UTC).date(), []).append(air)
    for day, airs in noted.items():
        if day not in found:
            temperature, humidity = (sum(values) / len(airs) for values in zip(*airs, strict=True))
            found[day] = Conditions(day, temperature, humidity, False)
    return tuple(found[day] for day in sorted(found))


def noted_air(entry: Entry) -> tuple[float, float] | None:
    """Temperature and humidity kept with an entry; None without a humidity, or with an impossible one."""
    humidity, temperature = entry.detail.get("humidity_percent"), entry.detail.get("temperature_c", ROOM_C)
    if not isinstance(humidity, (int, float)) or not isinstance(temperature, (int, float)):
        return None
    return (float(temperature), float(humidity)) if _possible(temperature, humidity) else None


def _possible(temperature_c: float, humidity_percent: float) -> bool:
    return -10 <= temperature_c <= 60 and 0 < humidity_percent <= 100


def air_of(days: Iterable[Conditions]) -> drift.Air:
    """The moisture that wood would settle at, day by day."""
    days = tuple(days)
    numbers = np.array([day_number(noon(one.day)) for one in days], dtype=np.float64)
    temperatures, humidities = [one.temperature_c for one in days], [one.humidity_percent for one in days]
    return drift.Air(numbers, drift.air_moisture(temperatures, humidities))
