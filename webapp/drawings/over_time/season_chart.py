"""A neck through the seasons: as measured against by itself, what was turned, what is ahead, and the air."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil, floor, isfinite

from webapp.drawings.over_time.axes import TimeAxis, thin, time_axis
from webapp.drawings.over_time.chart import (
    Band,
    Entry,
    Panel,
    band_words,
    band_words_or_entries,
    bands_of,
    beside,
    dates_below,
    known_ends,
    legend,
    occupied,
    reach_line,
    ticks_width,
    value_axis,
    value_ticks,
)
from webapp.drawings.shapes import (
    WIDTH,
    Circle,
    Drawing,
    Line,
    LinkedShape,
    Plain,
    Polyline,
    Shape,
    Text,
    kind_width,
)
from webapp.physics.numbers import say_number
from webapp.setups.dates import short_date

HEAD, HEIGHT, BETWEEN, AIR_HEIGHT = 26.0, 140.0, 34.0, 42.0
FLAG, LANES = 20.0, 2
# Points nearer to each other than this cannot be told apart, let alone hit.
POINT_COLUMN, AIR_COLUMN = 4.0, 1.0
MOST_POINTS = 120
AIR_GAP = timedelta(days=10)  # over a longer one the air is not known, and no line is drawn
# Of a normal spread: the half that holds 1 in 2 against the half that holds 9 in 10.
EVEN_ODDS = 0.410


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
    """Something turned: when, in words, its number in the list and where its line there is."""

    at: datetime
    words: str
    href: str
    number: int


@dataclass(frozen=True)
class AirValue:
    """One day's humidity, percent."""

    at: datetime
    humidity: float


@dataclass(frozen=True)
class Ahead:
    """What is expected one day, give or take `half` in 9 of 10 such cases; in the chart's unit."""

    at: datetime
    value: float
    half: float


@dataclass(frozen=True)
class SeasonSeries:
    """What the chart shows; everything in order of time, every time with its zone.

    `ahead` begins today, and `rests_on` says what it takes for granted.
    """

    points: Sequence[SeasonPoint]
    turns: Sequence[SeasonTurn]
    air: Sequence[AirValue]
    target: Band
    usual: Band
    unit: str
    places: int
    ahead: Sequence[Ahead] = ()
    rests_on: str = ""


@dataclass(frozen=True)
class _Flag:
    """Turns under one flag: where it stands, in which lane, and what it says."""

    turn: SeasonTurn
    x: float
    lane: int
    more: int = 0

    @property
    def text(self) -> str:
        return f"{self.turn.number}{'+' if self.more else ''}"

    @property
    def width(self) -> float:
        return max(18.0, kind_width(self.text, "disc-number") + 10)

    @property
    def words(self) -> str:
        return f"{self.turn.words} And {self.more} more soon after." if self.more else self.turn.words


@dataclass(frozen=True)
class _Sheet:
    """The two panels and the flags above them."""

    main: Panel
    air: Panel | None
    flags: tuple[_Flag, ...]

    @property
    def foot(self) -> float:
        return self.air.bottom if self.air else self.main.bottom


def season_chart(series: SeasonSeries, title: str) -> Drawing:
    """Draw at least one reading. Raises ``ValueError`` for none, and for values that are not finite."""
    if not series.points or not all(isfinite(p.measured) for p in series.points):
        raise ValueError("the chart needs at least one reading, each of a finite value")
    air = [a for a in series.air if a.at >= series.points[0].at - timedelta(days=30)]
    sheet = _sheet(series, air)
    panel = sheet.main
    drawn = _drawn(series.points, panel)
    lines: list[Plain] = [*_fan(panel, series.ahead), *_lines(panel, drawn), *_today(sheet, series.ahead)]
    marks = _marks(sheet, drawn)
    flat = [*lines, *(s for m in marks for s in m.shapes if s.kind != "hit")]
    words, entries = band_words_or_entries(panel, series.usual, series.target, occupied(flat))
    shapes: list[Shape] = [
        Text(1, panel.top - 13, series.unit, "caption", "start"),
        *bands_of(panel, series.usual, series.target),
        *value_axis(panel),
        *_air(sheet.air, air),
        *dates_below(panel.time, sheet.foot),
        *words,
        *lines,
        *marks,
    ]
    shapes += _numbers(series, panel, [*flat, *words])
    below, bottom = legend([*_entries(series), *entries], sheet.foot + 26)
    notes = [_FAN.format(series.rests_on)] if len(series.ahead) > 1 else []
    if len(drawn) < len(series.points):
        notes.append(_thinned(len(drawn), len(series.points)))
    told = _description(series, sheet.flags, air)
    return Drawing(WIDTH, bottom, (*shapes, *below), title, told, note=" ".join(notes))


