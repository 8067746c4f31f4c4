"""The strip: the one scale for verdicts. Where a place lies between its bands now, and after the turn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import isfinite

from webapp.drawings.shapes import (
    WIDTH,
    Drawing,
    Line,
    Plain,
    Polyline,
    Rect,
    Text,
    bottom_of,
    kind_width,
    place_row,
)
from webapp.drawings.units import Units, fine
from webapp.setups.states import Word, said
from webapp.trade.words import Check

Pair = tuple[float, float]

LEFT, RIGHT = 10.0, WIDTH - 10.0
# So wide the target stays, whatever was read: room for the two numbers of its edges.
LEAST_TARGET = 72.0
# What lies far outside stands beyond a break in the axis, in a room of this width.
BROKEN = 52.0
TOP_ROW, BAND_TOP, BAND_BOTTOM, EDGE_ROW, ROW_STEP = 14.0, 32.0, 50.0, 67.0, 18.0
GAP = 6.0


def ends_of(check: Check) -> tuple[str, str]:
    """The words at the two ends of a check's scale: straight and bowed, flat and sharp, close and far."""
    low, high = (said(check, word).removeprefix("a touch ") for word in (Word.TOUCH_LOW, Word.TOUCH_HIGH))
    return low, high


@dataclass(frozen=True)
class Value:
    """A number and what it may be out by, mm or cents: of a reading the tool's error, else half of 90 %."""

    value: float
    give: float = 0.0

    @property
    def ends(self) -> Pair:
        return self.value - self.give, self.value + self.give


@dataclass(frozen=True)
class Range:
    """What a card or an ear tells: between two values, of which one may be infinite."""

    low: float
    high: float

    @property
    def ends(self) -> Pair:
        return self.low, self.high


Read = Value | Range


def short(read: Read, units: Units) -> str:
    """'0.60', '0.30 to 0.60', 'over 0.90', 'under 0.10'."""
    if isinstance(read, Value):
        return units.number(read.value)
    if not isfinite(read.high):
        return f"over {units.number(read.low)}"
    if not isfinite(read.low):
        return f"under {units.number(read.high)}"
    return f"{units.number(read.low)} to {units.number(read.high)}"


def in_full(read: Read, units: Units) -> str:
    """With the unit, and with what it may be out by."""
    if isinstance(read, Range):
        return units.with_unit(short(read, units))
    give = "" if not read.give else f", give or take {units.number(read.give).removeprefix('+')}"
    return f"{units.full(read.value)}{give}"


@dataclass(frozen=True)
class Scale:
    """Where values stand: true from `low` to `high`, and beyond them behind a break, up to `ends`."""

    low: float
    high: float
    left: float
    right: float
    ends: Pair
    squeezed: float = BROKEN

    @property
    def true_left(self) -> float:
        return self.left + (self.squeezed if self.ends[0] < self.low else 0.0)

    @property
    def true_right(self) -> float:
        return self.right - (self.squeezed if self.ends[1] > self.high else 0.0)

    def x(self, value: float) -> float:
        """The place of a value; what is beyond both ends stands at the end."""
        value = min(max(value, self.ends[0]), self.ends[1])
        if value < self.low:
            share = (self.low - value) / (self.low - self.ends[0])
            return self.left + self.squeezed * (0.45 - 0.25 * share)
        if value > self.high:
            share = (value - self.high) / (self.ends[1] - self.high)
            return self.right - self.squeezed * (0.45 - 0.25 * share)
        share = (value - self.low) / (self.high - self.low)
        return self.true_left + share * (self.true_right - self.true_left)

    def breaks(self) -> tuple[float, ...]:
        """Where the axis is broken."""
        found = []
        if self.ends[0] < self.low:
            found.append(self.left + self.squeezed * 0.72)
        if self.ends[1] > self.high:
            found.append(self.right - self.squeezed * 0.72)
        return tuple(found)


