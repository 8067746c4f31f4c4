"""A touch as a swing: what light, medium and firm mean on this instrument, and the player's own by test."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.physics.clearance import clean_swing
from webapp.physics.touch import LowestClean, lowest_clean
from webapp.setups.geometry import neck_under, neck_with_relief
from webapp.setups.yardstick import Yardstick
from webapp.trade.words import Touch


@dataclass(frozen=True)
class Swing:
    """The swing of one open string at the pluck, mm, how sure it is, and where it comes from."""

    mm: float
    error_mm: float
    basis: str


def table_swing_mm(case: Yardstick, number: int, touch: Touch) -> float:
    """Clean swing of the middle of a touch's usual targets on one string, mm: what that touch means."""
    ranges, family, spec = case.trade.ranges, case.family, case.spec
    relief = ranges.relief_bands(family, touch).target.middle
    action = ranges.height_bands(family, touch, spec.across(number)).target.middle
    way = case.relief_standard
    bow = neck_with_relief(spec, relief, way.hold, way.press, way.gap).curvature_per_mm
    neck = neck_under(spec, number, bow)
    return clean_swing(neck, neck.saddle_for_action(action), case.pluck_mm).swing_mm


def swing_for(case: Yardstick, number: int, touch: Touch | None = None) -> Swing:
    """The swing to allow on a string: the player's own where it was found by test, else the touch's.

    A swing found on one string is carried to the others in proportion to what a medium touch means there.
    """
    own = case.spec.own_swing
    if touch is None and own is not None:
        share = table_swing_mm(case, number, Touch.MEDIUM) / table_swing_mm(case, own.string, Touch.MEDIUM)
        return Swing(own.swing_mm * share, own.error_mm * share, "your own touch, found by test")
    chosen = touch or case.spec.touch
    return Swing(table_swing_mm(case, number, chosen), 0.0, f"a {chosen.value} touch on this kind")


def lowest_for(case: Yardstick, number: int, swing_mm: float, relief_mm: float | None = None) -> LowestClean:
    """The lowest clean action of a string for a swing, and its relief (fixed where one is given)."""
    way = case.relief_standard
    usual = case.trade.ranges.relief_bands(case.family, case.spec.touch).usual
    low, high = (relief_mm, relief_mm) if relief_mm is not None else (max(0.0, usual.low), usual.high)
    spec = case.spec
    scale = spec.scale_of(number)
    return lowest_clean(
        scale, spec.joint_fret, spec.fret_count, swing_mm, case.pluck_mm, low, high, way.frets
    )
