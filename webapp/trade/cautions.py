"""Plain warnings, and the places beside which they stand."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from webapp.trade.base import TradeModel
from webapp.trade.tools import Key

Place = Literal["start", "relief", "height", "nut", "intonation", "pickups", "playtest", "strings", "report"]


class Caution(TradeModel):
    """One sentence or two of caution, shown in full beside each place it names."""

    key: Key
    text: Annotated[str, Field(min_length=1, max_length=300)]
    beside: Annotated[tuple[Place, ...], Field(min_length=1)]
