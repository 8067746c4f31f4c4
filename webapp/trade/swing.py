"""Where strings are plucked, and the room that a target found by test leaves."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from webapp.trade.base import TradeModel
from webapp.trade.words import Family


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
