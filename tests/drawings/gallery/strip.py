"""The strip in every state, and strips side by side."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from webapp.drawings.bands.strip import Range, Value, ends_of, strip
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import CENTS, INCH, MM, SIXTY_FOURTHS
from webapp.trade.words import Check

RELIEF = ((0.08, 0.65), (0.15, 0.45))
HEIGHT = ((1.5, 3.6), (2.0, 3.0))


def pictures() -> Iterator[tuple[str, Drawing]]:
    """Name and drawing."""
    bow, tuned = ends_of(Check.RELIEF), ends_of(Check.INTONATION)
    yield (
        "strip-turn",
        strip("Relief", MM, *RELIEF, Value(0.6, 0.05), Value(0.54, 0.04), (0.48, 0.42), ends=bow),
    )
    yield "strip-good", strip("Relief", MM, *RELIEF, Value(0.3, 0.02), ends=bow)
    yield "strip-range", strip("Relief", MM, *RELIEF, Range(0.3, 0.6), Value(0.4, 0.1), ends=bow)
    yield "strip-open-range", strip("Relief", MM, *RELIEF, Range(0.9, inf), Value(0.8, 0.1), ends=bow)
    yield "strip-no-click", strip("Relief", MM, *RELIEF, Range(-inf, 0.1), ends=bow)
    yield "strip-inch", strip("Height, D", INCH, *HEIGHT, Value(2.9, 0.25), Value(2.65, 0.1))
    yield "strip-64ths", strip("Relief", SIXTY_FOURTHS, *RELIEF, Value(0.6, 0.05), ends=bow)
    yield "strip-far", strip("Height, G", MM, *HEIGHT, Value(8.0, 0.1), Value(5.0, 0.2), (2.5,))
    yield "strip-far-low", strip("Nut, A", MM, (0.15, 0.7), (0.25, 0.5), Value(-1.2, 0.1))
    yield "strip-close", strip("Height, D", MM, *HEIGHT, Value(3.05, 0.1), Value(2.98, 0.1))
    yield (
        "strip-cents",
        strip("Intonation, D", CENTS, (-8, 8), (-3, 3), Value(-9, 1.5), Value(-2, 1), ends=tuned),
    )
    yield "strip-expected", strip("Relief", MM, *RELIEF, after=Value(0.52, 0.06), ends=bow)
    yield "strip-nothing", strip("Pickup 1, bass", MM, (1.4, 4), (2, 3), ends=ends_of(Check.PICKUPS))
