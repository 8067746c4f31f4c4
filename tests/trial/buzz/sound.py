"""Draws an instrument of the buzz trial on which, under its own player's hand, every note is clean."""

from __future__ import annotations

import numpy as np

from tests.trial import swing
from tests.trial.buzz.board import Array, Board
from tests.trial.buzz.grid import reach_of_pluck
from tests.trial.kinds import KINDS, Kind
from tests.trial.neck import Bend, fret_places, s_shape, said_as_one, upper_board

Rng = np.random.Generator
STRINGS = ("grid", "modes")
# The player's hand against a medium touch, and one pluck against the next, as shares.
HAND, PLUCK = 0.10, 0.04
# A medium touch is clean this far below the low edge of its target.
MARGIN_MM = 0.15
NUT_GAP_MM = (0.30, 0.50)
# Two boards in three are set with so much to spare at the 12th, the others stand higher.
ROOM_MM, ROOMY_MM, TIGHT = (0.05, 0.50), (0.50, 1.40), 0.67
# How much of a downward pluck's depth one that lets go from above has.
FROM_ABOVE = (0.5, 1.0)


def sound(rng: Rng, string: str) -> tuple[Board, Array]:
    """The board, and the line along which its neck bends, for 1 mm of relief."""
    kinds = list(KINDS.values())
    odds = np.array([kind.often for kind in kinds])
    kind = kinds[int(rng.choice(len(kinds), p=odds / odds.sum()))]
    reach = reach_of(kind, string, 8.0 * int(rng.integers(-2, 3)), rng.uniform(*FROM_ABOVE))
    hand = medium_pluck(kind, reach) * rng.normal(1.0, HAND)
    plucks = hand[:, None] * rng.normal(1.0, PLUCK, (len(hand), kind.frets + 1))
    tops, bow = _neck(rng, kind)
    level = np.zeros(len(hand))
    board = Board(kind, tops, level, level, plucks, reach, heard=float(rng.uniform(0.0, 0.05)))
    common = rng.uniform(*(ROOM_MM if rng.random() < TIGHT else ROOMY_MM))
    for number in board.strings:
        room = max(common + rng.normal(0.0, 0.08), 0.03)
        board = board.at_height(number, board.lowest_clean(number) + room)
        board = board.at_nut_gap(number, rng.uniform(*NUT_GAP_MM))
    return _open_clean(board), bow


def _open_clean(board: Board) -> Board:
    """The slots less deep where the open string would rattle."""
    while rattling := [number for number, fret in board.rattles() if fret == 0]:
        for number in rattling:
            board = board.at_nut_gap(number, board.height(number, 0, 1) + 0.03)
    return board


def _neck(rng: Rng, kind: Kind) -> tuple[Array, Array]:
    """Fret tops [string, fret] with relief in its target: a bow that is not even, a wave, a slope at the
    end, wear."""
    x = fret_places(kind.scale_mm, kind.frets)
    end = x[kind.joint]
    bend = Bend(skew=rng.normal(0.25, 0.25), belly=rng.normal(0.0, 0.2))
    bow = said_as_one(x, bend.heights(x, end), kind.standard)
    odd = rng.normal(0.0, 0.03) * s_shape(x, end) + rng.normal(0.0, 0.03) * upper_board(x, end)
    level = rng.normal(0.0, 0.012, (len(kind.strings), len(x))) + rng.normal(0.0, 0.008, len(x))
    level[:, 0] = 0.0
    return odd + level + rng.uniform(*kind.bands.relief_target) * bow, bow


def reach_of(kind: Kind, string: str, from_usual_mm: float, from_above: float) -> Array:
    """[fretted, over]: how low a string comes for each mm that it is drawn aside when open."""
    if string == "modes":
        return swing.reach_of_swing(kind.key, kind)
    from_below, above = reach_of_pluck(kind, kind.pluck_mm + from_usual_mm)
    return np.maximum(from_below, from_above * above)


def medium_pluck(kind: Kind, reach: Array) -> Array:
    """The largest clean pluck at the low edge of the medium target, for this way of swinging [string, bass
    side first]."""
    x, count = fret_places(kind.scale_mm, kind.frets), len(kind.strings)
    bow = said_as_one(x, Bend(skew=0.25).heights(x, x[kind.joint]), kind.standard)
    tops = np.tile(np.mean(kind.bands.relief_target) * bow, (count, 1))
    none = np.zeros(count)
    board = Board(kind, tops, none, none, np.zeros((count, len(x))), reach, 0.0)
    found = []
    for number in board.strings[::-1]:
        low = kind.bands.height(kind.across(board.index(number)), usual=False)[0] - MARGIN_MM
        found.append(swing.largest_clean(reach[1:], board.at_height(number, low).clear(number)[1:]))
    return np.array(found)
