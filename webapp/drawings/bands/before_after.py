"""Before and after: what was off, every row laid on its own target so that the band lines up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import isfinite

from webapp.drawings.bands.rows import LINE, Columns, columns
from webapp.drawings.bands.strip import Pair, Range, Read, Scale, Value, broken, in_full, short
from webapp.drawings.marks import REPAIRER
from webapp.drawings.shapes import (
    WIDTH,
    Circle,
    Drawing,
    Line,
    Plain,
    Polyline,
    Rect,
    Text,
    arrow,
    kind_width,
)
from webapp.drawings.units import Units, fine

ROW, HEAD, GROUP = 27.0, 22.0, 20.0
ARROW = " \N{RIGHTWARDS ARROW} "
# The target takes this share of the plot, in its middle.
TARGET_SHARE = 0.4
# What lies too far out stands behind a break of this width.
SQUEEZED = 26.0


@dataclass(frozen=True)
class Change:
    """One place: its bands, its readings (mm or cents), the verdict's word (or `REPAIRER`) as it is said.

    `before` is None where it was never read before, `after` where nothing was turned: left for a repairer, or
    for later. One of them is there.
    """

    name: str
    units: Units
    usual: Pair
    target: Pair
    before: Read | None
    after: Read | None
    word: str
    said: str

    @property
    def value(self) -> str:
        """'0.60 → 0.30'."""
        return ARROW.join(short(read, self.units) for read in self.told)

    @property
    def told(self) -> tuple[Read, ...]:
        return tuple(read for read in (self.before, self.after) if read is not None)


def before_after(changes: Sequence[Change]) -> Drawing:
    """A row for each, in the order given; the unit stands above its column, anew where it changes.

    Raises ``ValueError`` for no rows.
    """
    if not changes:
        raise ValueError("no rows to lay on their targets")
    rows = [replace(c, units=fine(c.units, c.target[1])) for c in changes]
    cols = columns([c.name for c in rows], [c.value for c in rows])
    target = _target_places(cols)
    back: list[Plain] = []
    front: list[Plain] = list(_head(cols, target, rows[0].units))
    top, unit = HEAD, rows[0].units.label
    for row in rows:
        if row.units.label != unit:
            unit = row.units.label
            front.append(Text(cols.value_right, top + 14, unit, "caption", "end"))
            top += GROUP
        height = ROW + (cols.lines(row.name, row.value) - 1) * LINE
        scale = _scale(row, cols, target)
        back += _usual(scale, row, top, height)
        front += _row(scale, row, cols, top + height / 2)
        top += height
        front.append(Line(0, top, WIDTH, top, "faint"))
    left, right = target
    back.append(Rect(left, HEAD, right - left, top - HEAD, "target"))
    edges = [Line(x, HEAD - 2, x, top + 3, "band-edge") for x in target]
    return Drawing(WIDTH, top + 4, (*back, *edges, *front), "Before and after", _words(rows))


def _target_places(cols: Columns) -> Pair:
    middle, half = (
        (cols.plot_left + cols.plot_right) / 2,
        (cols.plot_right - cols.plot_left) * TARGET_SHARE / 2,
    )
    return middle - half, middle + half


def _head(cols: Columns, target: Pair, units: Units) -> Iterator[Plain]:
    middle = (target[0] + target[1]) / 2
    half = kind_width("target", "strong") / 2 + 8
    yield Text(middle, 14, "target", "strong")
    yield Text(middle - half, 14, "low", "caption", "end")
    yield Text(middle + half, 14, "high", "caption", "start")
    if middle + half + kind_width("high", "caption") + 6 <= cols.value_right - kind_width(
        units.label, "caption"
    ):
        yield Text(cols.value_right, 14, units.label, "caption", "end")


def _scale(row: Change, cols: Columns, target: Pair) -> Scale:
    """True around the target, which stands where all targets stand; broken where a reading lies beyond."""
    # A teacher may aim at one value: then the usual band says how wide a step is.
    wide = row.target[1] - row.target[0] or row.usual[1] - row.usual[0] or 1.0
    mm = wide / (target[1] - target[0])
    told = [v for read in row.told for v in read.ends if isfinite(v)]
    middle = (row.target[0] + row.target[1]) / 2
    low = middle - wide / 2 - (target[0] - cols.plot_left) * mm
    high = middle + wide / 2 + (cols.plot_right - target[1]) * mm
    far = min([low, *told]), max([high, *told])
    room = SQUEEZED * mm
    low, high = low + room * (far[0] < low), high - room * (far[1] > high)
    return Scale(low, high, cols.plot_left, cols.plot_right, far, SQUEEZED)


def _usual(scale: Scale, row: Change, top: float, height: float) -> Iterator[Plain]:
    x1, x2 = (scale.x(v) for v in row.usual)
    yield Rect(x1, top, x2 - x1, height, "usual")
    yield from (
        Line(x, top, x, top + height, "usual-edge")
        for x, v in zip((x1, x2), row.usual, strict=True) if scale.low <= v <= scale.high
    )  # fmt: skip


def _row(scale: Scale, row: Change, cols: Columns, y: float) -> Iterator[Plain]:
    yield from broken(scale, y)
    if row.before is not None:
        yield from _dot(scale, row.before, y, "before")
    if row.after is not None:
        end = _centre(scale, row.after)
        start = end if row.before is None else _centre(scale, row.before)
        way = 1.0 if end >= start else -1.0
        if abs(end - start) > 20:
            yield from arrow(start + 5.5 * way, y, end - 6.5 * way, y, "ink", head=8)
        elif abs(end - start) > 11:
            yield Line(start + 5 * way, y, end - 5 * way, y, "outline")
        yield from _dot(scale, row.after, y, "ink-fill")
    yield from cols.row(row.name, row.value, row.word, y)


def _centre(scale: Scale, read: Read) -> float:
    if isinstance(read, Value):
        return scale.x(read.value)
    return (scale.x(read.low) + scale.x(read.high)) / 2


def _dot(scale: Scale, read: Read, y: float, kind: str) -> Iterator[Plain]:
    """A circle; a range as long as it reaches."""
    if isinstance(read, Range):
        middle = _centre(scale, read)
        half = max((scale.x(read.high) - scale.x(read.low)) / 2, 6.0)
        x1, x2 = middle - half, middle + half
        ends = ((x1, y), (x1 + 4, y - 4), (x2 - 4, y - 4), (x2, y), (x2 - 4, y + 4), (x1 + 4, y + 4))
        yield Polyline(ends, kind, closed=True)
    else:
        yield Circle(scale.x(read.value), y, 5.0, kind)


def _words(rows: Sequence[Change]) -> str:
    return " ".join(_said(row) for row in rows)


def _said(row: Change) -> str:
    moved = ", then ".join(in_full(read, row.units) for read in row.told)
    moved = f"left at {moved}" if row.after is None else moved
    verdict = REPAIRER if row.word == REPAIRER else row.said
    return f"{row.name}: {moved}, {verdict}; target {row.units.band(*row.target)}."
