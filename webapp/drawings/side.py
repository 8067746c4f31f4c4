"""Side view of a whole neck: fret tops with their relief, and the straight string over them."""

from __future__ import annotations

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
from webapp.drawings.shapes import WIDTH, Drawing, Line, Shape, Text, bottom_of, kind_width, stretch_sentence
from webapp.drawings.units import MM, Units, long_length
from webapp.physics.neck import Neck

TITLE = "The neck from the side"


def side_view(
    neck: Neck,
    *,
    saddle_mm: float,
    hold: int = 1,
    gap: int = 12,
    nut_mm: float = 0.0,
    relief_frets: tuple[int, int, int] | None = (1, 13, 7),
    title: str = TITLE,
    units: Units = MM,
) -> Drawing:
    """Fret tops, the string held at `hold` (0 = open) up to the saddle, the height at `gap`, and the relief.

    `relief_frets` are hold, press and gap of the relief reading; None leaves it out.
    """
    start_mm, start_y = neck.fret_at(hold), neck.fret_top(hold) + (nut_mm if hold == 0 else 0.0)
    nut_top = neck.fret_top(0) + nut_mm
    view = fit(
        neck, from_mm=0, to_mm=neck.scale_mm, heights_mm=(saddle_mm, nut_top, start_y), top=52, tall=150
    )
    height = neck.action(saddle_mm, hold, gap, nut_mm)
    at = neck.fret_at(gap)
    low, high = neck.fret_top(gap), neck.fret_top(gap) + height
    shapes: list[Shape] = [*slab(view), nut(view, nut_top), saddle(view, saddle_mm)]
    shapes.append(
        Line(view.x(start_mm), view.y(start_y), view.x(neck.scale_mm), view.y(saddle_mm), "string-line")
    )
    shapes += gap_mark(view, at, low, high)
    words = f"{units.full(height)} over fret {gap}"
    shapes += top_labels([(view.x(at), view.y(max(low, high)) - 3, words, False)], 14)
    bottom = bottom_of(shapes)
    relief = None
    if relief_frets is not None:
        relief = neck.relief(*relief_frets)
        shapes += _relief(view, relief_frets, bottom + 17, f"relief {units.full(relief)}")
        bottom += 22
    shapes += joint(view, bottom + 4)
    shapes += fret_numbers(view, bottom + 18, (neck.joint_fret, gap, *((relief_frets or ())[2:])))
    description = _description(neck, saddle_mm, hold, gap, height, relief_frets, relief, view.stretch, units)
    note = f"The centre line marks fret {neck.joint_fret}, where the neck joins the body."
    return Drawing(WIDTH, bottom + 26, tuple(shapes), title, description, view.stretch, note)


def _relief(view: Profile, frets: tuple[int, int, int], y: float, words: str) -> list[Shape]:
    """The chord of the relief reading, and its gap called out below the neck."""
    hold, press, gap = frets
    neck = view.neck
    x = view.fret_x(gap)
    chord_mm = neck.fret_top(gap) + neck.relief(hold, press, gap)
    half = kind_width(words, "strong") / 2
    place = min(max(x, half + 2), WIDTH - half - 2)
    return [
        Line(view.fret_x(hold), view.fret_y(hold), view.fret_x(press), view.fret_y(press), "chord"),
        *gap_mark(view, neck.fret_at(gap), neck.fret_top(gap), chord_mm),
        Line(x, max(view.fret_y(gap), view.y(chord_mm)), x, y - 11, "thin"),
        Text(place, y, words, "strong"),
    ]


def _description(
    neck: Neck,
    saddle_mm: float,
    hold: int,
    gap: int,
    height: float,
    frets: tuple[int, int, int] | None,
    relief: float | None,
    stretch: float,
    units: Units,
) -> str:
    held = "open" if hold == 0 else f"held at fret {hold}"
    parts = [
        f"Scale {long_length(neck.scale_mm, units)}, {neck.fret_count} frets; "
        f"the neck joins the body at fret {neck.joint_fret}.",
        f"The string, {held}, runs {units.full(height)} over fret {gap} and ends {units.full(saddle_mm)} "
        "over the straight of the body end.",
    ]
    if frets is not None and relief is not None:
        shape = "forward bow" if relief > 0 else "back bow" if relief < 0 else "dead straight"
        parts.append(
            f"Held at fret {frets[0]} and pressed at fret {frets[1]}, the relief over fret {frets[2]} is "
            f"{units.full(relief)}: {shape}."
        )
    parts.append(stretch_sentence(stretch))
    return " ".join(parts)
