"""The plan of the notes that buzzed on every kind, and the clearance of one string."""

from __future__ import annotations

from collections.abc import Iterator

from tests.setups.journals import BASS, Bench, all_kinds, spec_of
from webapp.drawings.board.board import BuzzMark, buzz_drawing
from webapp.drawings.board.clearance_map import clearance_map_drawing
from webapp.drawings.board.clearance_side import DrawnSwing, FrettedString, clearance_side
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import THOU
from webapp.physics.neck import Neck
from webapp.setups.case import TouchSwing
from webapp.setups.slots import string_label, string_numbers
from webapp.setups.strings.string_setting import setting_of
from webapp.setups.tryout.clearance_map import ClearanceMap, clearance_map

TOUCHES = (
    DrawnSwing("own", "your own", 0.82),
    DrawnSwing("light", "light", 0.7),
    DrawnSwing("medium", "medium", 0.94),
    DrawnSwing("firm", "firm", 1.2),
)


def fretted(at: int, relief: float = 0.3, action: float = 2.5) -> FrettedString:
    """The thickest string of a long bass."""
    neck = Neck.from_relief(863.6, 16, 20, relief)
    return FrettedString(neck, neck.saddle_for_action(action), 0.5, at, 110.0)


def map_of(kind: str = BASS, height_mm: float | None = None, nut_mm: float | None = None) -> ClearanceMap:
    """The thickest string of a kind, everything at its target but what is told."""
    bench = Bench(kind)
    number = len(bench.spec.strings)
    if height_mm is not None:
        bench.reading(f"height.{number}", height_mm)
    if nut_mm is not None:
        bench.reading(f"nut.{number}", nut_mm)
    swing = TouchSwing(0.94, 0.0, "typed")
    return clearance_map(setting_of(bench.case(), number), swing, bench.trade.swing.close_times)


def pictures() -> Iterator[tuple[str, Drawing]]:
    """Name and drawing."""
    for kind in all_kinds():
        spec = spec_of(kind)
        names = [string_label(spec, n).split()[0] for n in string_numbers(spec)]
        marks = [BuzzMark(len(names), 0), *(BuzzMark(1 + f % len(names), f) for f in range(2, 14))]
        yield (
            f"plan-{kind}",
            buzz_drawing(
                spec.scale_bass_mm, spec.fret_count, names, marks, dotted=spec.radius_nut_mm is not None
            ),
        )
        yield f"clearance-map-{kind}", clearance_map_drawing(map_of(kind), 5, "Every note")
    yield "clearance-map-low", clearance_map_drawing(map_of(height_mm=1.6, nut_mm=0.2), 0, "Every note")
    for at, over in ((1, 3), (5, 9), (17, 18)):
        side = clearance_side(fretted(at), TOUCHES, chosen="own", over=over, title="The E string")
        yield f"clearance-side-{at}", side
    low = fretted(0, 0.1, 1.3)
    yield (
        "clearance-side-open-low",
        clearance_side(low, TOUCHES[1:], chosen="firm", over=2, title="The E string open", units=THOU),
    )
