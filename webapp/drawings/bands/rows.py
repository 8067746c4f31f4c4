"""Rows of one list on one drawing: a name, what is plotted, the value, the mark; and strips side by side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

from webapp.drawings.bands.strip import Pair, Read, Scale, band, in_full, pointer, short
from webapp.drawings.marks import ink_of, mark
from webapp.drawings.over_time.axes import ticks_of
from webapp.drawings.shapes import WIDTH, Drawing, Line, Plain, Text, kind_width
from webapp.drawings.units import Units, fine

# A grown line of text and the space to the next.
LINE = 17.0
MARK_R = 7.5
GAP = 8.0
# Letters reach a little over their own place.
INSET = 1.0
# So much of the width is kept for what is plotted.
LEAST_PLOT = 112.0
# A strip in a row: the row, and its band.
ROW, ROW_BAND = 36.0, 14.0


@dataclass(frozen=True)
class Columns:
    """Where the columns lie; names begin at the left edge, values end at `value_right`."""

    name_width: float
    plot_left: float
    plot_right: float
    value_width: float

    @property
    def value_right(self) -> float:
        return WIDTH - 2 * MARK_R - 6

    @property
    def mark_x(self) -> float:
        return WIDTH - MARK_R - 0.5

    def name_lines(self, text: str) -> tuple[str, ...]:
        return wrapped(text, "label", self.name_width)

    def value_lines(self, text: str) -> tuple[str, ...]:
        return wrapped(text, "strong", self.value_width)

    def lines(self, name: str, value: str) -> int:
        """How many lines a row needs."""
        return max(len(self.name_lines(name)), len(self.value_lines(value)))

    def row(self, name: str, value: str, word: str, middle: float) -> list[Plain]:
        """The name at the left; the value, in the colour of its verdict, and the mark at the right."""
        shapes: list[Plain] = [
            *_stacked(self.name_lines(name), INSET, middle, "label", "start"),
            *_stacked(self.value_lines(value), self.value_right, middle, f"word-{ink_of(word)}", "end"),
            *mark(word, self.mark_x, middle, MARK_R),
        ]
        return shapes


def columns(names: Sequence[str], values: Sequence[str]) -> Columns:
    """As wide as the words need them; where that leaves too little for the plot, the words break."""
    name = max((kind_width(n, "label") for n in names), default=0.0)
    value = max((kind_width(v, "strong") for v in values), default=0.0)
    free = WIDTH - 2 * MARK_R - 6 - 2 * GAP - LEAST_PLOT
    if name + value > free:
        longest = max((kind_width(w, "strong") for v in values for w in parts(v)), default=0.0)
        name = max(free - value, min(name, 84.0))
        value = max(min(value, free - name), longest)
    right = WIDTH - 2 * MARK_R - 6 - value - GAP
    return Columns(name, INSET + name + GAP, right, value)


def parts(text: str) -> list[str]:
    """What must not be broken: an arrow or 'to' keeps with the number after it."""
    found: list[str] = []
    for word in text.split():
        if found and found[-1] in ("\N{RIGHTWARDS ARROW}", "to"):
            found[-1] += f" {word}"
        else:
            found.append(word)
    return found


def wrapped(text: str, kind: str, width: float) -> tuple[str, ...]:
    """The text in lines that are no wider than `width` where its words allow it."""
    lines: list[str] = []
    for part in parts(text):
        longer = f"{lines[-1]} {part}" if lines else part
        if lines and kind_width(longer, kind) > width + 1e-6:
            lines.append(part)
        else:
            lines[-1:] = [longer]
    return tuple(lines) or ("",)


def _stacked(lines: Sequence[str], x: float, middle: float, kind: str, anchor: str) -> list[Text]:
    top = middle - (len(lines) - 1) * LINE / 2 + 4.5
    return [Text(x, top + n * LINE, text, kind, anchor) for n, text in enumerate(lines)]


# side by side


@dataclass(frozen=True)
class StripRow:
    """One place: its bands, what is read or believed (mm or cents), the verdict's word and how it is said."""

    name: str
    usual: Pair
    target: Pair
    now: Read | None
    word: str
    said: str


def strip_row(scale: Scale, row: StripRow, top: float) -> Iterator[Plain]:
    """The strip without its labels, `top` being the top of its band; 15 units above it are the pointer's."""
    bottom = top + ROW_BAND
    yield from band(scale, row.usual, row.target, top, bottom)
    yield Line(scale.left, bottom, scale.right, bottom, "thin")
    if row.now is not None:
        yield from pointer(scale, row.now, top, bottom)


def side_by_side(name: str, units: Units, rows: Sequence[StripRow]) -> Drawing:
    """All rows on one scale, true from end to end. Raises ``ValueError`` for no rows."""
    if not rows:
        raise ValueError("no rows to lay side by side")
    said = fine(units, max(row.target[1] for row in rows))
    values = ["" if row.now is None else short(row.now, said) for row in rows]
    cols = columns([row.name for row in rows], values)
    scale = _scale(rows, cols)
    shapes: list[Plain] = []
    top = 0.0
    for row, value in zip(rows, values, strict=True):
        extra = (cols.lines(row.name, value) - 1) * 8.0
        band_top = top + 15 + extra
        shapes += strip_row(scale, row, band_top)
        shapes += cols.row(row.name, value, row.word, band_top + ROW_BAND / 2 - 3)
        top += ROW + extra * 1.5
    shapes += _axis(scale, said, top + 2)
    return Drawing(WIDTH, top + 28, tuple(shapes), f"{name} side by side", _words(said, rows))


def _scale(rows: Sequence[StripRow], cols: Columns) -> Scale:
    told = [v for row in rows for v in (*row.usual, *row.target, *(row.now.ends if row.now else ()))]
    low, high = min(v for v in told if isfinite(v)), max(v for v in told if isfinite(v))
    room = 0.04 * (high - low) or 0.5
    ends = low - room, high + room
    return Scale(*ends, cols.plot_left, cols.plot_right, ends)


def _axis(scale: Scale, units: Units, y: float) -> Iterator[Plain]:
    yield Line(scale.left, y, scale.right, y, "outline")
    yield Text(WIDTH - 1, y + 21, units.label, "caption", "end")
    room = WIDTH - kind_width(units.label, "caption") - 6
    low, high = scale.low * units.per_mm, scale.high * units.per_mm
    for tick, text in ticks_of(low, high, scale.right - scale.left, "caption"):
        x = scale.x(tick / units.per_mm)
        yield Line(x, y, x, y + 5, "thin")
        half = kind_width(text, "caption") / 2
        if half <= x <= room - half:
            yield Text(x, y + 21, text, "caption")


def _words(units: Units, rows: Sequence[StripRow]) -> str:
    parts = []
    for row in rows:
        now = row.said if row.now is None else f"{in_full(row.now, units)}, {row.said}"
        parts.append(f"{row.name}: {now}; target {units.band(*row.target)}, usual {units.band(*row.usual)}.")
    return " ".join(parts)
