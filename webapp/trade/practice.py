"""How a setup is gone about: what a buzz is raised by, what is left over, how long a reading counts."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

from pydantic import Field

from webapp.trade.base import TradeModel

SmallMm = Annotated[float, Field(gt=0, le=3)]
Cents = Annotated[float, Field(gt=0, le=50)]
Days = Annotated[float, Field(gt=0, le=365)]


class TurnPractice(TradeModel):
    """How far a string comes up at fret 12 when it buzzes."""

    raise_for_buzz_mm: SmallMm


class DoubtPractice(TradeModel):
    """How much saddle and nut may leave unexplained before a reading, a string or a fret is doubted."""

    left_over_cents: Cents


class TimePractice(TradeModel):
    """For how long turns and readings belong together."""

    strings_days: Days
    step_days: Days

    @property
    def strings(self) -> timedelta:
        return timedelta(days=self.strings_days)

    @property
    def step(self) -> timedelta:
        return timedelta(days=self.step_days)


class DayScatter(TradeModel):
    """How much a day's reading differs from the next by itself, mm."""

    relief: SmallMm
    height: SmallMm


class RoomAir(TradeModel):
    """An air to look ahead to."""

    temperature_c: Annotated[float, Field(ge=-10, le=45)]
    humidity_percent: Annotated[float, Field(gt=0, lt=100)]


class SeasonPractice(TradeModel):
    """What it takes before anything is said of the seasons, and the airs to say it for."""

    least_readings: Annotated[int, Field(ge=4, le=100)]
    least_days: Annotated[int, Field(ge=7, le=400)]
    least_moisture_percent: Annotated[float, Field(gt=0, le=10)]
    day_scatter_mm: DayScatter
    ahead: Annotated[tuple[RoomAir, ...], Field(min_length=1, max_length=6)]


class Practice(TradeModel):
    """practice.toml."""

    turn: TurnPractice
    doubt: DoubtPractice
    time: TimePractice
    season: SeasonPractice