def scale_for(
    values: Sequence[float],
    usual: Pair,
    target: Pair,
    left: float = LEFT,
    right: float = RIGHT,
    least_target: float = LEAST_TARGET,
    squeezed: float = BROKEN,
) -> Scale:
    """A scale that holds both bands and, where the target stays wide enough, every value unbroken."""
    low, high = min(usual[0], target[0]), max(usual[1], target[1])
    room = 0.08 * (high - low) or 0.5
    low, high = low - room, high + room
    told = [v for v in values if isfinite(v)]
    far = min([low, *(v - room for v in told)]), max([high, *(v + room for v in told)])
    for ends in (far, (far[0], high), (low, far[1])):
        scale = Scale(*ends, left, right, far, squeezed)
        if scale.x(target[1]) - scale.x(target[0]) >= least_target:
            return scale
    return Scale(low, high, left, right, far, squeezed)


# the band, the reading


def band(scale: Scale, usual: Pair, target: Pair, top: float, bottom: float) -> Iterator[Plain]:
    """Usual with dotted edges, target with edges of ink: the band that every strip, row and chart shares."""
    u0, u1, t0, t1 = (scale.x(v) for v in (*usual, *target))
    yield Rect(u0, top, u1 - u0, bottom - top, "usual")
    yield from (Line(x, top, x, bottom, "usual-edge") for x in (u0, u1))
    yield Rect(t0, top, t1 - t0, bottom - top, "target")
    yield from (Line(x, top - 3, x, bottom + 3, "band-edge") for x in (t0, t1))


def broken(scale: Scale, y: float) -> Iterator[Plain]:
    """The sign of a broken axis."""
    for x in scale.breaks():
        yield Rect(x - 3, y - 4, 6, 8, "paper")
        yield from (Line(x + dx - 2, y + 5, x + dx + 2, y - 5, "outline") for dx in (-3.0, 3.0))


def pointer(scale: Scale, now: Read, top: float, bottom: float) -> Iterator[Plain]:
    """A reading from `top` (of the band) down: a pointer under its error, or a bar between two pointers."""
    low, high = now.ends
    if isinstance(now, Value):
        if now.give:
            x1, x2, y = scale.x(low), scale.x(high), top - 11
            yield Line(x1, y, x2, y, "outline")
            yield from (Line(x, y - 3, x, y + 3, "outline") for x in (x1, x2))
        yield from _tip(scale.x(now.value), top, bottom)
        return
    x1 = scale.x(low) if isfinite(low) else scale.left
    x2 = scale.x(high) if isfinite(high) else scale.right
    yield Line(x1, top - 7, x2, top - 7, "range-bar")
    for x, value, inwards in ((x1, low, 1), (x2, high, -1)):
        yield from _tip(x, top, bottom) if isfinite(value) else _open_end(x, inwards, top - 7)


def _tip(x: float, top: float, bottom: float) -> Iterator[Plain]:
    yield Line(x, top - 4, x, bottom, "ruling")
    yield Polyline(((x - 6, top - 10), (x + 6, top - 10), (x, top)), "ink-fill", closed=True)


def _open_end(x: float, inwards: int, y: float) -> Iterator[Plain]:
    """Nobody knows how far it goes: an arrowhead."""
    yield Polyline(((x, y), (x + 8 * inwards, y - 5), (x + 8 * inwards, y + 5)), "ink-fill", closed=True)


def _diamond(x: float, y: float, r: float) -> Polyline:
    return Polyline(((x, y - r * 1.15), (x + r, y), (x, y + r * 1.15), (x - r, y)), "after", closed=True)


def _forecast(scale: Scale, after: Value, later: Sequence[float], y: float) -> Iterator[Plain]:
    if after.give:
        low, high = after.ends
        yield Line(scale.x(low), y, scale.x(high), y, "after-bar")
    yield from (_diamond(scale.x(value), y, 3.5) for value in later)
    yield _diamond(scale.x(after.value), y, 6.0)


# the labels


