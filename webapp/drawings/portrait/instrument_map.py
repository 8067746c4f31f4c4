"""The instrument standing, with a box for every check beside it: how each place is, and the way to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from webapp.drawings.marks import ink_of, mark
from webapp.drawings.portrait.outline import Place
from webapp.drawings.portrait.portrait import MARK, PAD, PLATE, Portrait, described, standing
from webapp.drawings.shapes import (
    GROWN,
    TEXT_SIZE,
    WIDTH,
    Circle,
    Drawing,
    LinkedShape,
    Rect,
    Shape,
    Text,
    kind_width,
    leader,
    place_row,
)
from webapp.drawings.units import MM, Units
from webapp.trade.spec import InstrumentSpec

TALLEST = 540.0
LEFT = 166.0  # the portrait's part of the width
BOX_X = 178.0
BOX_W = WIDTH - BOX_X - 1.0
INSIDE = 8.0
GAP = 6.0
ROW = TEXT_SIZE["number"] * GROWN + 1.0
LEAST = 44.0


@dataclass(frozen=True)
class MapPlace:
    """A check at its place: its name, its value as read, its verdict's `Word`, and where a tap leads.

    `said` is the verdict as this check says it ("too much bow"); the word itself where left empty.
    """

    place: str
    name: str
    value: str
    word: str
    href: str
    said: str = ""

    @property
    def verdict(self) -> str:
        return self.said or self.word

    @property
    def label(self) -> str:
        return f"{self.name}: {', '.join(part for part in (self.value, self.verdict) if part)}"


def instrument_map(spec: InstrumentSpec, places: Sequence[MapPlace], *, units: Units = MM) -> Drawing:
    """The portrait, head up, and at its right a box for each place, none over another, however many."""
    rows = 2 if all(_on_one_row(p) for p in places) else 3
    tall = max(LEAST, rows * ROW + 10.0)
    whole = _portrait(spec)
    height = max(whole.height, len(places) * (tall + GAP) - GAP + 2 * PAD)
    whole = whole.moved((LEFT - whole.width) / 2, (height - whole.height) / 2)
    at = {p: whole.point(p.place) for p in places}
    ordered = sorted(places, key=lambda p: (at[p][1], at[p][0]))
    middles = place_row([at[p][1] for p in ordered], [tall] * len(ordered), PAD, height - PAD, GAP)
    spots = place_row([at[p][1] for p in ordered], [2 * PLATE] * len(ordered), PAD, height - PAD, 2.0)
    shapes: list[Shape] = [*whole.shapes]
    for p, middle, spot in zip(ordered, middles, spots, strict=True):
        shapes.append(leader((at[p][0], spot), (LEFT, spot), (BOX_X, middle)))
    for p, middle, spot in zip(ordered, middles, spots, strict=True):
        shapes.append(_box(p, middle, (at[p][0], spot), tall, rows))
    words = " ".join([described(spec, units, "head up"), *(f"{p.label}." for p in ordered)])
    return Drawing(WIDTH, height, tuple(shapes), f"{spec.name} from the front, to scale", words)


def _portrait(spec: InstrumentSpec) -> Portrait:
    """As large as its part of the width and the height allow."""
    whole = standing(spec, TALLEST)
    if whole.width <= LEFT:
        return whole
    per_mm = whole.view.per_mm * (LEFT - 2 * PAD) / (whole.width - 2 * PAD)
    return standing(spec, per_mm=per_mm)


def _on_one_row(p: MapPlace) -> bool:
    """Whether value and verdict fit side by side, the largest text too."""
    wide = kind_width(p.value, "number") + kind_width(p.verdict, f"word-{ink_of(p.word)}")
    return wide + 8.0 <= BOX_W - 2 * INSIDE


def _box(p: MapPlace, middle: float, spot: Place, tall: float, rows: int) -> LinkedShape:
    top, right = middle - tall / 2, BOX_X + BOX_W
    first = top + 5.0 + 0.8 * ROW
    verdict = f"word-{ink_of(p.word)}"
    x, anchor = (BOX_X + INSIDE, "start") if rows == 3 else (right - INSIDE, "end")
    return LinkedShape(
        p.href,
        p.label,
        (
            Rect(BOX_X, top, BOX_W, tall, "plate", 3.0),
            Text(BOX_X + INSIDE, first, p.name, anchor="start"),
            *([Text(BOX_X + INSIDE, first + ROW, p.value, "number", "start")] if p.value else []),
            Text(x, first + ROW * (2 if rows == 3 and p.value else 1), p.verdict, verdict, anchor),
            *mark(p.word, right - INSIDE - MARK, top + 6.0 + MARK, MARK),
            Circle(*spot, PLATE, "plate"),
            *mark(p.word, *spot, MARK),
        ),
    )
