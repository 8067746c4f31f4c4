"""Targets made from the player's own swing instead of the table: lowest clean height plus a stated margin."""

from __future__ import annotations

from statistics import median

from webapp.setups.slots import Slot, string_numbers
from webapp.setups.touch import lowest_for, swing_for
from webapp.setups.yardstick import Yardstick
from webapp.trade.ranges import Band, Bands
from webapp.trade.words import Check


def own_bands(case: Yardstick, slot: Slot, table: Bands) -> Bands:
    """The table's bands with the target moved to suit the player's own swing.

    The usual band stays the table's, widened only where the own target lies outside it.
    """
    if case.spec.own_swing is None or slot.check not in (Check.RELIEF, Check.HEIGHT):
        return table
    target = _relief(case) if slot.check is Check.RELIEF else _height(case, slot)
    target = target.clamped(table.plausible)
    usual = Band(low=min(table.usual.low, target.low), high=max(table.usual.high, target.high))
    return Bands(target=target, usual=usual, plausible=table.plausible)


def own_relief_mm(case: Yardstick) -> float:
    """One neck serves every string: the middle of the reliefs that the strings would each choose."""
    numbers = string_numbers(case.spec)
    return median(lowest_for(case, n, swing_for(case, n).mm).relief_mm for n in numbers)


def _relief(case: Yardstick) -> Band:
    middle, half = case.own_relief_mm, case.trade.swing.relief_width_mm / 2
    return Band(low=max(0.0, middle - half), high=middle + half)


def _height(case: Yardstick, slot: Slot) -> Band:
    assert slot.string is not None
    swing = swing_for(case, slot.string)
    margins = case.trade.swing
    low = lowest_for(case, slot.string, swing.mm, case.own_relief_mm).action_mm + margins.margin_mm
    return Band(low=low, high=low + margins.width_mm)
