"""What a reading is kept as, and what it says: a range, blurred by its tool's error."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf, isfinite
from typing import Any

from webapp.physics.mixture import Seen
from webapp.setups.journal import Entry
from webapp.trade.content import Trade
from webapp.trade.tools import ReadingMethod
from webapp.trade.words import Check

# A division coarser than so many standard errors is read as a range, a finer one as a point.
COARSE = 3.0
# An open end of a range, for the chance that a slip shows it: as wide as this share of where slips lie.
OPEN_SHARE = 0.3
NEAR = 1e-3


def seen_of(trade: Trade, entry: Entry) -> Seen:
    """The range that a reading says, in the unit and the way in which it was read (mm or cents).

    A stored range (a card, an ear, a needle) is what it is. A number stands for half a division either way,
    and a feeler gauge that finds nothing says only that: a back bow is no number.
    """
    assert entry.value is not None
    detail = entry.detail
    tool = trade.tools.get(entry.tool)
    sigma = tool.sigma if tool else entry.error or (1.5 if entry.unit == "cents" else 0.1)
    if entry.check is Check.PICKUPS:
        # A pole is round, and the pressed string gives under a rule.
        sigma *= trade.belief.reading.over_pickups
    if "low" in detail or "high" in detail:
        low, high = detail.get("low"), detail.get("high")
        return Seen(-inf if low is None else float(low), inf if high is None else float(high), sigma)
    if tool is None or not tool.division:
        return Seen(entry.value, entry.value, entry.error or sigma)
    step = float(detail.get("step") or tool.division)
    if abs(entry.value / step - round(entry.value / step)) > NEAR / step:
        step /= 2  # read between two lines
    if entry.check is Check.RELIEF and abs(entry.value) < NEAR:
        return Seen(-inf, step / 2, sigma)
    if step > COARSE * sigma:
        return Seen(entry.value - step / 2, entry.value + step / 2, sigma)
    return Seen(entry.value, entry.value, sigma, step)


@dataclass(frozen=True)
class Slips:
    """How likely a slip is, and over what width it may show anything."""

    chance: float
    width: float

    def elsewhere(self, seen: Seen) -> float:
        """The chance that a slip shows just this reading."""
        if seen.is_point:
            return max(seen.step, seen.sigma) / self.width
        if not (isfinite(seen.low) and isfinite(seen.high)):
            return OPEN_SHARE
        return min(1.0, (seen.high - seen.low) / self.width)


def agree(one: Seen, other: Seen, times: float) -> bool:
    """Whether two readings of one place can mean the same value."""
    apart = max(one.low, other.low) - min(one.high, other.high)
    return apart <= times * hypot(one.sigma, other.sigma) + max(one.step, other.step)


# An open end is drawn so far from the other one: half a card, half a step of an ear.
OPEN_END = 0.15


def entry_detail(
    trade: Trade,
    method: ReadingMethod,
    value: float | None = None,
    answer: str | None = None,
    step: float | None = None,
    card_mm: float | None = None,
) -> tuple[float, dict[str, Any]]:
    """The number that stands for a reading in lists and charts, and the detail that says what it really was.

    `value` in mm or cents and the tool's `step`, or an `answer` of the method, with the card's thickness.
    Raises KeyError for an answer that the method does not have.
    """
    if answer is None:
        assert value is not None
        return value, {"method": method.key} | ({"step": step} if step else {})
    card = card_mm or trade.card_thickness_mm
    low, high = method.choice(answer).range(card)
    detail: dict[str, Any] = {"method": method.key, "answer": answer}
    if method.tool == "card":
        detail["card_mm"] = card
    detail |= {"low": low if isfinite(low) else None, "high": high if isfinite(high) else None}
    return range_middle(low, high), detail


def range_middle(low: float, high: float) -> float:
    """The number that stands for a range; of one with an open end, a little past the other end."""
    if isfinite(low) and isfinite(high):
        return (low + high) / 2
    wide = OPEN_END if max(abs(x) for x in (low, high) if isfinite(x)) < 2 else 2.0
    return low + wide if isfinite(low) else high - wide
