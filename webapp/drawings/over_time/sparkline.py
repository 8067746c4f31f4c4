"""How each place has moved: a row each, a tiny line over time on its own target, and its last value."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isfinite

from webapp.drawings.bands.rows import LINE, Columns, columns
from webapp.drawings.bands.strip import Pair, Read, Scale, Value, in_full, scale_for, short
from webapp.drawings.over_time.axes import TimeAxis, time_axis
from webapp.drawings.over_time.chart import dates_below
from webapp.drawings.shapes import WIDTH, Circle, Drawing, Line, LinkedShape, Plain, Polyline, Rect, Shape
from webapp.drawings.units import Units, fine
from webapp.setups.dates import short_date

ROW, PLOT = 44.0, 32.0
# The target stays so high; what is further out than that leaves room for stands in so much at the edge.
LEAST_TARGET, PINNED = 9.0, 8.0


@dataclass(frozen=True)
class Moved:
    """One place through time: its target, its readings in order of time (mm or cents), and how it stands.

    `word` is the verdict's, `said` as its check says it; `href` leads to every reading.
    """

    name: str
    units: Units
    target: Pair
    readings: tuple[tuple[datetime, Read], ...]
    word: str
    said: str
    href: str

    @property
    def value(self) -> str:
        """The last value with its unit."""
        units = fine(self.units, self.target[1])
        return units.with_unit(short(self.readings[-1][1], units)) if self.readings else ""


def small_multiples(rows: Sequence[Moved]) -> Drawing:
    """Each row is a link, 44 units high. Raises ``ValueError`` where nothing was read at any place."""
    times = [at for row in rows for at, _ in row.readings]
    if not times:
        raise ValueError("nothing was read yet")
    cols = columns([row.name for row in rows], [row.value for row in rows])
    time = time_axis(min(times), max(times), cols.plot_left, cols.plot_right)
    shapes: list[Shape] = []
    top = 0.0
    for row in rows:
        height = max(ROW, cols.lines(row.name, row.value) * LINE + 8)
        shapes.append(LinkedShape(row.href, _said(row), tuple(_row(row, cols, time, top, height))))
        top += height
        shapes.append(Line(0, top, WIDTH, top, "faint"))
    shapes += dates_below(time, top)
    words = " ".join(f"{_said(row)}." for row in rows)
    return Drawing(WIDTH, top + 24, tuple(shapes), "How each place has moved", words)


def _row(row: Moved, cols: Columns, time: TimeAxis, top: float, height: float) -> Iterator[Plain]:
    yield Rect(0, top, WIDTH, height, "hit")
    yield from sparkline(row, time, top + (height - PLOT) / 2, PLOT)
    yield from cols.row(row.name, row.value, row.word, top + height / 2)


def sparkline(row: Moved, time: TimeAxis, top: float, height: float) -> Iterator[Plain]:
    """The line itself, between `time.left` and `time.right`; far readings are pinned to the edge."""
    told = [v for _, read in row.readings for v in read.ends if isfinite(v)]
    # Upright: what the strip has at its right stands here at the top.
    scale = scale_for(told, row.target, row.target, 0.0, height, LEAST_TARGET, PINNED)
    t0, t1 = (_y(scale, top, height, v) for v in row.target)
    yield Rect(time.left, t1, time.right - time.left, t0 - t1, "target")
    yield from (Line(time.left, y, time.right, y, "spark-edge") for y in (t0, t1))
    points = [(time.x(at), _y(scale, top, height, _middle(scale, read))) for at, read in row.readings]
    for (x, _), (_, read) in zip(points, row.readings, strict=True):
        if not isinstance(read, Value):
            ends = (_y(scale, top, height, v) for v in read.ends)
            yield Line(x, next(ends), x, next(ends), "reach")
    if len(points) > 1:
        yield Polyline(tuple(points), "series")
    if points:
        yield Circle(*points[-1], 3.5, "point")


def _y(scale: Scale, top: float, height: float, value: float) -> float:
    return top + height - scale.x(value)


def _middle(scale: Scale, read: Read) -> float:
    """Where a reading is drawn: a range in the middle of what can be seen of it."""
    if isinstance(read, Value):
        return read.value
    low, high = (min(max(v, scale.ends[0]), scale.ends[1]) for v in read.ends)
    return (low + high) / 2


def _said(row: Moved) -> str:
    units = fine(row.units, row.target[1])
    if not row.readings:
        return f"{row.name}: not measured"
    first, last = row.readings[0], row.readings[-1]
    since = f", {short(first[1], units)} on {short_date(first[0])}" if len(row.readings) > 1 else ""
    target = units.band(*row.target)
    return (
        f"{row.name}: {in_full(last[1], units)} on {short_date(last[0])}{since}; {row.said}; target {target}"
    )
