"""One reading over time: points joined by a line, with the target and the usual band behind."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import ceil, floor, isfinite, log10

from webapp.drawings.shapes import (
    WIDTH,
    Circle,
    Drawing,
    Line,
    LinkedShape,
    Plain,
    Polyline,
    Rect,
    Shape,
    Text,
    kind_width,
)

TOP, HEIGHT = 26.0, 150.0
Band = tuple[float, float]
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class ChartPoint:
    """`value` is in the chart's own unit; `label` says it in words; `href` makes the point a link.

    Where a range was read, `reach` is that (an end may be infinite), `said` says it, and `value` stands for
    it.
    """

    at: datetime
    value: float
    label: str
    href: str = ""
    measured: bool = True  # False for a forecast, which is drawn as an open diamond
    said: str = ""
    reach: Band | None = None


@dataclass(frozen=True)
class Axes:
    left: float
    right: float
    since: datetime
    until: datetime
    low: float
    high: float

    def x(self, at: datetime) -> float:
        share = (at - self.since) / (self.until - self.since)
        return self.left + share * (self.right - self.left)

    def y(self, value: float) -> float:
        return TOP + (self.high - value) / (self.high - self.low) * HEIGHT


def line_chart(
    points: Sequence[ChartPoint],
    target: Band | None,
    usual: Band | None,
    unit_label: str,
    title: str,
    *,
    places: int = 2,
) -> Drawing:
    """Draw `points` in order of time.  Every value must be finite and every time carry a zone."""
    ordered = sorted(points, key=lambda p: p.at)
    if any(not isfinite(p.value) for p in ordered):
        raise ValueError("every point needs a finite value")
    bands = [(band, kind) for band, kind in ((usual, "usual"), (target, "target")) if band is not None]
    axes, ticks, decimals = _axes(ordered, [b for b, _ in bands])
    shapes: list[Shape] = [Text(8, 14, unit_label, "caption", "start")]
    for (low, high), kind in bands:
        shapes += [
            Rect(axes.left, axes.y(high), axes.right - axes.left, axes.y(low) - axes.y(high), kind),
            Line(axes.left, axes.y(high), axes.right, axes.y(high), f"{kind}-edge"),
            Line(axes.left, axes.y(low), axes.right, axes.y(low), f"{kind}-edge"),
        ]
    shapes += _value_axis(axes, ticks, decimals)
    shapes += _date_axis(axes, ordered)
    shapes += _marks(axes, ordered, unit_label, places)
    if not ordered:
        shapes.append(Text((axes.left + axes.right) / 2, TOP + HEIGHT + 18, "No readings yet", "label"))
    legend, bottom = _legend(ordered, target, usual, unit_label, places)
    return Drawing(
        WIDTH, bottom, (*shapes, *legend), title, _description(ordered, target, usual, unit_label, places)
    )


def _axes(points: Sequence[ChartPoint], bands: Sequence[Band]) -> tuple[Axes, list[float], int]:
    values = [v for p in points for v in known_ends(p.value, p.reach)]
    values = [*values, *(edge for band in bands for edge in band)] or [0.0, 1.0]
    low, high = min(values), max(values)
    if high - low < 1e-6 * max(1.0, abs(high), abs(low)):
        low, high = low - 0.5, high + 0.5
    step = round_step((high - low) / 4)
    first, last = floor(low / step - 0.15), ceil(high / step + 0.15)
    ticks = [i * step for i in range(first, last + 1)]
    decimals = max(0, -floor(log10(step) + 1e-9))
    times = [p.at for p in points] or [datetime(2000, 1, 1, tzinfo=UTC)]
    margin = max((times[-1] - times[0]) * 0.04, timedelta(days=2))
    width = max(kind_width(figure(t, decimals), "label") for t in ticks)
    axes = Axes(8 + width + 6, WIDTH - 12, times[0] - margin, times[-1] + margin, ticks[0], ticks[-1])
    return axes, ticks, decimals


def known_ends(value: float, reach: Band | None) -> tuple[float, ...]:
    """What a chart has to have room for: a value, or the ends of a range that are no open ones."""
    return (value, *(end for end in reach or () if isfinite(end)))


def reach_line(x: float, reach: Band, low: float, high: float, y: Callable[[float], float]) -> Line:
    """A range as an upright line; an open end runs to the edge of the chart, whose values are `low` to
    `high`.
    """
    return Line(x, y(max(reach[0], low)), x, y(min(reach[1], high)), "reach")


def round_step(rough: float) -> float:
    """The next step of 1, 2 or 5 times a power of ten."""
    power = 10.0 ** floor(log10(rough))
    return float(next(m * power for m in (1, 2, 5, 10) if m * power >= rough * 0.999))


def figure(value: float, decimals: int) -> str:
    """A number with a true minus, and none before zero."""
    text = f"{value:.{decimals}f}"
    return (text.lstrip("-") if float(text) == 0 else text).replace("-", "\N{MINUS SIGN}")


def _value_axis(axes: Axes, ticks: Sequence[float], decimals: int) -> list[Shape]:
    shapes: list[Shape] = [Line(axes.left, TOP, axes.left, TOP + HEIGHT, "thin")]
    every = 1 if len(ticks) <= 8 else 2
    for tick in ticks[::every]:
        y = axes.y(tick)
        shapes += [
            Line(axes.left - 4, y, axes.left, y, "thin"),
            Text(axes.left - 6, y + 4, figure(tick, decimals), "label", "end"),
        ]
    return shapes


def _date_axis(axes: Axes, points: Sequence[ChartPoint]) -> list[Shape]:
    """Dates of the readings themselves: first and last, then those between where they fit."""
    floor_y = TOP + HEIGHT
    shapes: list[Shape] = [Line(axes.left, floor_y, axes.right, floor_y, "thin")]
    by_day = {p.at.date(): p.at for p in reversed(points)}
    days = sorted(by_day)
    order = [*days[:1], *days[:0:-1][:1], *days[1:-1]]
    taken: list[tuple[float, float]] = []
    for day in order:
        text = f"{day.day} {MONTHS[day.month - 1]} {day.year}"
        half = kind_width(text, "label") / 2
        x = axes.x(by_day[day])
        place = min(max(x, half + 2), WIDTH - half - 2)
        if all(place + half + 8 <= left or place - half - 8 >= right for left, right in taken):
            taken.append((place - half, place + half))
            shapes += [Line(x, floor_y, x, floor_y + 5, "thin"), Text(place, floor_y + 18, text, "label")]
    return shapes


def _marks(axes: Axes, points: Sequence[ChartPoint], unit: str, places: int) -> list[Shape]:
    """The line first, so that no point is hidden; measured points solid, forecasts open and dashed."""
    shapes: list[Shape] = []
    for a, b in zip(points, points[1:], strict=False):
        kind = "series" if a.measured and b.measured else "chord"
        shapes.append(Line(axes.x(a.at), axes.y(a.value), axes.x(b.at), axes.y(b.value), kind))
    for point in points:
        x, y = axes.x(point.at), axes.y(point.value)
        if point.reach is not None:
            shapes.append(reach_line(x, point.reach, axes.low, axes.high, axes.y))
        mark = _mark(x, y, point.measured)
        if point.href:
            shapes.append(
                LinkedShape(point.href, _point_words(point, unit, places), (Circle(x, y, 12, "hit"), mark))
            )
        else:
            shapes.append(mark)
    return shapes


def _mark(x: float, y: float, measured: bool) -> Plain:
    if measured:
        return Circle(x, y, 4, "point")
    return Polyline(((x, y - 5), (x + 5, y), (x, y + 5), (x - 5, y)), "forecast", closed=True)


def _legend(
    points: Sequence[ChartPoint], target: Band | None, usual: Band | None, unit: str, places: int
) -> tuple[list[Shape], float]:
    entries: list[tuple[tuple[Plain, ...], str]] = []
    if any(p.measured for p in points):
        entries.append(((_mark(7, -4, True),), "measured"))
    if any(not p.measured for p in points):
        entries.append(((_mark(7, -4, False),), "forecast"))
    for band, kind in ((target, "target"), (usual, "usual")):
        if band is not None:
            swatch: tuple[Plain, ...] = (
                Rect(0, -10, 14, 12, kind),
                Line(0, -10, 14, -10, f"{kind}-edge"),
                Line(0, 2, 14, 2, f"{kind}-edge"),
            )
            entries.append((swatch, f"{kind} {band_words(band, unit, places)}"))
    shapes: list[Shape] = []
    x, line = 10.0, TOP + HEIGHT + 40
    for swatch, words in entries:
        width = 20 + kind_width(words, "label") + 14
        if x > 10 and x + width > WIDTH + 10:
            x, line = 10.0, line + 18
        shapes += [moved(s, x, line) for s in swatch]
        shapes.append(Text(x + 20, line, words, "label", "start"))
        x += width
    return shapes, line + 8


def moved(shape: Plain, dx: float, dy: float) -> Plain:
    """The same shape elsewhere."""
    if isinstance(shape, Rect):
        return Rect(shape.x + dx, shape.y + dy, shape.w, shape.h, shape.kind)
    if isinstance(shape, Line):
        return Line(shape.x1 + dx, shape.y1 + dy, shape.x2 + dx, shape.y2 + dy, shape.kind)
    if isinstance(shape, Circle):
        return Circle(shape.cx + dx, shape.cy + dy, shape.r, shape.kind)
    if isinstance(shape, Polyline):
        return Polyline(tuple((x + dx, y + dy) for x, y in shape.points), shape.kind, shape.closed)
    return Text(shape.x + dx, shape.y + dy, shape.text, shape.kind, shape.anchor)


def band_words(band: Band, unit: str, places: int) -> str:
    """'0.15 to 0.45 mm'."""
    return f"{figure(band[0], places)} to {figure(band[1], places)} {unit}"


def _description(
    points: Sequence[ChartPoint], target: Band | None, usual: Band | None, unit: str, places: int
) -> str:
    parts = ["No readings yet."] if not points else []
    if target is not None:
        parts.append(f"Target {band_words(target, unit, places)}.")
    if usual is not None:
        parts.append(f"Usual {band_words(usual, unit, places)}.")
    parts += [f"{_point_words(point, unit, places)}." for point in points]
    return " ".join(parts)


def _point_words(point: ChartPoint, unit: str, places: int) -> str:
    day = f"{point.at.day} {MONTHS[point.at.month - 1]} {point.at.year}"
    kind = "" if point.measured else ", forecast"
    label = f" ({point.label})" if point.label else ""
    said = point.said or f"{figure(point.value, places)} {unit}"
    return f"{day}: {said}{kind}{label}"
