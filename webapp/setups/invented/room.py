"""The invented room of the demo: the air of every day, from a seed."""

from __future__ import annotations

import math
from datetime import date, timedelta
from random import Random

from webapp.trade.demo import DemoRoom

# Today's weather keeps this much of yesterday's, and adds so many percent of its own.
_KEPT, _WEATHER_PERCENT, _WEATHER_C = 0.8, 2.6, 0.5


def room_air(room: DemoRoom, first: date, last: date) -> dict[date, tuple[float, float]]:
    """Daily means, temperature in Celsius and humidity in percent, from one day to another, both included.

    A yearly wave and weather on top of it; the same seed and the same first day give the same air.
    """
    rng = Random(room.seed)
    middle, swing = _wave(room.driest_percent, room.wettest_percent)
    mild, warmth = _wave(room.coolest_c, room.warmest_c)
    found, weather, day = {}, 0.0, first
    while day <= last:
        turn = math.cos(2 * math.pi * (day.timetuple().tm_yday - room.wettest_day) / 365.25)
        weather = _KEPT * weather + rng.gauss(0, _WEATHER_PERCENT)
        humidity = min(max(middle + swing * turn + weather, 12.0), 92.0)
        temperature = mild + warmth * turn + rng.gauss(0, _WEATHER_C)
        found[day] = round(temperature, 1), round(humidity, 1)
        day += timedelta(days=1)
    return found


def _wave(low: float, high: float) -> tuple[float, float]:
    return (low + high) / 2, (high - low) / 2