_FAN = "The fan is what to expect {}: right 1 in 2 (dark), 9 in 10 (light)."


def _thinned(drawn: int, all_: int) -> str:
    return (
        f"Of {all_:,} readings {drawn:,} are drawn: the lowest and the highest where they are too close to "
        "tell apart. The table and the CSV have all of them."
    )


def _sheet(series: SeasonSeries, air: Sequence[AirValue]) -> _Sheet:
    values = [v for p in series.points for v in (*known_ends(p.measured, p.reach), p.by_itself)]
    values += [*series.target, *series.usual]
    values += [v for a in series.ahead for v in (a.value - a.half, a.value + a.half)]
    ticks = value_ticks(values, HEIGHT)
    lasts = [series.points[-1].at, *(a.at for a in air[-1:]), *(a.at for a in series.ahead[-1:])]
    left = max(ticks_width(ticks), kind_width("100", "label") + 10)
    time = time_axis(series.points[0].at, max(lasts), left, WIDTH - 8)
    flags = tuple(_flags(series.turns, time))
    top = HEAD + FLAG * max((flag.lane for flag in flags), default=0)
    main = Panel(time, ticks[0][0], ticks[-1][0], top, HEIGHT, ticks)
    return _Sheet(main, _air_panel(main, air) if air else None, flags)


def _air_panel(main: Panel, air: Sequence[AirValue]) -> Panel:
    low = max(0, floor((min(a.humidity for a in air) - 2) / 10) * 10)
    high = min(100, max(ceil((max(a.humidity for a in air) + 2) / 10) * 10, low + 20))
    ticks = ((float(low), f"{low}"), (float(high), f"{high}"))
    return Panel(main.time, low, high, main.bottom + BETWEEN, AIR_HEIGHT, ticks)


def _flags(turns: Sequence[SeasonTurn], time: TimeAxis) -> list[_Flag]:
    """In two lanes so that none covers another; where even that is too little, one stands for several."""
    flags: list[_Flag] = []
    for turn in turns:
        if not time.since <= turn.at <= time.until:
            continue
        x = time.x(turn.at)
        new = [_Flag(turn, x, lane) for lane in range(LANES)]
        free = next((one for one in new if _free(one, flags)), None)
        if free:
            flags.append(free)
        else:
            last = flags[-1]
            flags[-1] = replace(last, more=last.more + 1)
    return flags


def _free(flag: _Flag, flags: Sequence[_Flag]) -> bool:
    """Room beside the others of its lane, each as wide as it may yet become; none in the paper's edge."""
    before = [_reach(f) for f in flags if f.lane == flag.lane]
    left, right = _reach(flag)
    if any(abs(f.x - flag.x) < 6 for f in flags):
        return False
    return all(end + 2 <= left or right + 2 <= begin for begin, end in before)


def _reach(flag: _Flag) -> tuple[float, float]:
    """What a flag may cover once it stands for several: it then grows to the side that it flies to."""
    grown, left = flag.width + kind_width("+", "disc-number"), _flag_left(flag)
    return (left, left + grown) if left == flag.x else (flag.x - grown, flag.x)


def _flag_left(flag: _Flag) -> float:
    """It flies to the right of its pole, at the paper's edge to the left."""
    return flag.x if flag.x + flag.width <= WIDTH else flag.x - flag.width


