"""Before and after, small multiples, one place over time, and the seasons."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from math import cos, inf, pi
from typing import Any

from webapp.drawings.bands.before_after import Change, before_after
from webapp.drawings.bands.rows import StripRow, side_by_side
from webapp.drawings.bands.strip import Range, Value
from webapp.drawings.marks import REPAIRER
from webapp.drawings.over_time.chart import ChartPoint, line_chart
from webapp.drawings.over_time.season_chart import (
    Ahead,
    AirValue,
    SeasonPoint,
    SeasonSeries,
    SeasonTurn,
    season_chart,
)
from webapp.drawings.over_time.sparkline import Moved, small_multiples
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import CENTS, INCH, MM, Units

GOOD = "good"
DAY = datetime(2024, 11, 20, 9, tzinfo=UTC)
RELIEF = (0.08, 0.65), (0.15, 0.45)


def pictures() -> Iterator[tuple[str, Drawing]]:
    """Name and drawing."""
    yield "before-after", before_after(list(_changes(MM)))
    yield "before-after-inch", before_after(list(_changes(INCH))[:3])
    yield "side-by-side", side_by_side("Heights at fret 12", MM, list(_heights("EADG")))
    yield "side-by-side-inch", side_by_side("Heights", INCH, list(_heights(["4, E", "3, A", "2, D", "1, G"])))
    yield "small-multiples", small_multiples(list(_moved(MM)))
    yield "small-multiples-inch", small_multiples(list(_moved(INCH)))
    yield "one-place", line_chart(_points(), RELIEF[1], RELIEF[0], "mm", "Relief over time")
    yield (
        "one-place-two-readings",
        line_chart(_points()[:2], (-3, 3), (-8, 8), "cents", "Intonation", places=1),
    )
    yield "nothing-read", line_chart([], RELIEF[1], RELIEF[0], "mm", "Relief over time")
    air = [ChartPoint(_after(n), 45 + 8 * cos(n / 5), "") for n in range(30)]
    yield "air", line_chart(air, None, None, "% humidity", "Humidity over the last 30 days", places=0)
    yield "seasons", season_chart(_seasons(), "Relief through the seasons")
    yield "seasons-no-air", season_chart(_seasons(air=(), ahead=(), turns=()), "Relief through the seasons")
    yield (
        "seasons-flags",
        season_chart(_seasons(turns=_turns(range(0, 720, 24))), "Relief through the seasons"),
    )


def _changes(units: Units) -> Iterator[Change]:
    yield Change("Relief", units, *RELIEF, Value(0.6, 0.05), Value(0.3, 0.05), GOOD, GOOD)
    for n, name in enumerate("EAD"):
        height = Value(3.3 - 0.2 * n, 0.1), Value(3.0 - 0.2 * n, 0.1)
        yield Change(f"Height {name}", units, (1.5, 3.6), (2, 3), *height, GOOD, GOOD)
    yield Change("Height G", units, (1.5, 3.6), (2, 3), Range(3.2, 3.6), Value(2.5), GOOD, GOOD)
    yield Change("Nut A", units, (0.15, 0.7), (0.25, 0.5), Value(0.08, 0.02), None, REPAIRER, "too low")
    yield Change("Nut D", units, (0.15, 0.7), (0.25, 0.5), Range(0.9, inf), None, REPAIRER, "too high")
    yield Change("Tuning D, fret 12", CENTS, (-8, 8), (-3, 3), Value(-9), Value(-2), GOOD, GOOD)
    yield Change("Tuning D, fret 19", CENTS, (-12, 12), (-5, 5), Value(-32), Value(1), GOOD, GOOD)
    yield Change(
        "Pickup 1, bass", units, (1.5, 3.6), (2, 3), Value(5.0), Value(3.2), "a touch high", "a touch far"
    )


def _heights(names: str | list[str]) -> Iterator[StripRow]:
    for n, name in enumerate(names):
        usual, target = (1.5 - 0.1 * n, 3.6 - 0.2 * n), (2.0 - 0.13 * n, 3.0 - 0.17 * n)
        read = Value(3.0 - 0.2 * n, 0.1) if n != 2 else Range(2.2, 2.9)
        word = GOOD if n else "a touch high"
        yield StripRow(name, usual, target, read, word, word)


def _after(days: float) -> datetime:
    return DAY + timedelta(days=days)


def _bow(day: float) -> float:
    """A neck that rises in winter and falls in summer."""
    return 0.54 + 0.1 * cos(2 * pi * (day - 60) / 365)


def _points() -> list[ChartPoint]:
    points = [ChartPoint(_after(n * 61), _bow(n * 61), GOOD, f"#{n}") for n in range(10)]
    points[3] = ChartPoint(_after(183), 0.45, GOOD, "#3", said="0.30 to 0.60 mm", reach=(0.3, 0.6))
    return [*points, ChartPoint(_after(680), 0.5, "if nothing is turned", measured=False)]


def _moved(units: Units) -> Iterator[Moved]:
    bow = tuple((_after(n * 40), Value(_bow(n * 40))) for n in range(18))
    yield Moved("Relief", units, RELIEF[1], bow, "a touch high", "a touch bowed", "#1")
    falling = tuple((_after(n * 150), Value(3.3 - 0.1 * n)) for n in range(5))
    yield Moved("Height, E", units, (2, 3), falling, GOOD, GOOD, "#2")
    low = (_after(10), Value(0.3)), (_after(700), Value(0.08))
    yield Moved("Nut, A", units, (0.25, 0.5), low, "too low", "too low", "#3")
    cents = tuple((_after(200 * n), Value(v)) for n, v in enumerate((-2, -5, -31, 1.5)))
    yield Moved("Tuning D, fret 12", CENTS, (-3, 3), cents, GOOD, GOOD, "#4")
    card = (_after(100), Range(2.2, 3.4)), (_after(500), Range(3.4, inf))
    yield Moved("Pickup 1, bass", units, (2, 3), card, "too high", "too far", "#5")
    yield Moved("Pickup 1, treble", units, (2, 3), (), "not measured", "not measured", "#6")


def _turns(days: Sequence[int]) -> tuple[SeasonTurn, ...]:
    return tuple(SeasonTurn(_after(d), f"Turn {n}.", f"#turn-{n}", n) for n, d in enumerate(days, 1))


def _seasons(**changes: Any) -> SeasonSeries:
    days = range(0, 721, 18)
    points = [
        SeasonPoint(_after(d), _bow(d) + 0.02 * cos(d), _bow(d) + 0.06, f"{d}", f"?point={d}", f"p-{d}")
        for d in days
    ]
    told: dict[str, Any] = {
        "points": points, "turns": _turns((30, 300)), "target": RELIEF[1], "usual": RELIEF[0], "unit": "mm",
        "places": 2, "air": [AirValue(_after(d), 47 - 12 * cos(2 * pi * (d - 30) / 365)) for d in range(721)],
        "ahead": [Ahead(_after(720 + d), _bow(720 + d), 0.03 + 0.0008 * d) for d in range(0, 200, 10)],
        "rests_on": "in air as it was a year ago",
    }  # fmt: skip
    return SeasonSeries(**(told | changes))
