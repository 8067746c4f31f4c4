"""How a setup is gone about: how far to turn, what makes a reading doubtful, how long it counts."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated, Self

from pydantic import Field, model_validator

from webapp.trade.base import TradeModel

Eighths = Annotated[int, Field(ge=1, le=40)]
SmallMm = Annotated[float, Field(gt=0, le=3)]
Cents = Annotated[float, Field(gt=0, le=50)]
Days = Annotated[float, Field(gt=0, le=365)]


class TurnPractice(TradeModel):
    """Most eighths before the next reading, what is worth turning for, and how surely a hand meets a turn."""

    height_eighths: Eighths
    pickup_eighths: Eighths
    intonation_eighths: Eighths
    rod_in_all_eighths: Annotated[int, Field(ge=2, le=8)]
    raise_for_buzz_mm: SmallMm
    least_saddle_mm: SmallMm
    felt_share: Annotated[float, Field(gt=0, le=1)]


class DoubtPractice(TradeModel):
    """How far readings may disagree, and what one is worth that states no error."""

    inner_height_mm: SmallMm
    high_fret_cents: Cents
    left_over_cents: Cents
    unstated_mm: SmallMm
    unstated_cents: Cents

    @model_validator(mode="after")
    def _left_over_is_the_finer(self) -> Self:
        if self.left_over_cents > self.high_fret_cents:
            raise ValueError("left_over_cents must not be above high_fret_cents: it is the finer of the two")
        return self


class TimePractice(TradeModel):
    """For how long turns and readings belong together."""

    rod_pass_days: Days
    strings_days: Days
    step_days: Days

    @property
    def rod_pass(self) -> timedelta:
        return timedelta(days=self.rod_pass_days)

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
