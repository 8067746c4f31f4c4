"""Where things are on one instrument: strings across the board, the board's arc, the neck under a string."""

from __future__ import annotations

from webapp.physics.arc import Board, string_offset
from webapp.physics.frets import fret_position
from webapp.physics.neck import Neck
from webapp.trade.spec import InstrumentSpec


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
