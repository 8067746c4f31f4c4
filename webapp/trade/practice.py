"""How a setup is gone about: turning, doubting, plucking, pressing, and when to look again."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated, Self

from pydantic import Field, model_validator

from webapp.trade.words import Family, TradeModel

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


Share = Annotated[float, Field(gt=0, le=1)]


class Stretch(TradeModel):
    """stretch.toml: how far a finger presses, and the families whose strings stretch as steel does."""

    press_mm: Annotated[float, Field(ge=0, le=3)]
    spread_share: Share
    families: frozenset[Family]


class Swing(TradeModel):
    """swing.toml: pluck distance from the saddle per family, an own target's margins in mm, what is close."""

    margin_mm: Annotated[float, Field(ge=0, le=2)]
    width_mm: Annotated[float, Field(gt=0, le=3)]
    relief_width_mm: Annotated[float, Field(gt=0, le=1)]
    close_times: Annotated[float, Field(gt=1, le=3)]
    pluck_mm: dict[Family, Annotated[float, Field(ge=20, le=300)]]

    @model_validator(mode="after")
    def _every_family(self) -> Self:
        missing = [family.value for family in Family if family not in self.pluck_mm]
        if missing:
            raise ValueError(f"no pluck distance for the family {', '.join(missing)}")
        return self


LongDays = Annotated[float, Field(gt=0, le=3650)]


class DueSheet(TradeModel):
    """Days between setups, days a set of strings lasts, and how far the wood's moisture may move."""

    review_days: LongDays
    string_days: dict[Family, LongDays]
    age_days: dict[str, Annotated[float, Field(ge=0, le=3650)]]
    moisture_percent: Annotated[float, Field(gt=0, le=20)]
    look_again_days: LongDays

    @model_validator(mode="after")
    def _every_family(self) -> Self:
        missing = [family.value for family in Family if family not in self.string_days]
        if missing:
            raise ValueError(f"no days of strings for the family {', '.join(missing)}")
        return self
