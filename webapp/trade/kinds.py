"""Kinds of instrument: a name, a family whose bands apply, and a full set of starting values."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from webapp.trade.base import TradeModel
from webapp.trade.spec import NO_SCREW, UNKNOWN, InstrumentSpec
from webapp.trade.tools import Key
from webapp.trade.words import Family


class Kind(TradeModel):
    """What choosing this kind fills in. `place` orders the kinds on the page."""

    key: Key
    name: str
    family: Family
    place: int
    summary: Annotated[str, Field(min_length=1, max_length=160)]
    spec: InstrumentSpec

    @model_validator(mode="after")
    def _spec_is_of_this_kind(self) -> Self:
        if self.spec.kind != self.key:
            raise ValueError(f"the spec says kind {self.spec.kind}, the file is {self.key}")
        return self

    def thread_keys(self) -> set[str]:
        """Every thread the starting values name, without the two words for none and unknown."""
        bridge = self.spec.bridge
        named = {bridge.height_thread, bridge.intonation_thread, *(p.thread for p in self.spec.pickups)}
        return named - {UNKNOWN, NO_SCREW}
