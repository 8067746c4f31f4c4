"""Rows of figures under a drawing, one column for each place in it, moved sideways no more than they must."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from webapp.drawings.shapes import WIDTH, Polyline, Shape, Text, kind_width, place_row

ROW = 15.5
EDGE = 2.0
CLEAR = 2.0


@dataclass(frozen=True)
class TableRow:
    """`sets_width`: the columns are made wide enough for it; other rows take more lines where they must."""

    heading: str
    texts: Sequence[str]
    kind: str = "label"
    sets_width: bool = False


def table(
    places: Sequence[tuple[float, float]], rows: Sequence[TableRow], top: float
) -> tuple[list[Shape], float]:
    """The rows' shapes below `top` with leaders up to `places` (x rising, y), and where they end."""
    rows, column_width = _fitted(rows, len(places))
    columns = place_row([x for x, _ in places], [column_width] * len(places), EDGE, WIDTH - EDGE, CLEAR)
    shapes: list[Shape] = []
    for (x, y), column in zip(places, columns, strict=True):
        shapes.append(Polyline(((x, y), (x, top - 12), (column, top + 4)), "leader"))
    y = top + 6
    for row in rows:
        if row.heading:
            y += ROW + 6
            shapes.append(Text(10, y, row.heading, "caption", "start"))
            y += 2
        centres = [_kept_in(c, t, row.kind) for c, t in zip(columns, row.texts, strict=True)]
        lines = _lines(row, centres)
        for text, centre, line in zip(row.texts, centres, lines, strict=True):
            if text:
                shapes.append(Text(centre, y + ROW * (1 + line), text, row.kind))
        y += ROW * (1 + max(lines, default=0))
    return shapes, y + 8


def _fitted(rows: Sequence[TableRow], count: int) -> tuple[list[TableRow], float]:
    """The rows and a column width; where bold figures would be too broad for all the columns, plain ones."""
    width = _widest(rows)
    if count * (width + CLEAR) <= WIDTH - 2 * EDGE:
        return list(rows), width
    plain = [replace(row, kind="label") if row.sets_width else row for row in rows]
    return plain, min(_widest(plain), (WIDTH - 2 * EDGE) / max(count, 1) - CLEAR)


def _widest(rows: Sequence[TableRow]) -> float:
    return max((kind_width(t, row.kind) for row in rows if row.sets_width for t in row.texts), default=0.0)


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
