"""A neck through the seasons: as measured against by itself, what was turned, and the air beneath."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil, floor, isfinite, log10

from webapp.drawings.chart import (
    MONTHS,
    Band,
    band_words,
    figure,
    known_ends,
    moved,
    reach_line,
    round_step,
)
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
from webapp.drawings.time_axis import TimeAxis, thin, time_axis

TOP, HEIGHT = 44.0, 170.0
AIR_TOP, AIR_HEIGHT = TOP + HEIGHT + 26.0, 60.0
# Points nearer to each other than this cannot be told apart, let alone hit.
POINT_COLUMN, TURN_COLUMN, AIR_COLUMN = 4.0, 6.0, 1.0
MOST_POINTS = 120
# Over a longer gap the air is not known, and no line is drawn.
AIR_GAP = timedelta(days=10)


@dataclass(frozen=True)
class SeasonPoint:
    """One reading in the chart's unit; `words` say all about it, `href` leads to more. Where a range was
    read, `reach` is that (an end may be infinite), and `measured` stands for it.
    """

    at: datetime
    measured: float
    by_itself: float
    words: str
    href: str
    id: str
    chosen: bool = False
    reach: Band | None = None


@dataclass(frozen=True)
class SeasonTurn:
    """Something turned: when, in words, and where its line in the list is."""

    at: datetime
    words: str
    href: str


@dataclass(frozen=True)
class AirValue:
    """One day's humidity, percent."""

    at: datetime
    humidity: float


@dataclass(frozen=True)
class SeasonSeries:
    """What the chart shows; everything in order of time, every time with its zone."""

    points: Sequence[SeasonPoint]
    turns: Sequence[SeasonTurn]
    air: Sequence[AirValue]
    target: Band
    usual: Band
    unit: str
    places: int


@dataclass(frozen=True)
class _Frame:
    time: TimeAxis
    low: float
    high: float
    ticks: tuple[float, ...]
    decimals: int

    def x(self, at: datetime) -> float:
        return self.time.x(at)

    def y(self, value: float) -> float:
        return TOP + (self.high - value) / (self.high - self.low) * HEIGHT


def season_chart(series: SeasonSeries, title: str) -> Drawing:
    """Draw at least one reading. Raises ``ValueError`` for none, and for values that are not finite."""
    if not series.points or not all(isfinite(p.measured) for p in series.points):
        raise ValueError("the chart needs at least one reading, each of a finite value")
    air = [a for a in series.air if a.at >= series.points[0].at - timedelta(days=30)]
    frame = _frame(series, air)
    drawn = _drawn(series.points, frame)
    turns = _grouped(series.turns, frame)
    shapes: list[Shape] = [
        Text(8, 14, series.unit, "caption", "start"),
        *_bands(frame, series),
        *_value_axis(frame),
        *_air(frame, air),
        *_dates(frame, bool(air)),
        *_lines(frame, drawn),
        *_marks(frame, drawn, turns, bool(air)),
    ]
    legend, bottom = _legend(series, bool(turns), bool(air))
    note = "" if len(drawn) == len(series.points) else _thinned(len(drawn), len(series.points))
    words = _description(series, turns, air)
    return Drawing(WIDTH, bottom, (*shapes, *legend), title, words, note=note)


def _thinned(drawn: int, all_: int) -> str:
    return (
        f"Of {all_:,} readings {drawn:,} are drawn: the lowest and the highest where they are too close to "
        "tell apart. The table and the CSV have all of them."
    )


def _frame(series: SeasonSeries, air: Sequence[AirValue]) -> _Frame:
    values = [v for p in series.points for v in (*known_ends(p.measured, p.reach), p.by_itself)]
    values += [*series.target, *series.usual]
    low, high = min(values), max(values)
    if high - low < 1e-6 * max(1.0, abs(high), abs(low)):
        low, high = low - 0.5, high + 0.5
    step = round_step((high - low) / 5)
    ticks = tuple(i * step for i in range(floor(low / step), ceil(high / step) + 1))
    decimals = max(0, -floor(log10(step) + 1e-9))
    left = 14 + max([kind_width(figure(t, decimals), "label") for t in ticks] + [kind_width("100", "label")])
    last = max(series.points[-1].at, air[-1].at) if air else series.points[-1].at
    time = time_axis(series.points[0].at, last, left, WIDTH - 12)
    return _Frame(time, ticks[0], ticks[-1], ticks, decimals)


