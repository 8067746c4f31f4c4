"""The demo bench: invented instruments, the room they stand in, and their owner's habits."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import Field, model_validator

from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import TradeModel

DaysAgo = Annotated[float, Field(ge=0, le=3650)]
Humidity = Annotated[float, Field(ge=10, le=95)]
Celsius = Annotated[float, Field(ge=0, le=40)]


class DemoRoom(TradeModel):
    """The air of the room through the year: means of its driest and wettest time, and of its temperature."""

    seed: int
    driest_percent: Humidity
    wettest_percent: Humidity
    wettest_day: Annotated[int, Field(ge=1, le=366)]
    coolest_c: Celsius
    warmest_c: Celsius

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.driest_percent >= self.wettest_percent:
            raise ValueError("the driest time must be drier than the wettest")
        return self


class DemoNeck(TradeModel):
    """How an invented neck behaves. `relief_mm` is read the family's way when its story begins."""

    relief_mm: Annotated[float, Field(ge=-0.5, le=1.5)]
    mm_per_percent: Annotated[float, Field(ge=-0.2, le=0.2)]
    lag_days: Annotated[float, Field(gt=0, le=120)]
    mm_per_year: Annotated[float, Field(ge=-0.3, le=0.3)]
    rod_mm_per_eighth: Annotated[float, Field(gt=0, le=0.3)]


class DemoHabits(TradeModel):
    """What its owner does, and how long ago: the setups, a setup left in the middle, quick checks between.

    `height_mm` are the outer strings' heights, bass and treble side, when the story begins.
    """

    setup_days_ago: Annotated[tuple[DaysAgo, ...], Field(min_length=1)]
    left_off_days_ago: DaysAgo | None = None
    quick_every_days: Annotated[float, Field(ge=3, le=90)]
    height_mm: tuple[float, float]
    height_method: str

    @model_validator(mode="after")
    def _oldest_first(self) -> Self:
        left_off = () if self.left_off_days_ago is None else (self.left_off_days_ago,)
        days = [*self.setup_days_ago, *left_off]
        if any(later >= earlier for earlier, later in zip(days, days[1:], strict=False)):
            raise ValueError("the setups go from the oldest to the newest, the one left off last")
        return self


class DemoInstrument(TradeModel):
    """An invented instrument: a kind, a name, what differs from the kind, and the seed of its story."""

    kind: str
    name: str
    seed: int
    changes: dict[str, Any] = {}
    neck: DemoNeck
    habits: DemoHabits

    def spec_from(self, starting: InstrumentSpec) -> InstrumentSpec:
        """The instrument's own spec: the kind's starting values, its name, its changes."""
        raw = starting.model_dump() | self.changes | {"name": self.name}
        return InstrumentSpec.model_validate(raw)


class Demo(TradeModel):
    """The whole demo bench, and the sentence that says it is invented."""

    notice: str
    room: DemoRoom
    instrument: Annotated[tuple[DemoInstrument, ...], Field(min_length=1)]
