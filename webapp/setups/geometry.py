"""Where things are on one instrument, and readings taken one way, said another way. All in mm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from webapp.physics.arc import Board, string_offset
from webapp.physics.frets import fret_position
from webapp.physics.neck import Neck, convert_relief
from webapp.setups.journal import Entry
from webapp.trade.ranges import FamilyRanges
from webapp.trade.spec import InstrumentSpec

# An end of a one-piece saddle this near to right is left alone, mm.
FILED_MM = 0.1


def distance_of(spec: InstrumentSpec, number: int, fret: int) -> float:
    """Distance from the nut to a fret along one string, mm."""
    return float(fret_position(spec.scale_of(number), fret))


def offset_mm(spec: InstrumentSpec, number: int, fret: int) -> float:
    """Distance of a string from the centre line at a fret, mm; minus on the bass side."""
    part = distance_of(spec, number, fret) / spec.scale_of(number)
    spacing = spec.spacing_nut_mm + part * (spec.spacing_bridge_mm - spec.spacing_nut_mm)
    return string_offset(len(spec.strings) - number, len(spec.strings), spacing)


def board_of(spec: InstrumentSpec) -> Board:
    """The board's arc along the neck: a cone from the nut to the last fret, or flat."""
    end = float(fret_position(spec.scale_bass_mm, spec.fret_count))
    return Board(spec.radius_nut_mm, spec.radius_end_mm, end)


def radius_mm(spec: InstrumentSpec, fret: int) -> float | None:
    """Radius of the board at a fret, mm; None where the board is flat."""
    return board_of(spec).radius_at(float(fret_position(spec.scale_bass_mm, fret)))


def neck_with_relief(
    spec: InstrumentSpec, relief_mm: float, hold: int, press: int, gap: int, number: int | None = None
) -> Neck:
    """The neck under one string (the bass string unless told) that shows this relief reading."""
    scale = spec.scale_of(number or len(spec.strings))
    return Neck.from_relief(scale, spec.joint_fret, spec.fret_count, relief_mm, hold, press, gap)


def neck_under(spec: InstrumentSpec, number: int, curvature_per_mm: float) -> Neck:
    """The same bow under another string's own scale."""
    return Neck(spec.scale_of(number), spec.joint_fret, spec.fret_count, curvature_per_mm)


@dataclass(frozen=True)
class ReliefWay:
    """The three frets of a relief reading: held at, pressed at, gap read at."""

    hold: int
    press: int
    gap: int

    @property
    def frets(self) -> tuple[int, int, int]:
        return self.hold, self.press, self.gap

    @property
    def text(self) -> str:
        """As the bench says it."""
        return f"held at {self.hold}, pressed at {self.press}, gap at {self.gap}"


@dataclass(frozen=True)
class HeightWay:
    """How a string's height is read: held at a fret (0 = open), gap at a fret."""

    hold: int
    gap: int

    @property
    def text(self) -> str:
        """As the bench says it."""
        held = "open" if self.hold == 0 else f"held at {self.hold}"
        return f"at fret {self.gap}, {held}"


STANDARD_HEIGHT = HeightWay(hold=1, gap=12)


def standard_relief(spec: InstrumentSpec, ranges: FamilyRanges) -> ReliefWay:
    """The way this family's relief bands are stated."""
    relief = ranges.relief
    press = min(relief.press_fret(spec.joint_fret), spec.fret_count)
    # On a neck that meets the body very low, the usual gap fret lies past the fret that is pressed.
    gap = relief.gap if relief.gap < press else (relief.hold + press) // 2
    return ReliefWay(relief.hold, press, gap)


def relief_way(entry: Entry, standard: ReliefWay) -> ReliefWay:
    """The frets that a stored reading was taken with."""
    d = entry.detail
    return ReliefWay(
        int(d.get("hold", standard.hold)),
        int(d.get("press", standard.press)),
        int(d.get("gap", standard.gap)),
    )


def height_way(entry: Entry) -> HeightWay:
    """How a stored height reading was taken."""
    return HeightWay(
        int(entry.detail.get("hold", STANDARD_HEIGHT.hold)), int(entry.detail.get("gap", STANDARD_HEIGHT.gap))
    )


def fret_played(entry: Entry, high_fret: int) -> int:
    """The fret that a stored intonation reading was taken at; `high_fret` where a high one tells none."""
    return int(entry.detail.get("fret", high_fret if entry.slot.endswith(".high") else 12))


def changed(reading: Entry, change: Callable[[float], float]) -> Entry:
    """A reading whose number, or range, is another one."""
    detail = dict(reading.detail)
    for end in ("low", "high"):
        if detail.get(end) is not None:
            detail[end] = change(detail[end])
    assert reading.value is not None
    return replace(reading, value=change(reading.value), detail=detail)


def relief_factor(spec: InstrumentSpec, taken: ReliefWay, wanted: ReliefWay) -> float:
    """What one mm read the one way reads the other way; the bow itself cancels out."""
    if taken == wanted:
        return 1.0
    return convert_relief(1.0, spec.joint_fret, spec.fret_count, taken.frets, wanted.frets)


def height_between(
    spec: InstrumentSpec,
    number: int,
    value_mm: float,
    taken: HeightWay,
    wanted: HeightWay,
    curvature_per_mm: float,
    nut_gap_mm: float,
) -> float:
    """Say a height that was read one way as it would be read another way.

    Both ways lie on the same straight string to the same saddle. Where one of them is open, the nut counts:
    `nut_gap_mm` is the open string's gap over fret 1.
    """
    if taken == wanted:
        return value_mm
    neck = neck_under(spec, number, curvature_per_mm)
    saddle_mm = saddle_from(neck, value_mm, taken, nut_gap_mm)
    return read_at(neck, saddle_mm, wanted, nut_gap_mm)


def read_at(neck: Neck, saddle_mm: float, way: HeightWay, nut_gap_mm: float) -> float:
    """The height read a given way for a saddle at `saddle_mm` above the body-end plane."""
    nut_mm = float(neck.nut_for_gap(nut_gap_mm, saddle_mm)) if way.hold == 0 else 0.0
    return float(neck.action(saddle_mm, hold=way.hold, gap=way.gap, nut_mm=nut_mm))


def saddle_from(neck: Neck, value_mm: float, way: HeightWay, nut_gap_mm: float) -> float:
    """The saddle height that gives this reading.

    Open, the nut's height for a given first-fret gap itself leans on the saddle; everything is linear,
    so two trial saddles fix the line.
    """
    if way.hold != 0:
        return float(neck.saddle_for_action(value_mm, hold=way.hold, gap=way.gap))
    at_zero = read_at(neck, 0.0, way, nut_gap_mm)
    per_mm = read_at(neck, 1.0, way, nut_gap_mm) - at_zero
    return (value_mm - at_zero) / per_mm


def saddle_per_action(spec: InstrumentSpec, number: int, way: HeightWay) -> float:
    """Saddle travel in mm for one mm of height read this way."""
    return float(neck_under(spec, number, 0.0).saddle_per_action(way.hold, way.gap))
