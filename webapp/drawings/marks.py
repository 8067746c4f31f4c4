"""The marks of the verdicts: each a shape of its own, that colour only repeats."""

from __future__ import annotations

from webapp.drawings.shapes import Circle, Line, Plain, Polyline
from webapp.setups.states import Word

REPAIRER = "for a repairer"  # no verdict, but a mark beside them
BOX = 8.0  # marks are described in a square that reaches from -8 to 8

_TICK = ((-3.4, 0.3), (-1.1, 2.7), (3.3, -2.3))
_ASK = ((-1.9, -2.2), (-1.0, -3.8), (0.9, -3.8), (1.9, -2.4), (1.5, -1.0), (0.0, 0.2), (0.0, 1.5))
_DIAMOND = ((0.0, -7.1), (7.1, 0.0), (0.0, 7.1), (-7.1, 0.0))


def ink_of(word: str) -> str:
    """The colour that goes with a word: "good", "warn", "bad" or "none"."""
    if word == Word.GOOD:
        return "good"
    if word in (Word.TOUCH_LOW, Word.TOUCH_HIGH, Word.CANNOT_TELL, REPAIRER):
        return "warn"
    return "bad" if word in (Word.TOO_LOW, Word.TOO_HIGH, Word.MEASURE_AGAIN) else "none"


def mark(word: str, x: float, y: float, r: float = 8.0) -> tuple[Plain, ...]:
    """The mark of a verdict (or of `REPAIRER`), centred at x, y and `r` high and wide to each side.

    Disc with tick: good. Open triangle: a touch low (point down) or high (point up). Solid triangle with a
    bar: too low, too high. Dashed ring: not measured. Square with an arrow that leaves it: for a repairer.
    A dashed ring with a tick is expected, a diamond asks to read again or for another tool, a dash is "not
    here".
    """
    at = _Square(x, y, r / BOX)
    if word == Word.GOOD:
        return Circle(x, y, r * 0.92, "mark-good"), at.line(_TICK, "mark-on")
    if word in (Word.TOUCH_LOW, Word.TOUCH_HIGH):
        up = -1.0 if word == Word.TOUCH_HIGH else 1.0
        return (at.line(((0.0, 5.8 * up), (6.4, -5.2 * up), (-6.4, -5.2 * up)), "mark-warn", closed=True),)
    if word in (Word.TOO_LOW, Word.TOO_HIGH):
        up = -1.0 if word == Word.TOO_HIGH else 1.0
        solid = at.line(((0.0, 3.6 * up), (6.6, -7.0 * up), (-6.6, -7.0 * up)), "mark-bad", closed=True)
        return solid, at.stroke(-6.2, 6.6 * up, 6.2, 6.6 * up, "mark-bad-bar")
    return _others(word, at)


def _others(word: str, at: _Square) -> tuple[Plain, ...]:
    if word == REPAIRER:
        square = ((-6.2, -6.2), (6.2, -6.2), (6.2, 6.2), (-6.2, 6.2))
        head = at.line(((-0.2, -3.5), (3.5, -3.5), (3.5, 0.2)), "mark-warn-line")
        return (
            at.line(square, "mark-warn", closed=True),
            at.stroke(-3.5, 3.5, 3.3, -3.3, "mark-warn-line"),
            head,
        )
    if word in (Word.MEASURE_AGAIN, Word.CANNOT_TELL):
        ink = ink_of(word)
        diamond = at.line(_DIAMOND, f"mark-{ink}-open" if ink == "bad" else "mark-warn", closed=True)
        if word == Word.MEASURE_AGAIN:
            return diamond, at.line(_ASK, "mark-bad-line"), at.stroke(0.0, 3.6, 0.0, 4.0, "mark-bad-line")
        bars = (at.stroke(-3.0, y, 3.0, y, "mark-warn-line") for y in (-1.4, 1.6))
        return diamond, *bars
    if word in (Word.NOT_HERE, Word.NOT_TAUGHT):
        return (at.stroke(-6.0, 0.0, 6.0, 0.0, "mark-none-line"),)
    ring = Circle(at.x, at.y, 6.6 * at.scale, "mark-none")
    return (ring, at.line(_TICK, "mark-none-line")) if word == Word.EXPECTED else (ring,)


class _Square:
    """Puts the square of a mark where it is wanted."""

    def __init__(self, x: float, y: float, scale: float) -> None:
        self.x, self.y, self.scale = x, y, scale

    def line(self, points: tuple[tuple[float, float], ...], kind: str, closed: bool = False) -> Polyline:
        placed = tuple((self.x + px * self.scale, self.y + py * self.scale) for px, py in points)
        return Polyline(placed, kind, closed)

    def stroke(self, x1: float, y1: float, x2: float, y2: float, kind: str) -> Line:
        s = self.scale
        return Line(self.x + x1 * s, self.y + y1 * s, self.x + x2 * s, self.y + y2 * s, kind)
