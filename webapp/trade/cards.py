"""Cards that stand in for a feeler gauge."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from webapp.trade.base import TradeModel
from webapp.trade.tools import Key


class CardKind(TradeModel):
    """A sort of card that lies about in a house, and how thick it is."""

    key: Key
    label: Annotated[str, Field(min_length=1, max_length=40)]
    thickness_mm: Annotated[float, Field(gt=0.05, lt=2)]
