"""Screw threads found on bridges and pickups."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from webapp.trade.base import TradeModel


class Thread(TradeModel):
    """One thread: how far a full turn moves the screw, and the standard that says so."""

    key: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9.\-]*$", max_length=20)]
    name: str
    pitch_mm: Annotated[float, Field(gt=0, le=3)]
    standard: str
