"""Across the strings: the arc of the board, and string places.

Offsets across the board are in mm from the centre line: negative = bass side, positive = treble.
A radius of ``None`` is a flat board.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


def drop(radius_mm: float | None, offset_mm: float) -> float:
    """How far the board lies below its crown at an offset, mm: ``R - sqrt(R**2 - y**2)``; flat = 0.

    Raises ``ValueError`` for a radius that is not above 0 or an offset wider than the radius.
    Source: height of a segment of a circle, Machinery's Handbook (Industrial Press), from memory.
    """
    if radius_mm is None:
        return 0.0
    if not (math.isfinite(radius_mm) and radius_mm > 0):
        raise ValueError("the radius must be above 0 mm, or none for a flat board")
    if not abs(offset_mm) <= radius_mm:
        raise ValueError("the string lies further out than the radius of the board reaches")
    # the same as R - sqrt(R^2 - y^2), without losing digits where y is much smaller than R
    return offset_mm**2 / (radius_mm + math.sqrt(radius_mm**2 - offset_mm**2))


@dataclass(frozen=True)
class Board:
    """A board whose radius changes linearly along the neck (a cone), or stays the same.

    ``radius_nut_mm`` at the nut and ``radius_end_mm`` at ``length_mm`` from it; both ``None`` = flat.
    Raises ``ValueError`` when only one radius is given, or one is not above 0.
    """

    radius_nut_mm: float | None
    radius_end_mm: float | None
    length_mm: float

    def __post_init__(self) -> None:
        if (self.radius_nut_mm is None) != (self.radius_end_mm is None):
            raise ValueError("give both radii, or none for a flat board")
        for radius in (self.radius_nut_mm, self.radius_end_mm):
            if radius is not None and not (math.isfinite(radius) and radius > 0):
                raise ValueError("the radius must be above 0 mm")
        if not (math.isfinite(self.length_mm) and self.length_mm > 0):
            raise ValueError("the board must be longer than 0 mm")

    def radius_at(self, distance_mm: float) -> float | None:
        """Radius at a distance from the nut, mm; ``None`` when flat.

        A cone: radii go in proportion along it. The line goes on past the board's end, which is where the
        saddles are. Raises ``ValueError`` where a narrowing cone has run out.
        """
        if self.radius_nut_mm is None or self.radius_end_mm is None:
            return None
        share = distance_mm / self.length_mm
        radius = self.radius_nut_mm + (self.radius_end_mm - self.radius_nut_mm) * share
        if radius <= 0:
            raise ValueError("this cone has no radius left at that distance")
        return radius


def string_offset(index: int, count: int, spacing_mm: float) -> float:
    """Offset of a string from the centre line, mm; index 0 is the bass-side string.

    ``spacing_mm`` is from outer string to outer string, shared evenly. Raises ``ValueError`` for an
    index outside 0..count-1.
    """
    if not 0 <= index < count:
        raise ValueError(f"string index {index} is not one of {count}")
    return spacing_mm * (across(index, count) - 0.5)


def across(index: int, count: int) -> float:
    """Share of the way from the bass string (0) to the treble string (1); 0.5 for a single string."""
    return 0.5 if count == 1 else index / (count - 1)
