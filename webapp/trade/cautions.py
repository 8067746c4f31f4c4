"""Plain warnings, and the places beside which they stand."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from webapp.trade.base import TradeModel
from webapp.trade.tools import Key
from webapp.trade.words import Fitting

Place = Literal["start", "relief", "height", "nut", "intonation", "pickups", "playtest", "strings", "report"]


class Caution(TradeModel):
    """One sentence or two of caution, shown in full beside each place it names.

    It is for instruments that have all it `needs`; where nothing is needed, for every one.
    """

    key: Key
    text: Annotated[str, Field(min_length=1, max_length=300)]
    beside: Annotated[tuple[Place, ...], Field(min_length=1)]
    needs: frozenset[Fitting] = frozenset()
