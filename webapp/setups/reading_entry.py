"""What a reading is kept as: the range or the number it stands for, with its tool's division."""

from __future__ import annotations

from math import isfinite
from typing import Any

from webapp.trade.content import Trade
from webapp.trade.tools import ReadingMethod

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
