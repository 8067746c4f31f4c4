"""Every note and every fret ahead of it on one sheet: where a touch leaves room, where little, where none.

Thickness tells it: a full bar touches, a thin bar is close, an empty square is clear.
"""

from __future__ import annotations

from itertools import groupby

from webapp.drawings.portrait.outline import DOTS
from webapp.drawings.shapes import WIDTH, Drawing, Path, Rect, Shape, Text, kind_width
from webapp.drawings.units import MM, Units
from webapp.setups.tryout.clearance_map import ClearanceMap, OverFret, Room

NUMBERED = (0, 1, *DOTS)
LEFT, TOP, RIGHT = 50.0, 42.0, WIDTH - 4.0
# A bar's thickness as a share of its row.
THICK = {Room.TOUCHES: 0.8, Room.CLOSE: 0.34}
LEGEND_ROW = 21.0
CLEAR = 3.0


def clearance_map_drawing(found: ClearanceMap, fretted: int, title: str, units: Units = MM) -> Drawing:
    """Draw the map: a row for each note, a column for each fret ahead.

    The row of `fretted` is framed, and in it the square that a growing swing meets first.
    """
    sheet = _Sheet(found)
    over = found.tightest(fretted).over
    shapes: list[Shape] = [sheet.grid()]
    for room in (Room.CLOSE, Room.TOUCHES):
        bars = sheet.bars(room)
        if bars:
            shapes.append(Path(bars, sheet.box, f"room-{room}"))
    shapes += [*sheet.numbers(fretted, over), *sheet.frames(fretted, over), *sheet.legend()]
    return Drawing(WIDTH, sheet.bottom + 4, tuple(shapes), title, _description(found, units))


class _Sheet:
    """Where each square of one map lies; the corner under the squares holds the legend."""

    def __init__(self, found: ClearanceMap) -> None:
        self.found = found
        self.first, self.rows = found.starts.start, len(found.starts)
        self.side = (RIGHT - LEFT) / self.rows
        self.bottom = TOP + self.side * self.rows
        self.box = (LEFT, TOP, RIGHT, self.bottom)

    def x(self, over: int) -> float:
        """The left edge of a column; the first fret ahead of the first note stands at the left."""
        return LEFT + (over - self.first - 1) * self.side

    def y(self, fretted: int) -> float:
        return TOP + (fretted - self.first) * self.side

    def grid(self) -> Path:
        """A stair of thin lines round every square."""
        d = ""
        for start in self.found.starts:
            d += f"M{self.x(start + 1):.1f} {self.y(start):.1f}H{RIGHT:.1f}"
            d += f"M{self.x(start + 1):.1f} {TOP:.1f}V{self.y(start + 1):.1f}"
        return Path(f"{d}M{RIGHT:.1f} {TOP:.1f}V{self.bottom:.1f}h{-self.side:.1f}", self.box, "map-grid")

    def bars(self, room: Room) -> str:
        """The bars of one room; neighbours in a row are one bar."""
        high = THICK[room] * self.side
        d = ""
        for start in self.found.starts:
            y = self.y(start) + (self.side - high) / 2
            for found, run in groupby(self.found.row(start), key=lambda place: place.room):
                places = list(run)
                if found is room:
                    wide = len(places) * self.side
                    d += f"M{self.x(places[0].over):.1f} {y:.1f}h{wide:.1f}v{high:.1f}h{-wide:.1f}Z"
        return d

    def numbers(self, fretted: int, over: int) -> list[Shape]:
        """Frets over the columns and beside the rows: the chosen pair, and as many as there is room for."""
        shapes: list[Shape] = [
            Text(2, 14, "held at", "caption", "start"),
            Text(RIGHT, 14, "over fret", "caption", "end"),
        ]
        half = self.side / 2
        for fret in self._told(over, range(self.first + 1, self.found.fret_count + 1), broad=True):
            kind = "strong" if fret == over else "caption"
            shapes.append(Text(self.x(fret) + half, TOP - 6, str(fret), kind))
        for fret in self._told(fretted, self.found.starts, broad=False):
            kind = "strong" if fret == fretted else "caption"
            shapes.append(Text(LEFT - 4, self.y(fret) + half + 5, str(fret) if fret else "open", kind, "end"))
        return shapes

    def _told(self, chosen: int, frets: range, *, broad: bool) -> list[int]:
        """The numbers that clear each other, the chosen one first."""
        told: list[int] = []
        for fret in (chosen, *(f for f in NUMBERED if f in frets)):
            size = kind_width(str(fret), "strong") if broad else 16.0
            if all(abs(fret - other) * self.side >= size + CLEAR for other in told):
                told.append(fret)
        return told

    def frames(self, fretted: int, over: int) -> list[Shape]:
        """The row that is held, and the square that is looked at."""
        return [
            Rect(self.x(fretted + 1), self.y(fretted), RIGHT - self.x(fretted + 1), self.side, "map-row"),
            Rect(self.x(over), self.y(fretted), self.side, self.side, "map-here"),
        ]

    def legend(self) -> list[Shape]:
        """What the bars mean and how many there are, in the empty corner."""
        shapes: list[Shape] = []
        y = self.bottom - 2.5 * LEGEND_ROW
        for room in (Room.TOUCHES, Room.CLOSE, Room.CLEAR):
            high = THICK.get(room, 0.0) * 14
            shapes.append(Rect(LEFT, y - 12, 14, 14, "map-grid"))
            if high:
                shapes.append(Rect(LEFT, y - 5 - high / 2, 14, high, f"room-{room}"))
            words = f"{room}: {len(self.found.of_room(room))}"
            shapes.append(Text(LEFT + 20, y, words, "label", "start"))
            y += LEGEND_ROW
        return shapes


def _description(found: ClearanceMap, units: Units) -> str:
    """How many squares of each room, and for every note the fret that a growing swing meets first."""
    counts = ", ".join(f"{room}: {len(found.of_room(room))}" for room in Room)
    notes = "; ".join(_note(found.tightest(start), units) for start in found.starts)
    return (
        f"Every note over every fret ahead: {counts}. Met first, with what is left in {units.label}: {notes}."
    )


def _note(place: OverFret, units: Units) -> str:
    held = str(place.fretted) if place.fretted else "open"
    return f"{held} over {place.over} {units.number(place.left_mm)} {place.room}"