@dataclass
class _Row:
    """One line of labels: what is taken, and what finds room beside it."""

    baseline: float
    taken: list[Pair] = field(default_factory=list)

    def spot(self, x: float, width: float, slide: float) -> float | None:
        """The free middle nearest to `x`, no further from it than `slide`; None where there is none."""
        half, low, high = width / 2, width / 2, WIDTH - width / 2
        tried = [x, low, high, *(e for a, b in self.taken for e in (a - GAP - half, b + GAP + half))]
        free = [
            c for c in tried
            if low - 1e-6 <= c <= high + 1e-6 and abs(c - x) <= slide
            and all(c + half + GAP <= a + 1e-6 or c - half - GAP >= b - 1e-6 for a, b in self.taken)
        ]  # fmt: skip
        return min(free, key=lambda c: abs(c - x), default=None)

    def take(self, x: float, text: str, kind: str) -> Text:
        half = kind_width(text, kind) / 2
        self.taken.append((x - half, x + half))
        return Text(x, self.baseline, text, kind)

    def try_to(self, x: float, text: str, kind: str) -> Text | None:
        """The label where some of it still stands at `x`."""
        width = kind_width(text, kind)
        spot = self.spot(x, width, max(0.0, width / 2 - 5))
        return None if spot is None else self.take(spot, text, kind)


def _labels(
    scale: Scale, units: Units, target: Pair, now: Read | None, after: Value | None, ends: tuple[str, str]
) -> Iterator[Plain]:
    rows = [_Row(TOP_ROW), _Row(EDGE_ROW)]
    numbers = units.number(target[0]), f"{units.number(target[1])} {units.label}"
    places = place_row([scale.x(v) for v in target], [kind_width(t, "label") for t in numbers], 0, WIDTH, GAP)
    yield from (rows[1].take(x, text, "label") for x, text in zip(places, numbers, strict=True))
    if after is not None:
        word = "after" if now else "expected"
        yield _after_label(rows, scale.x(after.value), f"{word} {units.number(after.value)}")
    if now is not None:
        middle = (scale.x(now.ends[0]) + scale.x(now.ends[1])) / 2
        place = scale.x(now.value) if isinstance(now, Value) else middle
        yield from _now_and_ends(rows, place, f"now {short(now, units)}", ends)
    else:
        yield from _ends(rows, ends)
    if after is not None:
        x = scale.x(after.value)
        free = len(rows) > 2 and not any(a - 2 <= x <= b + 2 for a, b in rows[1].taken)
        yield Line(x, BAND_BOTTOM, x, BAND_BOTTOM + (20 if free else 5), "leader-accent")


def _after_label(rows: list[_Row], x: float, text: str) -> Text:
    """Beside the numbers of the target's edges, else in a row of its own, which has room."""
    label = rows[1].try_to(x, text, "do")
    if label is None:
        rows.append(_Row(EDGE_ROW + ROW_STEP))
        label = rows[-1].try_to(x, text, "do")
    assert label is not None
    return label


def _now_and_ends(rows: list[_Row], x: float, text: str, ends: tuple[str, str]) -> Iterator[Plain]:
    """Beside the reading if it may give way a little, else wherever there is room."""
    both = [_end(_Row(TOP_ROW), side, word) for side, word in enumerate(ends)]
    beside = _Row(TOP_ROW, [(box[0], box[2]) for box in (label.box for label in both)])
    label = beside.try_to(x, text, "number")
    if label is not None:
        yield from (label, *both)
        return
    label = rows[0].try_to(x, text, "number")
    assert label is not None
    yield label
    yield from _ends(rows, ends)


def _end(row: _Row, side: int, word: str) -> Text:
    left = side == 0
    return Text(1.0 if left else WIDTH - 1.0, row.baseline, word, "caption", "start" if left else "end")