def _drawn(points: Sequence[SeasonPoint], panel: Panel) -> list[SeasonPoint]:
    """All of them, or what is left when they lie too close; the chosen one and both ends always stay."""
    if len(points) <= MOST_POINTS:
        return list(points)
    values: tuple[Callable[[SeasonPoint], float], ...] = (lambda p: p.measured, lambda p: p.by_itself)
    kept: list[SeasonPoint] = thin(points, lambda p: panel.x(p.at), values, POINT_COLUMN)
    ends = (points[0], points[-1])
    always = [p for p in points if (p.chosen or p in ends) and p not in kept]
    return sorted([*kept, *always], key=lambda p: p.at)


def _fan(panel: Panel, ahead: Sequence[Ahead]) -> Iterator[Plain]:
    """What is expected: the line, 1 in 2 about it dark, 9 in 10 light."""
    if len(ahead) < 2:
        return
    for share in (1.0, EVEN_ODDS):
        over = [(panel.x(a.at), panel.y(a.value + share * a.half)) for a in ahead]
        under = [(panel.x(a.at), panel.y(a.value - share * a.half)) for a in reversed(ahead)]
        yield Polyline((*over, *under), "fan", closed=True)
    yield Polyline(tuple((panel.x(a.at), panel.y(a.value)) for a in ahead), "ahead")


def _today(sheet: _Sheet, ahead: Sequence[Ahead]) -> Iterator[Plain]:
    if not ahead:
        return
    panel = sheet.main
    x, width = panel.x(ahead[0].at), kind_width("today", "halo") + 4
    yield Line(x, panel.top, x, panel.bottom, "centre")
    if sheet.air:
        yield Line(x, sheet.air.top, x, sheet.air.bottom, "centre")
    before = x - width >= panel.time.left
    yield Text(x - 4 if before else x + 4, panel.bottom - 6, "today", "halo", "end" if before else "start")


def _lines(panel: Panel, points: Sequence[SeasonPoint]) -> Iterator[Plain]:
    """Both lines, and the ranges that were read."""
    for point in points:
        if point.reach is not None:
            yield reach_line(panel, point.at, point.reach)
    yield Polyline(tuple((panel.x(p.at), panel.y(p.measured)) for p in points), "series")
    yield Polyline(tuple((panel.x(p.at), panel.y(p.by_itself)) for p in points), "itself")


def _marks(sheet: _Sheet, points: Sequence[SeasonPoint]) -> list[LinkedShape]:
    """Links in order of time, so that a keyboard goes through readings and turns as they happened."""
    made: list[tuple[datetime, LinkedShape]] = [(p.at, _point(sheet.main, p)) for p in points]
    made += [(f.turn.at, _flag(sheet, f)) for f in sheet.flags]
    return [link for _, link in sorted(made, key=lambda one: one[0])]


def _point(panel: Panel, point: SeasonPoint) -> LinkedShape:
    x, y = panel.x(point.at), panel.y(point.measured)
    marks: list[Plain] = [Circle(x, y, 10, "hit"), Circle(x, y, 3.4, "point")]
    if point.chosen:
        marks += [Circle(x, y, 7, "chosen"), Circle(x, panel.y(point.by_itself), 4, "chosen")]
    return LinkedShape(point.href, point.words, tuple(marks), id=point.id, current=point.chosen)


def _flag(sheet: _Sheet, flag: _Flag) -> LinkedShape:
    """A numbered flag, and its pole down through both panels that spares the words between them."""
    panel = sheet.main
    top, left = 1.0 + FLAG * flag.lane, _flag_left(flag)
    foot = top + FLAG - 2
    poles: list[Plain] = [Line(flag.x, foot, flag.x, panel.bottom, "turned")]
    if sheet.air:
        poles.append(Line(flag.x, sheet.air.top, flag.x, sheet.air.bottom, "turned"))
    tail = left + flag.width if left == flag.x else left
    notch = tail + (-4 if left == flag.x else 4)
    cloth = ((flag.x, top), (tail, top), (notch, (top + foot) / 2), (tail, foot), (flag.x, foot))
    middle = (flag.x + notch) / 2
    marks = (
        *poles,
        Polyline(cloth, "ink-fill", closed=True),
        Text(middle, (top + foot) / 2, flag.text, "disc-number"),
    )
    return LinkedShape(flag.turn.href, flag.words, marks)


