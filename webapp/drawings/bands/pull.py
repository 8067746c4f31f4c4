"""The pull of each string as a bar, and what pulled there before."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from webapp.drawings.bands.rows import GAP, INSET
from webapp.drawings.shapes import WIDTH, Circle, Drawing, Line, Plain, Rect, Text, kind_width

ROW, BAR = 30.0, 16.0


@dataclass(frozen=True)
class Pull:
    """One string: what it pulls with, newtons, and how that is said; `before` where something else was on."""

    name: str
    newton: float
    said: str
    before: float | None = None


def pull_bars(pulls: Sequence[Pull], title: str) -> Drawing:
    """A row for each, all from nothing and to one scale. Raises ``ValueError`` where nothing pulls."""
    most = max((v for p in pulls for v in (p.newton, p.before or 0.0)), default=0.0)
    if most <= 0:
        raise ValueError("a string that pulls is needed")
    left = INSET + GAP + max(kind_width(p.name, "label") for p in pulls)
    right = WIDTH - 2 - GAP - max(kind_width(p.said, "strong") for p in pulls)
    shapes = [s for at, p in enumerate(pulls) for s in _row(p, at * ROW, left, (right - left) / most)]
    words = [f"{p.name}: {p.said}{'' if p.before is None else f', before {p.before:.0f} N'}." for p in pulls]
    return Drawing(WIDTH, len(pulls) * ROW, tuple(shapes), title, " ".join(words))


def _row(pull: Pull, top: float, left: float, per_newton: float) -> Iterator[Plain]:
    middle, end = top + ROW / 2, left + pull.newton * per_newton
    yield Text(INSET, middle + 4.5, pull.name, "label", "start")
    yield Rect(left, middle - BAR / 2, end - left, BAR, "target")
    yield Line(end, middle - BAR / 2, end, middle + BAR / 2, "ruling")
    if pull.before is not None:
        yield Circle(left + pull.before * per_newton, middle, 5.0, "before")
    yield Text(WIDTH - 2, middle + 4.5, pull.said, "strong", "end")
