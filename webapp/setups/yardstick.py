"""What an instrument is measured against: its description and what the trade knows, not its readings."""

from __future__ import annotations

from typing import Protocol

from webapp.setups.convert import ReliefWay
from webapp.trade.load import Trade
from webapp.trade.ranges import FamilyRanges
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Family


class Yardstick(Protocol):
    """The part of a case that targets and touches are made from; readings move no target."""

    @property
    def spec(self) -> InstrumentSpec: ...

    @property
    def trade(self) -> Trade: ...

    @property
    def family(self) -> Family: ...

    @property
    def ranges(self) -> FamilyRanges: ...

    @property
    def relief_standard(self) -> ReliefWay: ...

    @property
    def pluck_mm(self) -> float: ...

    @property
    def own_relief_mm(self) -> float: ...