def _drawn(points: Sequence[SeasonPoint], frame: _Frame) -> list[SeasonPoint]:
    """All of them, or what is left when they lie too close; the chosen one and both ends always stay."""
    if len(points) <= MOST_POINTS:
        return list(points)
    values = (lambda p: p.measured, lambda p: p.by_itself)
    kept = thin(points, lambda p: frame.x(p.at), values, POINT_COLUMN)
    ends = (points[0], points[-1])
    always = [p for p in points if (p.chosen or p in ends) and p not in kept]
    return sorted([*kept, *always], key=lambda p: p.at)


def _grouped(turns: Sequence[SeasonTurn], frame: _Frame) -> list[SeasonTurn]:
    """Turns that would cover each other become one."""
    groups: list[list[SeasonTurn]] = []
    for turn in turns:
        if not frame.time.since <= turn.at <= frame.time.until:
            continue
        if groups and frame.x(turn.at) - frame.x(groups[-1][0].at) < TURN_COLUMN:
            groups[-1].append(turn)
        else:
            groups.append([turn])
    return [_as_one(group) for group in groups]


def _as_one(group: Sequence[SeasonTurn]) -> SeasonTurn:
    first, more = group[0], len(group) - 1
    return SeasonTurn(first.at, f"{first.words} And {more} more soon after.", first.href) if more else first


def _bands(frame: _Frame, series: SeasonSeries) -> Iterator[Shape]:
    left, right = frame.time.left, frame.time.right
    for (low, high), kind in ((series.usual, "usual"), (series.target, "target")):
        yield Rect(left, frame.y(high), right - left, frame.y(low) - frame.y(high), kind)
        yield Line(left, frame.y(high), right, frame.y(high), f"{kind}-edge")
        yield Line(left, frame.y(low), right, frame.y(low), f"{kind}-edge")


def _value_axis(frame: _Frame) -> Iterator[Shape]:
    left = frame.time.left
    yield Line(left, TOP, left, TOP + HEIGHT, "thin")
    for tick in frame.ticks[:: 1 if len(frame.ticks) <= 9 else 2]:
        yield Line(left - 4, frame.y(tick), left, frame.y(tick), "thin")
        yield Text(left - 6, frame.y(tick) + 4, figure(tick, frame.decimals), "label", "end")


def _floor_y(with_air: bool) -> float:
    return AIR_TOP + AIR_HEIGHT if with_air else TOP + HEIGHT


def _dates(frame: _Frame, with_air: bool) -> Iterator[Shape]:
    floor_y = _floor_y(with_air)
    yield Line(frame.time.left, TOP + HEIGHT, frame.time.right, TOP + HEIGHT, "thin")
    if with_air:
        yield Line(frame.time.left, floor_y, frame.time.right, floor_y, "thin")
    for x, text in frame.time.ticks():
        half = kind_width(text, "label") / 2
        yield Line(x, TOP + HEIGHT, x, TOP + HEIGHT + 4, "thin")
        yield Line(x, floor_y, x, floor_y + 5, "thin")
        # A label that would hang over the edge is left out: its neighbours say where it is.
        if half + 2 <= x <= WIDTH - half - 2:
            yield Text(x, floor_y + 18, text, "label")


def _lines(frame: _Frame, points: Sequence[SeasonPoint]) -> Iterator[Shape]:
    """Both lines, and the ranges that were read."""
    for point in points:
        if point.reach is not None:
            yield reach_line(frame.x(point.at), point.reach, frame.low, frame.high, frame.y)
    yield Polyline(tuple((frame.x(p.at), frame.y(p.measured)) for p in points), "series")
    yield Polyline(tuple((frame.x(p.at), frame.y(p.by_itself)) for p in points), "itself")


def _marks(
    frame: _Frame, points: Sequence[SeasonPoint], turns: Sequence[SeasonTurn], with_air: bool
) -> list[Shape]:
    """Links in order of time, so that a keyboard goes through readings and turns as they happened."""
    made: list[tuple[datetime, LinkedShape]] = [(p.at, _point(frame, p)) for p in points]
    made += [(t.at, _turn(frame, t, with_air)) for t in turns]
    return [link for _, link in sorted(made, key=lambda one: one[0])]


def _point(frame: _Frame, point: SeasonPoint) -> LinkedShape:
    x, y = frame.x(point.at), frame.y(point.measured)
    marks: list[Plain] = [Circle(x, y, 10, "hit"), Circle(x, y, 3.4, "point")]
    if point.chosen:
        marks += [Circle(x, y, 7, "chosen"), Circle(x, frame.y(point.by_itself), 4, "chosen")]
    return LinkedShape(point.href, point.words, tuple(marks), id=point.id, current=point.chosen)


