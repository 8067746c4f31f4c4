"""Where to hold, where to press and where the gauge goes, from this instrument's own geometry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

from webapp.drawings.profile import (
    Profile,
    fit,
    fret_numbers,
    gap_mark,
    joint,
    nut,
    saddle,
    slab,
    top_labels,
)
from webapp.drawings.shapes import WIDTH, Drawing, Line, Rect, Shape, Text, arrow, bottom_of, stretch_sentence
from webapp.drawings.units import MM, Units, long_length
from webapp.physics.frets import fret_position
from webapp.physics.neck import Neck

NUT_MM = 0.5  # how high the string is drawn at the nut where no reading says otherwise
TOP = 58.0
# Drawings follow from their arguments alone, and a class of thirty asks for the same few again and again.
KEPT = 32
Band = tuple[float, float]
# Usual places of pickups as shares of the scale, from the saddle, and of the room that a short body leaves.
PICKUP_SHARES = {"neck": (0.235, 1.0), "middle": (0.16, 0.68), "bridge": (0.08, 0.34)}


@lru_cache(maxsize=KEPT)
def relief_drawing(
    neck: Neck, hold: int, press: int, gap: int, *, target: Band | None = None, units: Units = MM
) -> Drawing:
    """Hold, press, and read the gap between."""
    reading = neck.relief(hold, press, gap)
    at, low = neck.fret_at(gap), neck.fret_top(gap)
    to = min(neck.scale_mm, neck.fret_at(press) + 0.05 * neck.scale_mm)
    tops = [neck.fret_top(f) for f in (0, hold, gap, press)]
    view = fit(
        neck, from_mm=0, to_mm=to, heights_mm=(*tops, tops[0] + NUT_MM, low + reading), top=TOP, tall=110
    )
    shapes = [
        *slab(view),
        nut(view, tops[0] + NUT_MM),
        Line(view.x(0), view.y(tops[0] + NUT_MM), view.fret_x(hold), view.fret_y(hold), "string-line"),
        Line(view.fret_x(hold), view.fret_y(hold), view.fret_x(press), view.fret_y(press), "string-line"),
        *gap_mark(view, at, low, low + reading),
    ]
    shapes += top_labels(
        [
            (view.fret_x(hold), view.fret_y(hold) - 2, f"hold at {hold}", True),
            (view.x(at), view.y(max(low, low + reading)) - 2, f"gauge over {gap}", False),
            (view.fret_x(press), view.fret_y(press) - 2, f"press at {press}", True),
        ],
        14,
    )
    if neck.joint_mm <= to:
        shapes += joint(view, view.lowest_px + 6)
    said = [
        f"Hold the string down at fret {hold}, {_from_nut(neck, hold, units)}.",
        f"Press it down at fret {press}, {_from_nut(neck, press, units)}.",
        f"Read the gap between the top of fret {gap} and the string, {_from_nut(neck, gap, units)}.",
    ]
    note = " ".join([_where(neck, gap, units), *_aim(target, units)])
    return _finish(
        view,
        shapes,
        (hold, press, gap),
        "Where to measure the relief",
        said + _drawn(units, reading) + _aim(target, units),
        note,
    )


@lru_cache(maxsize=KEPT)
def height_drawing(
    neck: Neck,
    hold: int,
    gap: int,
    saddle_mm: float,
    *,
    nut_mm: float = NUT_MM,
    target: Band | None = None,
    units: Units = MM,
) -> Drawing:
    """The string held at `hold` (0 = open), its height read over `gap`."""
    height = neck.action(saddle_mm, hold, gap, nut_mm)
    start = neck.fret_top(hold) + (nut_mm if hold == 0 else 0)
    nut_top, at, low = neck.fret_top(0) + nut_mm, neck.fret_at(gap), neck.fret_top(gap)
    view = fit(
        neck, from_mm=0, to_mm=neck.scale_mm, heights_mm=(saddle_mm, nut_top, start, low), top=TOP, tall=110
    )
    shapes = [
        *slab(view),
        nut(view, nut_top),
        saddle(view, saddle_mm),
        Line(view.x(0), view.y(nut_top), view.fret_x(hold), view.y(start), "string-line"),
        Line(view.fret_x(hold), view.y(start), view.x(neck.scale_mm), view.y(saddle_mm), "string-line"),
        *gap_mark(view, at, low, low + height),
    ]
    labels = [(view.x(at), view.y(low + max(height, 0)) - 2, f"gauge over {gap}", False)]
    labels.append(
        (view.fret_x(hold), view.y(start) - 2, f"hold at {hold}", True)
        if hold
        else (view.x(0), view.y(nut_top) - 2, "open string", False)
    )
    shapes += top_labels(labels, 14)
    held = (
        f"Hold the string down at fret {hold}, {_from_nut(neck, hold, units)}."
        if hold
        else ("Leave the string open.")
    )
    said = [
        held,
        f"Read the gap between the top of fret {gap} and the underside of the string, "
        f"{_from_nut(neck, gap, units)}.",
    ]
    return _finish(
        view,
        shapes,
        (hold, gap),
        "Where to measure the string height",
        said + _drawn(units, height) + _aim(target, units),
        " ".join([_where(neck, gap, units), *_aim(target, units)]),
    )


@lru_cache(maxsize=KEPT)
def nut_drawing(
    neck: Neck,
    *,
    nut_mm: float = NUT_MM,
    saddle_mm: float = 3.0,
    target: Band | None = None,
    units: Units = MM,
) -> Drawing:
    """The open string over fret 1, close up."""
    last = min(3, neck.fret_count)
    to = min(neck.scale_mm, neck.fret_at(last) * 1.08)
    nut_top, low = neck.fret_top(0) + nut_mm, neck.fret_top(1)
    gap = neck.action(saddle_mm, 0, 1, nut_mm)
    end = nut_top + (saddle_mm - nut_top) * to / neck.scale_mm
    view = fit(
        neck,
        from_mm=-0.02 * to,
        to_mm=to,
        heights_mm=(nut_top, end, neck.fret_top(last), low),
        top=TOP,
        tall=70,
        most=50,
    )
    shapes = [
        *slab(view),
        nut(view, nut_top),
        Line(view.x(0), view.y(nut_top), view.x(to), view.y(end), "string-line"),
        *gap_mark(view, neck.fret_at(1), low, low + gap),
    ]
    shapes += top_labels(
        [
            (view.x(0), view.y(nut_top) - 2, "nut", False),
            (view.fret_x(1), view.y(low + max(gap, 0)) - 2, "gauge over 1", False),
        ],
        14,
    )
    said = [
        "Leave the string open; touch nothing but the gauge.",
        f"Read the gap between the top of fret 1 and the underside of the string, "
        f"{_from_nut(neck, 1, units)}.",
    ]
    return _finish(
        view,
        shapes,
        (1,),
        "Where to measure at the nut",
        said + _drawn(units, gap) + _aim(target, units),
        " ".join([_where(neck, 1, units), *_aim(target, units)]),
    )


@lru_cache(maxsize=KEPT)
def intonation_drawing(
    neck: Neck, frets: tuple[int, ...], *, saddle_mm: float = 3.0, units: Units = MM
) -> Drawing:
    """The frets to play against the open string, and which way the saddle goes."""
    nut_top = neck.fret_top(0) + NUT_MM
    view = fit(
        neck,
        from_mm=0,
        to_mm=neck.scale_mm,
        heights_mm=(saddle_mm, nut_top),
        top=TOP,
        tall=60,
        right=WIDTH - 48,
        most=30,
    )
    end_x, end_y = view.x(neck.scale_mm), view.y(saddle_mm)
    shapes = [
        *slab(view),
        nut(view, nut_top),
        saddle(view, saddle_mm),
        Line(view.x(0), view.y(nut_top), end_x, end_y, "string-line"),
    ]
    labels = [(view.x(0), view.y(nut_top) - 2, "open", False)]
    for fret in sorted(set(frets)):
        share = neck.fret_at(fret) / neck.scale_mm
        over = view.y(nut_top + (saddle_mm - nut_top) * share)
        labels.append((view.fret_x(fret), max(over, view.fret_y(fret) - 12), f"at {fret}", True))
    shapes += top_labels(labels, 14)
    y = bottom_of(shapes) + 34
    shapes += [
        Line(end_x, bottom_of(shapes) + 3, end_x, y + 20, "centre"),
        *arrow(end_x, y, end_x - 30, y),
        Text(end_x - 36, y + 4, "flat: towards the nut", "strong", "end"),
        *arrow(end_x, y + 18, end_x + 30, y + 18),
        Text(end_x - 36, y + 22, "sharp: away from it", "strong", "end"),
    ]
    places = "; ".join(f"fret {f} lies {_from_nut(neck, f, units)}" for f in sorted(set(frets)))
    said = [
        "Tune the open string, then play it at the frets marked and read the cents.",
        f"{places}.".capitalize(),
        "Sharp at the fret: the saddle goes back, away from the nut. Flat: towards the nut.",
        f"The scale is {long_length(neck.scale_mm, units)}.",
    ]
    return _finish(view, shapes, tuple(frets), "Where to play for the intonation", said, "", numbers_y=y - 18)


def pickup_drawing(
    neck: Neck,
    pickup_positions_mm: Mapping[str, float],
    press: int | None = None,
    *,
    saddle_mm: float = 4.0,
    gap_mm: float = 2.4,
    units: Units = MM,
) -> Drawing:
    """The string pressed at `press` (the last fret where None), the gap read over each pickup.

    `pickup_positions_mm` gives each pickup's distance from the nut; see `pickup_places`.
    """
    press = neck.fret_count if press is None else press
    start, start_y = neck.fret_at(press), neck.fret_top(press)
    tops = {
        name: _along((start, start_y), (neck.scale_mm, saddle_mm), x) - gap_mm
        for name, x in pickup_positions_mm.items()
    }
    from_mm = max(
        0.0, min([neck.fret_at(max(0, press - 5)), *(x - 20 for x in pickup_positions_mm.values())])
    )
    view = fit(
        neck,
        from_mm=from_mm,
        to_mm=neck.scale_mm,
        heights_mm=(saddle_mm, start_y, *tops.values()),
        top=TOP,
        tall=100,
        most=25,
    )
    foot = max(view.lowest_px, *(view.y(t) for t in tops.values()), view.y(0)) + 16
    shapes = [*slab(view), saddle(view, saddle_mm)]
    labels = [(view.x(start), view.y(start_y) - 2, f"press at {press}", True)]
    for name, x in pickup_positions_mm.items():
        left, top = view.x(x) - 9, view.y(tops[name])
        shapes += [
            Rect(left, top, 18, foot - top, "block"),
            *gap_mark(view, x, tops[name], tops[name] + gap_mm),
        ]
        labels.append((view.x(x), view.y(tops[name] + gap_mm) - 2, name, False))
    shapes.append(
        Line(view.x(start), view.y(start_y), view.x(neck.scale_mm), view.y(saddle_mm), "string-line")
    )
    shapes += top_labels(labels, 14)
    names = ", ".join(pickup_positions_mm) or "each pickup"
    said = [
        f"Press the outer string down at fret {press}, {_from_nut(neck, press, units)}.",
        f"Read the gap between the pickup and the underside of the string: {names}.",
        "Once under the bass string, once under the treble string.",
    ]
    return _finish(
        view,
        shapes,
        (press,),
        "Where to measure the pickups",
        said + _drawn(units, gap_mm),
        "Pickups are drawn at their usual places.",
    )


def pickup_places(scale_mm: float, names: Sequence[str], fret_count: int = 22) -> dict[str, float]:
    """Usual distances from the nut for "neck", "middle" and "bridge" pickups, clear of the board."""
    room = 1 - fret_position(1.0, fret_count) - 0.03
    places = {}
    for name in names:
        share, part = PICKUP_SHARES[name]
        places[name] = scale_mm * (1 - min(share, room * part))
    return places


def _along(start: Band, end: Band, x: float) -> float:
    return start[1] + (end[1] - start[1]) * (x - start[0]) / (end[0] - start[0])


def _from_nut(neck: Neck, fret: int, units: Units) -> str:
    return f"{long_length(neck.fret_at(fret), units)} from the nut"


def _where(neck: Neck, fret: int, units: Units) -> str:
    return f"Fret {fret} is {_from_nut(neck, fret, units)}."


def _drawn(units: Units, gap_mm: float) -> list[str]:
    return [f"The drawing shows a gap of {units.full(gap_mm)}."]


def _aim(target: Band | None, units: Units) -> list[str]:
    return [] if target is None else [f"The target is {units.band(*target)}."]


def _finish(
    view: Profile,
    shapes: list[Shape],
    always: Sequence[int],
    title: str,
    said: Sequence[str],
    note: str,
    *,
    numbers_y: float | None = None,
) -> Drawing:
    """Fret numbers along the foot, the description from its sentences."""
    y = bottom_of(shapes) + 14 if numbers_y is None else numbers_y
    shapes = [*shapes, *fret_numbers(view, y, tuple(f for f in always if f))]
    words = " ".join([*said, stretch_sentence(view.stretch)])
    return Drawing(WIDTH, bottom_of(shapes) + 5, tuple(shapes), title, words, view.stretch, note)
