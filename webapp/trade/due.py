"""When an instrument wants looking at again."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from webapp.trade.base import TradeModel
from webapp.trade.words import Family

Days = Annotated[float, Field(gt=0, le=3650)]


class DueSheet(TradeModel):
    """Days between setups, days a set of strings lasts, and how far the wood's moisture may move."""

    review_days: Days
    string_days: dict[Family, Days]
    age_days: dict[str, Annotated[float, Field(ge=0, le=3650)]]
    moisture_percent: Annotated[float, Field(gt=0, le=20)]
    look_again_days: Days

    @model_validator(mode="after")
    def _every_family(self) -> Self:
        missing = [family.value for family in Family if family not in self.string_days]
        if missing:
            raise ValueError(f"no days of strings for the family {', '.join(missing)}")
        return self