def _turn(frame: _Frame, turn: SeasonTurn, with_air: bool) -> LinkedShape:
    """A flag, and a line down through both panels that spares the words between them."""
    x = frame.x(turn.at)
    flag = ((x - 5, TOP - 16), (x + 5, TOP - 16), (x, TOP - 7))
    marks: list[Plain] = [Line(x, TOP - 7, x, TOP + HEIGHT, "turned")]
    if with_air:
        marks.append(Line(x, AIR_TOP, x, AIR_TOP + AIR_HEIGHT, "turned"))
    marks += [Polyline(flag, "ink-fill", closed=True), Circle(x, TOP - 12, 10, "hit")]
    return LinkedShape(turn.href, turn.words, tuple(marks))


def _air(frame: _Frame, air: Sequence[AirValue]) -> Iterator[Shape]:
    if not air:
        return
    low = max(0, floor((min(a.humidity for a in air) - 2) / 10) * 10)
    high = min(100, max(ceil((max(a.humidity for a in air) + 2) / 10) * 10, low + 20))

    def y(humidity: float) -> float:
        return AIR_TOP + (high - humidity) / (high - low) * AIR_HEIGHT

    left = frame.time.left
    yield Text(8, AIR_TOP - 11, "% humidity", "caption", "start")
    yield Line(left, AIR_TOP, left, AIR_TOP + AIR_HEIGHT, "thin")
    for tick in (low, (low + high) // 2, high):
        yield Line(left - 4, y(tick), left, y(tick), "thin")
        yield Text(left - 6, y(tick) + 4, f"{tick}", "label", "end")
    shown = thin(air, lambda a: frame.x(a.at), (lambda a: a.humidity,), AIR_COLUMN)
    shown = [a for a in shown if frame.time.since <= a.at <= frame.time.until]
    for some in _unbroken(shown):
        yield Polyline(tuple((frame.x(a.at), y(a.humidity)) for a in some), "air")


def _unbroken(air: Sequence[AirValue]) -> Iterator[list[AirValue]]:
    part: list[AirValue] = list(air[:1])
    for before, now in pairwise(air):
        if now.at - before.at > AIR_GAP:
            yield part
            part = []
        part.append(now)
    if part:
        yield part


def _legend(series: SeasonSeries, turned: bool, with_air: bool) -> tuple[list[Shape], float]:
    entries: list[tuple[tuple[Plain, ...], str]] = [
        ((Line(0, -4, 14, -4, "series"), Circle(7, -4, 3.4, "point")), "as measured"),
        ((Line(0, -4, 14, -4, "itself"),), "the neck by itself"),
    ]
    if turned:
        flag = Polyline(((2, -9), (12, -9), (7, 0)), "ink-fill", closed=True)
        entries.append(((flag,), "turned"))
    for band, kind in ((series.target, "target"), (series.usual, "usual")):
        swatch: tuple[Plain, ...] = (
            Rect(0, -10, 14, 12, kind),
            Line(0, -10, 14, -10, f"{kind}-edge"),
            Line(0, 2, 14, 2, f"{kind}-edge"),
        )
        entries.append((swatch, f"{kind} {band_words(band, series.unit, series.places)}"))
    shapes: list[Shape] = []
    x, line = 10.0, _floor_y(with_air) + 40
    for marks, words in entries:
        width = 20 + kind_width(words, "label") + 12
        if x > 10 and x + width > WIDTH + 10:
            x, line = 10.0, line + 18
        shapes += [moved(s, x, line) for s in marks]
        shapes.append(Text(x + 20, line, words, "label", "start"))
        x += width
    return shapes, line + 8


def _description(series: SeasonSeries, turns: Sequence[SeasonTurn], air: Sequence[AirValue]) -> str:
    points, unit, places = series.points, series.unit, series.places
    measured = [v for p in points for v in known_ends(p.measured, p.reach)]
    itself = [p.by_itself for p in points]
    parts = [
        f"{len(points):,} readings from {_day(points[0].at)} to {_day(points[-1].at)}.",
        f"As measured: {band_words((min(measured), max(measured)), unit, places)}.",
        f"The neck by itself: {band_words((min(itself), max(itself)), unit, places)}.",
    ]
    parts.append(f"Target {band_words(series.target, unit, places)}.")
    parts.append(f"Usual {band_words(series.usual, unit, places)}.")
    if turns:
        parts.append(
            f"Turned: {', '.join(_day(t.at) for t in turns[:12])}{' and later' * (len(turns) > 12)}."
        )
    if air:
        low, high = min(a.humidity for a in air), max(a.humidity for a in air)
        parts.append(f"Humidity {low:.0f} to {high:.0f} %.")
    return " ".join(parts)


def _day(at: datetime) -> str:
    return f"{at.day} {MONTHS[at.month - 1]} {at.year}"
