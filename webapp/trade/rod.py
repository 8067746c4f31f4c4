"""What to expect of a truss rod before this one has been learnt."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from webapp.trade.base import TradeModel


class RodPrior(TradeModel):
    """Relief change per eighth of a turn (middle, spread), hours to settle, most eighths at a time."""

    response_mm_per_eighth: Annotated[float, Field(gt=0, le=0.5)]
    spread_mm: Annotated[float, Field(gt=0, le=0.5)]
    settle_hours: Annotated[float, Field(gt=0, le=240)]
    max_eighths: Annotated[int, Field(ge=1, le=2)]
    pull_spread: Annotated[float, Field(gt=0, le=5)]
