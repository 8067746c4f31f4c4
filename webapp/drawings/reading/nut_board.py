"""The nut seen from the board: every string in its slot, the one in question ringed, and seen over fret 1."""

from __future__ import annotations

from webapp.drawings.reading.magnifier import Seen, magnify, say, seen_through
from webapp.drawings.shapes import WIDTH, Circle, Drawing, Path, Plain, Polyline, Text, kind_width, leader
from webapp.drawings.units import MM, Units
from webapp.physics.arc import drop
from webapp.setups.geometry import offset_mm
from webapp.setups.slots import string_label, string_numbers
from webapp.trade.spec import InstrumentSpec

NUT_OVER_MM = 4.2  # how far the nut's top stands over the board in the middle
NUT_EDGE_MM = 3.5
BOARD_MM = 5.5
PAIR_MM = 2.0  # between the two strings of a course
FRET_MM = 1.2
LEFT, WIDE = 4.0, 186.0
GLASS = 56.0
Band = tuple[float, float]


def nut_from_the_board(
    spec: InstrumentSpec,
    number: int,
    gap_mm: float,
    belongs_mm: Band,
    *,
    units: Units = MM,
) -> Drawing:
    """How far string `number`, open, is off at fret 1, and where it should lie.

    `gap_mm` is what was read there, `belongs_mm` the band in which the underside of the string belongs.
    """
    string, name = spec.string(number), string_label(spec, number)
    glass = magnify(WIDTH - GLASS - 4, GLASS + 4, GLASS, string.gauge_mm, max(gap_mm, belongs_mm[1]))
    seen = Seen(string, gap_mm, over="fret 1", name=name.partition(" (")[0], belongs_mm=belongs_mm)
    slots, place = _slots(spec, number, gap_mm)
    shapes: list[Plain] = [*slots, *seen_through(glass, seen)]
    shapes.append(
        leader((place[0] + 10, place[1]), (glass.cx - glass.half(glass.cy - 20) - 1, glass.cy - 20))
    )
    gap_y = (glass.floor + glass.y(max(gap_mm, 0.0))) / 2
    foot = glass.cy + glass.r + 20
    words = f"gap now {units.full(gap_mm)}"
    shapes.append(
        leader((glass.cx - glass.half(gap_y), gap_y), (LEFT + kind_width(words, "strong"), foot - 28))
    )
    shapes.append(Text(LEFT, foot - 24, words, "strong", "start"))
    shapes.append(Path(f"M{LEFT:g} {foot - 4.5:g}h26", (LEFT, foot - 5, LEFT + 26, foot - 4), "belongs"))
    shapes.append(Text(LEFT + 34, foot, "its underside belongs here", "label", "start"))
    said = (
        f"Seen from the board, the {name} in its slot. Open, it stands {units.full(gap_mm)} over fret 1; "
        f"its underside belongs {units.band(*belongs_mm)} over it."
    )
    return Drawing(WIDTH, foot + 6, tuple(shapes), f"The {name} at the nut", said)


def _slots(spec: InstrumentSpec, number: int, gap_mm: float) -> tuple[list[Plain], tuple[float, float]]:
    """The nut over the end of the board at one true scale, and where the string in question lies."""
    half = spec.spacing_nut_mm / 2 + NUT_EDGE_MM
    s, middle, crown = WIDE / (2 * half), LEFT + WIDE / 2, 34.0 + 4 * spec.string_count**0.5
    radius = spec.radius_nut_mm

    def at(offset: float, above: float) -> tuple[float, float]:
        x = middle - offset * s if spec.left_handed else middle + offset * s
        return x, crown + (NUT_OVER_MM + drop(radius, offset) - above) * s

    edge = [-half + 2 * half * i / 10 for i in range(11)]
    face = [at(o, 0.0) for o in edge]
    foot = at(half, -BOARD_MM - drop(radius, 0.0))[1]
    nut = tuple([*(at(o, NUT_OVER_MM) for o in edge), *reversed(face)])
    wood = tuple([*face, (face[-1][0], foot), (face[0][0], foot)])
    shapes: list[Plain] = [
        Polyline(wood, "board", closed=True),
        Polyline(wood, "hatch-board", closed=True),
        Polyline(nut, "block", closed=True),
        Polyline(nut, "hatch-metal", closed=True),
    ]
    asked = (0.0, 0.0)
    for n in string_numbers(spec):
        offset = offset_mm(spec, n, 0)
        string = spec.string(n)
        low = FRET_MM + max(gap_mm if n == number else 0.35, 0.0)
        for side, one in enumerate(string.course):
            shift = (side - (len(string.course) - 1) / 2) * PAIR_MM
            shapes += _slot(at(offset + shift, low), at(offset + shift, NUT_OVER_MM)[1], one.gauge_mm * s)
        letter = string.note.rstrip("0123456789").replace("b", "♭").replace("#", "♯")
        x, y = at(offset, low)
        shapes.append(Text(x, 14, letter, "strong" if n == number else "caption"))
        if n == number:
            asked = (x, y - string.gauge_mm * s / 2)
    return [*shapes, Circle(*asked, 10.0, "ring")], asked


def _slot(foot: tuple[float, float], top: float, wide: float) -> list[Plain]:
    """A slot open to the top, and the string that lies at its foot."""
    x, y = foot
    half = max(wide / 2, 1.0)
    lip = min(top - 1.5, y - half)
    sides = (
        f"M{say(x - half, lip)}V{say(y - half)}A{say(half, half)} 0 0 0 {say(x + half, y - half)}V{say(lip)}"
    )
    return [
        Path(sides, (x - half, lip, x + half, y), "slot"),
        Circle(x, y - half, half * 0.88, "metal"),
    ]
