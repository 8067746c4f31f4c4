"""What stretching on fretting depends on, beside the string itself."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from webapp.trade.base import TradeModel
from webapp.trade.words import Family

Share = Annotated[float, Field(gt=0, le=1)]


class Stretch(TradeModel):
    """stretch.toml: how far a finger presses, and the families whose strings stretch as steel does."""

    press_mm: Annotated[float, Field(ge=0, le=3)]
    spread_share: Share
    families: frozenset[Family]
