"""One reading over time on its bands, and the pieces that every chart over time is made of."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import ceil, floor, isfinite

from webapp.drawings.over_time.axes import TimeAxis, decimals_of, round_step, time_axis
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
    extent,
    kind_width,
)
from webapp.physics.numbers import say_number
from webapp.setups.dates import short_date

HEAD, HEIGHT = 25.0, 132.0
# A grown line of text, and a word inside a band with a little air.
LINE, WORD_ROOM = 18.0, 20.0
Band = tuple[float, float]


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
class Panel:
    """Values against time: `low` to `high` from `top` + `height` up to `top`."""

    time: TimeAxis
    low: float
    high: float
    top: float
    height: float
    ticks: tuple[tuple[float, str], ...]

    @property
    def bottom(self) -> float:
        return self.top + self.height

    def x(self, at: datetime) -> float:
        """Where a moment stands."""
        return self.time.x(at)

    def y(self, value: float) -> float:
        """Where a value stands."""
        return self.top + (self.high - value) / (self.high - self.low) * self.height


def value_ticks(values: Sequence[float], height: float) -> tuple[tuple[float, str], ...]:
    """Round values around all of these, the outer ones beyond them, that find room one over another."""
    low, high = min(values), max(values)
    if high - low < 1e-6 * max(1.0, abs(high), abs(low)):
        low, high = low - 0.5, high + 0.5
    step = round_step((high - low) / 5)
    while True:
        first, last = floor(low / step - 0.1), ceil(high / step + 0.1)
        if (last - first) * LINE <= height:
            return tuple((n * step, say_number(n * step, decimals_of(step))) for n in range(first, last + 1))
        step = round_step(step * 1.5)


def ticks_width(ticks: Sequence[tuple[float, str]]) -> float:
    """The room that the numbers need beside their axis."""
    return max(kind_width(text, "label") for _, text in ticks) + 10


def known_ends(value: float, reach: Band | None) -> tuple[float, ...]:
    """What a chart has to have room for: a value, or the ends of a range that are no open ones."""
    return (value, *(end for end in reach or () if isfinite(end)))


def reach_line(panel: Panel, at: datetime, reach: Band) -> Line:
    """A range as an upright line; an open end runs to the edge of the panel."""
    x = panel.x(at)
    return Line(x, panel.y(max(reach[0], panel.low)), x, panel.y(min(reach[1], panel.high)), "reach")


def bands_of(panel: Panel, usual: Band | None, target: Band | None) -> Iterator[Plain]:
    """The strip's band, laid on its side: usual with dotted edges, target with edges of ink."""
    left, right = panel.time.left, panel.time.right
    for band, kind, edge in ((usual, "usual", "usual-edge"), (target, "target", "band-edge")):
        if band is not None:
            y1, y2 = panel.y(band[1]), panel.y(band[0])
            yield Rect(left, y1, right - left, y2 - y1, kind)
            yield from (Line(left, y, right, y, edge) for y in (y1, y2))


def value_axis(panel: Panel) -> Iterator[Plain]:
    """The numbers at the left, and the line below."""
    left = panel.time.left
    for value, text in panel.ticks:
        yield Line(left - 4, panel.y(value), left, panel.y(value), "thin")
        yield Text(left - 7, panel.y(value) + 4.5, text, "label", "end")
    yield Line(left, panel.bottom, panel.time.right, panel.bottom, "outline")


def dates_below(time: TimeAxis, y: float) -> Iterator[Plain]:
    """Months and years under an axis at `y`."""
    for x, text in time.ticks():
        half = kind_width(text, "label") / 2
        yield Line(x, y, x, y + 5, "thin")
        # A label that would hang over the edge is left out: its neighbours say where it is.
        if half <= x <= WIDTH - half:
            yield Text(x, y + 20, text, "label")


