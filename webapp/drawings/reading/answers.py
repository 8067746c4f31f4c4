"""A tuner's face, and a small round picture for each answer to a reading that is judged by feel."""

from __future__ import annotations

from collections.abc import Callable
from math import cos, inf, isfinite, radians, sin

from webapp.drawings.reading.magnifier import CARDS, EAR, Magnifier, Seen, say, seen_through
from webapp.drawings.shapes import Circle, Drawing, Line, Path, Plain, Text, arrow
from webapp.drawings.units import MM, Units
from webapp.trade.spec import OneString
from webapp.trade.tools import ReadingMethod

WIDE = 64.0
RADIUS = WIDE / 2 - 1.5
MOST_PX_PER_MM = 15.0
MOST_CENTS = 20.0
SWING_DEG = 60.0  # how far the needle goes to each side for that
Ends = tuple[float, float]


def answer_pictures(
    method: ReadingMethod, string: OneString, *, card_mm: float = 0.3, units: Units = MM
) -> dict[str, Drawing]:
    """The pictures of a method's answers by their keys; empty where the method asks for a number.

    All of one method share one scale, so that their gaps can be told apart. Cards lie in the gap, a tapped
    string shows how far it moves, and a tuner's needle points flat, in tune or sharp.
    """
    ends = {choice.key: choice.range(card_mm) for choice in method.choices}
    if not ends:
        return {}
    if method.check.is_cents:
        drawn = {key: _needle(*end) for key, end in ends.items()}
        said = {key: f"{_range(*end, write=lambda cents: f'{cents:g}')} cents" for key, end in ends.items()}
    else:
        largest = max(_typical(*end) for end in ends.values())
        glass = Magnifier(WIDE / 2, WIDE / 2, RADIUS, min(MOST_PX_PER_MM, 26 / largest), 0.08)
        drawn = {key: _gap(glass, method.tool, string, end, card_mm) for key, end in ends.items()}
        said = {key: f"{_range(*end, write=units.number)} {units.label}" for key, end in ends.items()}
    return {
        choice.key: Drawing(
            WIDE, WIDE, tuple(drawn[choice.key]), choice.label, f"{choice.label}: {said[choice.key]}."
        )
        for choice in method.choices
    }


def _gap(glass: Magnifier, tool: str, string: OneString, ends: Ends, card_mm: float) -> list[Plain]:
    """String over fret at a gap that stands for the answer."""
    gap = _typical(*ends)
    fits = (int(ends[0] / card_mm + 1e-6) if isfinite(ends[0]) else 0) if tool == CARDS else None
    shapes = seen_through(glass, Seen(string, gap, tool, card_mm=card_mm, fits=fits))
    if tool == EAR:
        foot = glass.y(gap) - 3
        shapes += arrow(glass.cx, foot - 17, glass.cx, foot, "accent")
    return shapes


def _needle(low: float, high: float) -> list[Plain]:
    """A tuner that has no numbers."""
    cents = high - 6 if not isfinite(low) else low + 6 if not isfinite(high) else (low + high) / 2
    ring = Circle(WIDE / 2, WIDE / 2, RADIUS, "ruling")
    return [*tuner_face(WIDE / 2, WIDE - 15, 36.0, cents, words=False), ring]


def _typical(low: float, high: float) -> float:
    """A gap that stands for a range whose ends may be open."""
    if not isfinite(low):
        return max(high, 0.0) * 0.4
    return low * 1.15 if not isfinite(high) else low + (high - low) * 0.3


def _range(low: float, high: float, write: Callable[[float], str]) -> str:
    if not isfinite(low):
        return f"below {write(high)}"
    return f"above {write(low)}" if high == inf else f"{write(low)} to {write(high)}"


def needle_deg(cents: float) -> float:
    """Where the needle stands, in degrees from upright, sharp positive; it goes no further than the scale."""
    return max(-1.0, min(1.0, cents / MOST_CENTS)) * SWING_DEG


def tuner_face(cx: float, foot: float, r: float, cents: float | None, *, words: bool = True) -> list[Plain]:
    """A half round scale over `foot`, 5 cents from mark to mark, and the needle where `cents` says."""

    def at(degrees: float, radius: float) -> tuple[float, float]:
        return cx + radius * sin(radians(degrees)), foot - radius * cos(radians(degrees))

    marks = []
    for step in range(-4, 5):
        inner = r - (9 if step == 0 else 5)
        marks.append(f"M{say(*at(step * SWING_DEG / 4, inner))}L{say(*at(step * SWING_DEG / 4, r))}")
    left, right = at(-SWING_DEG, r), at(SWING_DEG, r)
    shapes: list[Plain] = [
        Path(
            f"M{say(*left)}A{say(r, r)} 0 0 1 {say(*right)}{''.join(marks)}",
            (left[0], foot - r, right[0], left[1]),
            "outline",
        )
    ]
    if cents is None:
        shapes.append(Line(cx, foot, *at(0, r - 12), "chord"))
    else:
        shapes.append(Line(cx, foot, *at(needle_deg(cents), r - 3), "do-line"))
    shapes.append(Circle(cx, foot, 4, "ink-fill"))
    if words:
        shapes += [
            Text(left[0] + 2, left[1] + 17, "flat", "strong"),
            Text(right[0] - 2, right[1] + 17, "sharp", "strong"),
        ]
    return shapes