def _numbers(series: SeasonSeries, panel: Panel, drawn: Sequence[Plain]) -> Iterator[Plain]:
    """The newest reading and the furthest that is expected, each where it has a free place near its mark."""
    newest, places = series.points[-1], series.places
    # Lines may run under a number: it has a halo.
    marks: list[Plain] = [s for s in drawn if isinstance(s, (Circle, Text)) or s.kind == "ink-fill"]
    y = panel.y(newest.measured)
    wanted = [(panel.x(newest.at), y, y, say_number(newest.measured, places), "halo-strong")]
    if len(series.ahead) > 1:
        middle = sum(series.target) / 2
        far = max(series.ahead, key=lambda a: abs(a.value - middle))
        x, fan = panel.x(far.at), (panel.y(far.value + far.half), panel.y(far.value - far.half))
        spot = Circle(x, panel.y(far.value), 4.5, "after")
        marks.append(spot)
        yield spot
        wanted.insert(0, (x, *fan, say_number(far.value, places), "do"))
    for x, over, under, text, kind in wanted:
        label = beside(x, (over - 10, under + 21), text, kind, panel, marks)
        if label:
            marks.append(label)
            yield label


def _air(panel: Panel | None, air: Sequence[AirValue]) -> Iterator[Plain]:
    if panel is None:
        return
    yield Text(1, panel.top - 13, "air, % humidity", "caption", "start")
    yield from value_axis(panel)
    shown = thin(air, lambda a: panel.x(a.at), (lambda a: a.humidity,), AIR_COLUMN)
    shown = [a for a in shown if panel.time.since <= a.at <= panel.time.until]
    for some in _unbroken(shown):
        yield Polyline(tuple((panel.x(a.at), panel.y(a.humidity)) for a in some), "air")


def _unbroken(air: Sequence[AirValue]) -> Iterator[list[AirValue]]:
    part: list[AirValue] = list(air[:1])
    for before, now in pairwise(air):
        if now.at - before.at > AIR_GAP:
            yield part
            part = []
        part.append(now)
    if part:
        yield part


def _entries(series: SeasonSeries) -> list[Entry]:
    entries: list[Entry] = [
        ((Line(0, -4, 14, -4, "series"), Circle(7, -4, 3.4, "point")), "as measured"),
        ((Line(0, -4, 14, -4, "itself"),), "the neck by itself"),
    ]
    if len(series.ahead) > 1:
        wide, narrow = ((0, -12), (14, -12), (14, 2), (0, 2)), ((0, -8), (14, -8), (14, -2), (0, -2))
        fan = tuple(Polyline(points, "fan", closed=True) for points in (wide, narrow))
        entries.append((fan, "expected"))
    return entries


def _description(series: SeasonSeries, flags: Sequence[_Flag], air: Sequence[AirValue]) -> str:
    points, unit, places = series.points, series.unit, series.places
    measured = [v for p in points for v in known_ends(p.measured, p.reach)]
    itself = [p.by_itself for p in points]
    parts = [
        f"{len(points):,} readings from {short_date(points[0].at)} to {short_date(points[-1].at)}.",
        f"As measured: {band_words((min(measured), max(measured)), unit, places)}.",
        f"The neck by itself: {band_words((min(itself), max(itself)), unit, places)}.",
        f"Target {band_words(series.target, unit, places)}.",
        f"Usual {band_words(series.usual, unit, places)}.",
    ]
    if flags:
        days = [short_date(flag.turn.at) for flag in flags[:12]]
        parts.append(f"Turned: {', '.join(days)}{' and later' * (len(flags) > 12)}.")
    if series.ahead:
        last = series.ahead[-1]
        value, half = say_number(last.value, places), say_number(last.half, places)
        resting = f" {series.rests_on}" if series.rests_on else ""
        when = short_date(last.at)
        parts.append(f"Expected on {when}{resting}: {value} {unit}, give or take {half}.")
    if air:
        low, high = min(a.humidity for a in air), max(a.humidity for a in air)
        parts.append(f"Humidity {low:.0f} to {high:.0f} %.")
    return " ".join(parts)