def swatch(kind: str) -> tuple[Plain, ...]:
    """A piece of a band for the legend."""
    edge = "band-edge" if kind == "target" else "usual-edge"
    return Rect(0, -11, 14, 12, kind), Line(0, -11, 14, -11, edge), Line(0, 1, 14, 1, edge)


Entry = tuple[tuple[Plain, ...], str]


def band_words_or_entries(
    panel: Panel, usual: Band | None, target: Band | None, taken: Callable[[float, float, float, float], bool]
) -> tuple[list[Text], list[Entry]]:
    """Each band's name inside it where there is a free place, else its entry for the legend.

    `taken` tells whether anything is drawn between left, top, right, bottom.
    """
    words: list[Text] = []
    entries: list[Entry] = []
    strips: list[tuple[str, list[Band]]] = []
    if target is not None:
        strips.append(("target", [target]))
    if usual is not None:
        beside = (
            [(usual[0], min(target[0], usual[1])), (max(target[1], usual[0]), usual[1])] if target else []
        )
        strips.append(("usual", [b for b in beside if b[1] > b[0]] if target else [usual]))
    for name, parts in strips:
        word = next(filter(None, (_word_in(panel, name, part, taken) for part in parts)), None)
        if word is None:
            entries.append((swatch(name), name))
        else:
            words.append(word)
    return words, entries


def _word_in(
    panel: Panel, name: str, part: Band, taken: Callable[[float, float, float, float], bool]
) -> Text | None:
    top, bottom = panel.y(part[1]), panel.y(part[0])
    if bottom - top < WORD_ROOM:
        return None
    width, left, right = kind_width(name, "label"), panel.time.left + 6, panel.time.right - 6
    for n in range(9):
        for y in (bottom - 6, top + 15):
            x = left + n / 8 * (right - left - width)
            if x >= left and not taken(x, y - 13, x + width, y + 4):
                return Text(x, y, name, "label", "start")
    return None


def legend(entries: Sequence[Entry], top: float) -> tuple[list[Plain], float]:
    """Swatches and words in as many lines as they need; also the foot of it all."""
    shapes: list[Plain] = []
    x, line = 4.0, top + 14
    for marks, words in entries:
        width = 20 + kind_width(words, "label") + 12
        if x > 4 and x + width > WIDTH + 12:
            x, line = 4.0, line + LINE
        shapes += [moved(s, x, line) for s in marks]
        shapes.append(Text(x + 20, line, words, "label", "start"))
        x += width
    return shapes, line + 5 if entries else top


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
    raise TypeError(f"a legend has no {shape.shape}")


def occupied(shapes: Sequence[Plain]) -> Callable[[float, float, float, float], bool]:
    """Whether any of these lies between left, top, right, bottom; a line counts by its points."""
    boxes = [box for shape in shapes for box in _boxes(shape)]

    def taken(left: float, top: float, right: float, bottom: float) -> bool:
        return any(a < right and c > left and b < bottom and d > top for a, b, c, d in boxes)

    return taken


def _boxes(shape: Plain) -> Iterator[tuple[float, float, float, float]]:
    """What a shape covers; a line is cut into short pieces, since it crosses most of its frame."""
    if not isinstance(shape, (Line, Polyline)) or (isinstance(shape, Polyline) and shape.closed):
        yield extent(shape)
        return
    points = ((shape.x1, shape.y1), (shape.x2, shape.y2)) if isinstance(shape, Line) else shape.points
    for (x1, y1), (x2, y2) in zip(points, points[1:], strict=False):
        pieces = max(1, ceil(max(abs(x2 - x1), abs(y2 - y1)) / 6))
        for n in range(pieces):
            a, b = n / pieces, (n + 1) / pieces
            xs, ys = (x1 + a * (x2 - x1), x1 + b * (x2 - x1)), (y1 + a * (y2 - y1), y1 + b * (y2 - y1))
            yield min(xs) - 1, min(ys) - 1, max(xs) + 1, max(ys) + 1