def _ends(rows: list[_Row], ends: tuple[str, str]) -> Iterator[Plain]:
    """Both in one row where they can be, else one here and one there.

    One that finds no room is left out: the reading stands there then, and its verdict says the word.
    """
    boxes = [_end(rows[0], side, word).box for side, word in enumerate(ends)]

    def fits(row: _Row, side: int) -> bool:
        left, _, right, _ = boxes[side]
        return all(right + GAP <= a or left - GAP >= b for a, b in row.taken)

    together = next((row for row in rows if fits(row, 0) and fits(row, 1)), None)
    for side, word in enumerate(ends):
        row = together or next((row for row in rows if fits(row, side)), None)
        if row is not None:
            row.taken.append((boxes[side][0], boxes[side][2]))
            yield _end(row, side, word)


def _target_word(scale: Scale, target: Pair, marks: Sequence[Pair]) -> Iterator[Plain]:
    """The word in the widest free part of the target, where it has room."""
    t0, t1 = (scale.x(v) for v in target)
    free, room, middle = t0, 0.0, t0
    for left, right in sorted([*(m for m in marks if m[1] > t0 and m[0] < t1), (t1, t1)]):
        room, middle = max((room, middle), (left - free, (free + left) / 2))
        free = max(free, right)
    if room >= kind_width("target", "label") + 6:
        yield Text(middle, BAND_BOTTOM - 4.5, "target", "label")


# the drawings


def strip(
    name: str,
    units: Units,
    usual: Pair,
    target: Pair,
    now: Read | None = None,
    after: Value | None = None,
    later: Sequence[float] = (),
    *,
    ends: tuple[str, str] = ("low", "high"),
) -> Drawing:
    """One place against its bands; all values mm or cents, said in `units` (`CENTS` for cents).

    `now` is what was read or is believed, `after` what is expected of the turn, `later` what further turns
    like it should read. Raises ``ValueError`` for a value that is no number.
    """
    shown = fine(units, target[1])
    values = [*_ends_told(now), *_ends_told(after), *later]
    if any(value != value for value in values):
        raise ValueError("a strip needs numbers")
    scale = scale_for(values, usual, target)
    shapes: list[Plain] = [*band(scale, usual, target, BAND_TOP, BAND_BOTTOM)]
    shapes.append(Line(LEFT, BAND_BOTTOM, RIGHT, BAND_BOTTOM, "outline"))
    shapes += broken(scale, BAND_BOTTOM)
    shapes += _target_word(scale, target, _in_the_way(scale, now, after, later))
    if after is not None:
        shapes += _forecast(scale, after, later, (BAND_TOP + BAND_BOTTOM) / 2)
    if now is not None:
        shapes += pointer(scale, now, BAND_TOP, BAND_BOTTOM)
    shapes += _labels(scale, shown, target, now, after, ends)
    words = _description(shown, usual, target, now, after, later, ends)
    return Drawing(WIDTH, bottom_of(shapes) + 0.5, tuple(shapes), f"{name} against its target", words)


def _ends_told(read: Read | None) -> Pair | tuple[()]:
    return () if read is None else read.ends


def _in_the_way(scale: Scale, now: Read | None, after: Value | None, later: Sequence[float]) -> list[Pair]:
    marks = [(scale.x(v) - 5, scale.x(v) + 5) for v in later]
    if after is not None:
        x, (low, high) = scale.x(after.value), after.ends
        marks.append((min(scale.x(low), x - 8), max(scale.x(high), x + 8)))
    points = () if now is None else (now.value,) if isinstance(now, Value) else now.ends
    return [*marks, *((scale.x(v) - 3, scale.x(v) + 3) for v in points)]


def _description(
    units: Units,
    usual: Pair,
    target: Pair,
    now: Read | None,
    after: Value | None,
    later: Sequence[float],
    ends: tuple[str, str],
) -> str:
    parts = [f"Target {units.band(*target)}, usual {units.band(*usual)}."]
    parts.insert(0, "Not measured." if now is None else f"Now {in_full(now, units)}.")
    if after is not None:
        parts.append(f"{'After the turn' if now else 'Expected'} {in_full(after, units)}.")
    if later:
        parts.append(f"Then {', '.join(units.full(v) for v in later)}.")
    parts.append(f"To the left is {ends[0]}, to the right {ends[1]}.")
    return " ".join(parts)
