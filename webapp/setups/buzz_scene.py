"""What the buzz finder weighs: the notes that buzzed, and every size with how far it may be off."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from webapp.physics.clearance import clearances, reach_map
from webapp.physics.neck import Neck
from webapp.setups.buzz import newest_board
from webapp.setups.case import Case
from webapp.setups.checks.height import standard_height
from webapp.setups.convert import relief_factor, relief_way
from webapp.setups.journal import Entry, EntryKind, Journal, Part
from webapp.setups.slots import Slot, string_numbers
from webapp.setups.touch import swing_for
from webapp.trade.ranges import Band, Bands
from webapp.trade.words import Check, Touch

Array = NDArray[np.float32]

# Steps between the sizes tried, mm: finer than the noise of a sound board.
STEP_MM = 0.07
MOST_STEPS = 7
SWING_STEPS = np.linspace(-2.0, 2.0, 5)
CLEARANCE_PARTS = (Part.ROD, Part.SADDLE_HEIGHT, Part.NUT, Part.STRINGS)


@dataclass(frozen=True)
class Nodes:
    """Values a size may truly have, mm, and the log of the weight the reading gives each."""

    values: Array
    log_weight: Array
    read_mm: float | None = None

    @property
    def middle(self) -> float:
        """As read, or the middle of what is usual."""
        return self.read_mm if self.read_mm is not None else float(np.mean(self.values))


@dataclass(frozen=True)
class Pairs:
    """The gaps of one string, taken apart: everything is a straight line in action, relief and nut gap.

    ``fretted`` and ``over`` index the pairs (1 <= fretted < over <= last), sorted by fretted; the `open_`
    arrays run over frets 1 to the last. Gap = action * per_action + relief * per_relief (+ nut * per_nut),
    and a pluck of A mm takes A * reach of it. ``share`` is how far over lies from fretted to the saddle.
    """

    fretted: NDArray[np.intp]
    over: NDArray[np.intp]
    per_action: Array
    per_relief: Array
    reach: Array
    share: Array
    open_per_action: Array
    open_per_relief: Array
    open_per_nut: Array
    open_reach: Array

    @property
    def last(self) -> int:
        return int(self.over[-1])


@lru_cache(maxsize=64)
def pairs_of(
    scale_mm: float, joint_fret: int, fret_count: int, pluck_mm: float, taken: tuple[int, int, int]
) -> Pairs:
    """Take the clearance map of a string apart into its straight lines."""
    flat = Neck(scale_mm, joint_fret, fret_count)
    bowed = Neck.from_relief(scale_mm, joint_fret, fret_count, 1.0, *taken)
    raised = flat.saddle_for_action(1.0)
    level = bowed.saddle_for_action(0.0)
    reach = reach_map(flat, pluck_mm)
    by_action = clearances(flat, raised, flat.nut_for_gap(0.0, raised))
    by_relief = clearances(bowed, level, bowed.nut_for_gap(0.0, level))
    by_nut = clearances(flat, 0.0, flat.nut_for_gap(1.0, 0.0))
    fretted, over = np.triu_indices(fret_count + 1, k=1)
    played = fretted >= 1
    at = fretted[played], over[played]

    def f32(values: NDArray[np.float64]) -> Array:
        return np.asarray(values, dtype=np.float32)

    return Pairs(
        fretted=at[0],
        over=at[1],
        per_action=f32(by_action[at]),
        per_relief=f32(by_relief[at]),
        reach=f32(reach[at]),
        share=f32(clearances(flat, 1.0)[at]),
        open_per_action=f32(by_action[0, 1:]),
        open_per_relief=f32(by_relief[0, 1:]),
        open_per_nut=f32(by_nut[0, 1:]),
        open_reach=f32(reach[0, 1:]),
    )


@dataclass(frozen=True)
class StringScene:
    """One string: which notes buzzed (index 0 = open), its sizes, and the swing that plucked it, mm."""

    number: int
    tapped: NDArray[np.bool_]
    action: Nodes
    nut: Nodes
    nut_bands: Bands
    swing_mm: float
    open_pitch: int
    pairs: Pairs


@dataclass(frozen=True)
class Scene:
    """The whole board, bass side first, as it was when the notes were plucked."""

    case: Case
    board: Entry
    touch: Touch
    relief: Nodes
    relief_target: Band
    swing_spread: float
    strings: tuple[StringScene, ...]

    @property
    def taps(self) -> int:
        return sum(int(string.tapped.sum()) for string in self.strings)


def scene_of(case: Case) -> Scene | None:
    """The newest board with at least one note marked; None where there is none."""
    board = newest_board(case.journal)
    if board is None:
        return None
    then = as_plucked(case, board)
    touch = Touch(board.detail.get("touch", case.spec.touch))
    scene = Scene(
        case=then,
        board=board,
        touch=touch,
        relief=_relief_nodes(then, board),
        relief_target=case.trade.ranges.relief_bands(case.family, touch).target,
        swing_spread=_swing_spread(case, touch),
        strings=tuple(_string_scene(then, board, touch, n) for n in string_numbers(case.spec)),
    )
    return scene if scene.taps else None


def as_plucked(case: Case, board: Entry) -> Case:
    """The case as it stood for this board: nothing from after the first turn that came later."""
    later = [t.id for t in case.journal.turns if t.id > board.id and t.turn.part in CLEARANCE_PARTS]
    if not later:
        return case
    kept = [e for e in case.journal.entries if e.id < min(later) or e.kind is EntryKind.VOID]
    return replace(case, journal=Journal.of(kept))


def own_touch(case: Case, touch: Touch) -> bool:
    """Whether the notes were plucked with the touch whose swing was found by test."""
    return case.spec.own_swing is not None and touch is case.spec.touch


def _swing_spread(case: Case, touch: Touch) -> float:
    own = case.spec.own_swing
    if own is None or not own_touch(case, touch):
        return case.trade.buzz.swing_spread
    # A swing found by test still differs from one evening to the next.
    return min(case.trade.buzz.swing_spread, max(0.04, own.error_mm / own.swing_mm))


def _string_scene(case: Case, board: Entry, touch: Touch, number: int) -> StringScene:
    spec = case.spec
    tapped = np.zeros(spec.fret_count + 1, dtype=np.bool_)
    for string, fret in board.detail.get("taps", []):
        # The instrument may have been described anew with fewer frets since.
        if int(string) == number and 0 <= int(fret) <= spec.fret_count:
            tapped[int(fret)] = True
    nut_slot = Slot(Check.NUT, string=number)
    swing = swing_for(case, number, None if own_touch(case, touch) else touch)
    way = case.relief_standard.frets
    return StringScene(
        number=number,
        tapped=tapped,
        action=_action_nodes(case, board, number),
        nut=_reading_nodes(case, board, nut_slot),
        nut_bands=case.bands(nut_slot),
        swing_mm=swing.mm,
        open_pitch=_semitone(spec.string(number).note),
        pairs=pairs_of(spec.scale_of(number), spec.joint_fret, spec.fret_count, case.pluck_mm, way),
    )


def _semitone(note: str) -> int:
    """A note as a count of semitones, so that the same pitch on two strings is the same number."""
    steps = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    bend = {"#": 1, "b": -1}.get(note[1], 0)
    return steps[note[0]] + bend + 12 * int(note[-1])


def _relief_nodes(case: Case, board: Entry) -> Nodes:
    slot = Slot(Check.RELIEF)
    reading = case.journal.newest_reading(slot.key)
    if reading is None or reading.value is None:
        return _unread(case.bands(slot))
    factor = relief_factor(case.spec, relief_way(reading, case.relief_standard), case.relief_standard)
    return _around(case, board, slot, reading, reading.value * factor, (reading.error or 0.0) * abs(factor))


def _action_nodes(case: Case, board: Entry, number: int) -> Nodes:
    slot = Slot(Check.HEIGHT, string=number)
    reading = case.journal.newest_reading(slot.key)
    if reading is None or reading.value is None:
        return _unread(case.bands(slot))
    return _around(case, board, slot, reading, *standard_height(case, slot, reading))


def _reading_nodes(case: Case, board: Entry, slot: Slot) -> Nodes:
    reading = case.journal.newest_reading(slot.key)
    if reading is None or reading.value is None:
        return _unread(case.bands(slot))
    return _around(case, board, slot, reading, reading.value, reading.error or 0.0)


def _around(case: Case, board: Entry, slot: Slot, reading: Entry, value: float, error: float) -> Nodes:
    """A normal spread around a reading, wider where something was turned between it and the board."""
    sd = error * case.trade.buzz.tool_share
    stale = case.journal.outdated(slot, reading)
    if stale is not None and stale.id < board.id:
        sd = float(np.hypot(sd, case.trade.buzz.stale_mm[slot.check]))
    half = min((MOST_STEPS - 1) // 2, max(1, int(np.ceil(2 * sd / STEP_MM))))
    steps = np.linspace(-2.0, 2.0, 2 * half + 1)
    return Nodes(np.asarray(value + sd * steps, dtype=np.float32), _log_shares(-0.5 * steps**2), float(value))


def _unread(bands: Bands) -> Nodes:
    """Never read: anything from a little below usual to a little above, all alike."""
    room = bands.usual.width / 4
    values = np.linspace(bands.usual.low - room, bands.usual.high + room, MOST_STEPS)
    return Nodes(values.astype(np.float32), _log_shares(np.zeros(MOST_STEPS)))


def _log_shares(log_weight: NDArray[np.float64]) -> Array:
    return np.asarray(log_weight - np.log(np.exp(log_weight).sum()), dtype=np.float32)
