"""What a bridge can do for wanted moves of its strings: each saddle by itself, or one bar on two posts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import ceil

from webapp.physics.arc import string_offset
from webapp.setups.slots import string_numbers
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, Side

EIGHTHS = 8
# Far below any screw: a move this small is no move.
NOTHING_MM = 1e-6


@dataclass(frozen=True)
class Move:
    """One screw (or a saddle's pair): its travel in mm, up is plus, and what every string's saddle gains.

    `eighths` is None where the thread is not known; `rises_mm` is bass side first.
    """

    travel_mm: float
    eighths: int | None
    rises_mm: tuple[float, ...]
    string: int | None = None
    side: Side | None = None


def bridge_moves(spec: InstrumentSpec, rises_mm: Sequence[float], pitch_mm: float | None) -> tuple[Move, ...]:
    """The moves, in order, after which no string's saddle has gained less than it should.

    `rises_mm` are the wanted moves at the saddles, bass side first, down is minus. Whole eighths of a
    turn, rounded up: an eighth too low would buzz. Empty for a saddle that has no screws.
    """
    if spec.bridge.type is BridgeType.ONE_PIECE:
        return ()
    if spec.bridge.type is BridgeType.INDIVIDUAL:
        return _saddles(spec, rises_mm, pitch_mm)
    return _posts(spec, rises_mm, pitch_mm)


def _saddles(spec: InstrumentSpec, rises_mm: Sequence[float], pitch_mm: float | None) -> tuple[Move, ...]:
    moves = []
    for index, (number, rise) in enumerate(zip(string_numbers(spec), rises_mm, strict=True)):
        travel, eighths = _turned(rise, pitch_mm)
        if abs(travel) > NOTHING_MM:
            alone = tuple(travel if i == index else 0.0 for i in range(len(rises_mm)))
            moves.append(Move(travel, eighths, alone, string=number))
    return tuple(moves)


def _turned(travel_mm: float, pitch_mm: float | None) -> tuple[float, int | None]:
    """The travel a hand can make of it: whole eighths, rounded up."""
    if pitch_mm is None:
        return travel_mm, None
    count = ceil(travel_mm / pitch_mm * EIGHTHS - NOTHING_MM)
    return count * pitch_mm / EIGHTHS, count


def _posts(spec: InstrumentSpec, rises_mm: Sequence[float], pitch_mm: float | None) -> tuple[Move, ...]:
    """Two posts under one stiff bar: the lowest straight line over all the wanted moves."""
    count = spec.string_count
    places = [string_offset(i, count, spec.spacing_bridge_mm) for i in range(count)]
    half = (spec.bridge.post_spacing_mm or spec.spacing_bridge_mm) / 2
    middle, slope = lowest_line(places, rises_mm)
    bass, treble = (_turned(middle + slope * at, pitch_mm) for at in (-half, half))
    # Posts closer together than the strings: an eighth more on one side can lower the other's outer string.
    while pitch_mm and any(
        _bar(bass[0], treble[0], half, x) < want - NOTHING_MM
        for x, want in zip(places, rises_mm, strict=True)
    ):
        bass, treble = (_turned(one[0] + pitch_mm / EIGHTHS, pitch_mm) for one in (bass, treble))
    moves = []
    for side, (travel, eighths) in ((Side.BASS, bass), (Side.TREBLE, treble)):
        ends = (travel, 0.0) if side is Side.BASS else (0.0, travel)
        if abs(travel) > NOTHING_MM:
            moves.append(Move(travel, eighths, tuple(_bar(*ends, half, x) for x in places), side=side))
    return tuple(moves)


def _bar(bass_mm: float, treble_mm: float, half_mm: float, x_mm: float) -> float:
    """What a place on the bar gains when its posts, `half_mm` either side of the middle, rise."""
    return (bass_mm + treble_mm) / 2 + (treble_mm - bass_mm) / (2 * half_mm) * x_mm


def lowest_line(places: Sequence[float], heights: Sequence[float]) -> tuple[float, float]:
    """The straight line (at 0, slope) over every point that is lowest at 0; `places` lie on both sides of 0.

    It passes through two of the points: that edge of their upper hull which spans the middle.
    """
    best: tuple[float, float] | None = None
    for (x1, y1), (x2, y2) in combinations(zip(places, heights, strict=True), 2):
        slope = (y2 - y1) / (x2 - x1)
        at_0 = y1 - slope * x1
        over = all(at_0 + slope * x >= y - 1e-9 for x, y in zip(places, heights, strict=True))
        if over and (best is None or at_0 < best[0]):
            best = at_0, slope
    assert best is not None, "three strings or more have an upper hull"
    return best