def beside(
    x: float, lines: Sequence[float], text: str, kind: str, panel: Panel, drawn: Sequence[Plain]
) -> Text | None:
    """A label on one of the lines, the upper one first, that covers none of `drawn`; None where it would."""
    taken = occupied(drawn)
    half = kind_width(text, kind) / 2
    for dx in (0.0, -half, half):
        for y in lines:
            label = Text(min(max(x + dx, panel.time.left + half), WIDTH - half), y, text, kind)
            left, top, right, bottom = label.box
            if top >= 0 and bottom <= panel.bottom and not taken(left, top, right, bottom):
                return label
    return None


def band_words(band: Band, unit: str, places: int) -> str:
    """'0.15 to 0.45 mm'."""
    return f"{say_number(band[0], places)} to {say_number(band[1], places)} {unit}"


# one reading over time


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
    panel = _panel(ordered, [band for band in (usual, target) if band is not None])
    marks = _marks(panel, ordered, unit_label, places)
    flat = [s for m in marks for s in (m.shapes if isinstance(m, LinkedShape) else (m,)) if s.kind != "hit"]
    words, entries = band_words_or_entries(panel, usual, target, occupied(flat))
    if any(not p.measured for p in ordered):
        entries = [((Circle(7, -5, 4, "point"),), "measured"), ((_diamond(7, -5),), "forecast"), *entries]
    shapes: list[Shape] = [
        Text(1, 13, unit_label, "caption", "start"),
        *bands_of(panel, usual, target),
        *value_axis(panel),
        *(dates_below(panel.time, panel.bottom) if ordered else ()),
        *words,
        *marks,
    ]
    if not ordered:
        shapes.append(Text((panel.time.left + panel.time.right) / 2, HEAD + 16, "No readings yet", "halo"))
    below, bottom = legend(entries, panel.bottom + 26)
    words_told = _description(ordered, target, usual, unit_label, places)
    return Drawing(WIDTH, bottom, (*shapes, *below), title, words_told)


def _panel(points: Sequence[ChartPoint], bands: Sequence[Band]) -> Panel:
    values = [v for p in points for v in known_ends(p.value, p.reach)]
    values = [*values, *(edge for band in bands for edge in band)] or [0.0, 1.0]
    ticks = value_ticks(values, HEIGHT)
    times = [p.at for p in points] or [datetime(2000, 1, 1, tzinfo=UTC)]
    time = time_axis(times[0], times[-1], ticks_width(ticks), WIDTH - 8)
    return Panel(time, ticks[0][0], ticks[-1][0], HEAD, HEIGHT, ticks)


def _marks(panel: Panel, points: Sequence[ChartPoint], unit: str, places: int) -> list[Shape]:
    """The line first, so that no point is hidden; measured points solid, forecasts open and dashed."""
    shapes: list[Shape] = []
    for a, b in zip(points, points[1:], strict=False):
        kind = "series" if a.measured and b.measured else "chord"
        shapes.append(Line(panel.x(a.at), panel.y(a.value), panel.x(b.at), panel.y(b.value), kind))
    for point in points:
        x, y = panel.x(point.at), panel.y(point.value)
        if point.reach is not None:
            shapes.append(reach_line(panel, point.at, point.reach))
        mark = Circle(x, y, 4, "point") if point.measured else _diamond(x, y)
        if point.href:
            words = _point_words(point, unit, places)
            shapes.append(LinkedShape(point.href, words, (Circle(x, y, 12, "hit"), mark)))
        else:
            shapes.append(mark)
    return shapes


def _diamond(x: float, y: float) -> Polyline:
    return Polyline(((x, y - 5), (x + 5, y), (x, y + 5), (x - 5, y)), "after", closed=True)


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
    kind = "" if point.measured else ", forecast"
    label = f" ({point.label})" if point.label else ""
    said = point.said or f"{say_number(point.value, places)} {unit}"
    return f"{short_date(point.at)}: {said}{kind}{label}"
