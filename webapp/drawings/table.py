"""Rows of figures over a drawing, one column for each place in it, and the keys that explain its signs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from webapp.drawings.shapes import GROWN, TEXT_SIZE, WIDTH, Text, kind_width, place_row

EDGE = 2.0
CLEAR = 2.0


@dataclass(frozen=True)
class TableRow:
    """One text for each column; an empty one leaves its place free."""

    texts: Sequence[str]
    kind: str = "label"

    @property
    def line_height(self) -> float:
        return TEXT_SIZE[self.kind] * GROWN + 1.5


def columns(xs: Sequence[float], rows: Sequence[TableRow]) -> list[float]:
    """Where the columns over places `xs` (rising) stand: as broad as their texts, or as there is room for."""
    widest = max((kind_width(t, row.kind) for row in rows for t in row.texts), default=0.0)
    width = min(widest, (WIDTH - 2 * EDGE) / max(len(xs), 1) - CLEAR)
    return place_row(xs, [width] * len(xs), EDGE, WIDTH - EDGE, CLEAR)


def table(centres: Sequence[float], rows: Sequence[TableRow], top: float) -> tuple[list[Text], float]:
    """The rows' texts below `top`, and where they end; texts too broad for one line take turns on several."""
    shapes: list[Text] = []
    y = top
    for row in rows:
        kept = [_kept_in(c, t, row.kind) for c, t in zip(centres, row.texts, strict=True)]
        lines = _lines(row, kept)
        for text, centre, line in zip(row.texts, kept, lines, strict=True):
            if text:
                base = y + row.line_height * line + 0.8 * TEXT_SIZE[row.kind] * GROWN
                shapes.append(Text(centre, base, text, row.kind))
        y += row.line_height * (1 + max(lines, default=0))
    return shapes, y


def flow(widths: Sequence[float], left: float, top: float, line: float) -> list[tuple[float, float]]:
    """Where the entries of a key stand, one after the other; what does not fit begins another line."""
    places: list[tuple[float, float]] = []
    x, y = left, top
    for width in widths:
        if x > left and x + width > WIDTH:
            x, y = left, y + line
        places.append((x, y))
        x += width
    return places


def _lines(row: TableRow, centres: Sequence[float]) -> list[int]:
    """One line where the texts clear each other, else they take turns on two, three, ..."""
    written = [i for i, text in enumerate(row.texts) if text]
    for count in range(1, len(written) + 1):
        pairs = zip(written, written[count:], strict=False)
        if all(
            centres[b] - centres[a]
            >= (kind_width(row.texts[a], row.kind) + kind_width(row.texts[b], row.kind)) / 2
            for a, b in pairs
        ):
            turns = {index: turn % count for turn, index in enumerate(written)}
            return [turns.get(i, 0) for i in range(len(row.texts))]
    return [0] * len(row.texts)


def _kept_in(column: float, text: str, kind: str) -> float:
    half = kind_width(text, kind) / 2
    return min(max(column, half + EDGE), max(WIDTH - half - EDGE, WIDTH / 2))
