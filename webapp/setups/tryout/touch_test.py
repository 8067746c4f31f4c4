"""The player's own touch, found by test: from the height where the buzz goes, or from the notes that buzz."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot

import numpy as np

from webapp.physics.clearance import clearances, reach_map
from webapp.physics.touch import FoundSwing
from webapp.setups import buzz_marks as buzz
from webapp.setups.case import Case
from webapp.setups.geometry import STANDARD_HEIGHT, HeightWay, height_between
from webapp.setups.slots import RELIEF, Slot, height_slot, string_numbers
from webapp.setups.strings.string_setting import StringSetting, setting_of, with_action, with_relief
from webapp.trade.ranges import Bands
from webapp.trade.spec import InstrumentSpec, OwnSwing


class TouchNotFound(ValueError):
    """The test says nothing; the message is a sentence for the player."""


@dataclass(frozen=True)
class Found:
    """A swing found on one string: between the setting that buzzed and the one that did not, mm.

    `error_mm` is half of a 90 % interval.
    """

    string: int
    between: FoundSwing
    error_mm: float

    @property
    def swing_mm(self) -> float:
        return self.between.swing_mm

    @property
    def own(self) -> OwnSwing:
        """As the instrument keeps it."""
        return OwnSwing(string=self.string, swing_mm=self.swing_mm, error_mm=self.error_mm)


@dataclass(frozen=True)
class HeightTest:
    """What was read: heights of one string where it was clean and, where tried, where it still buzzed, mm.

    `error_mm` is half of a 90 % interval of one such reading.
    """

    string: int
    clean_mm: float
    error_mm: float
    buzzed_mm: float | None = None
    way: HeightWay = STANDARD_HEIGHT


def found_by_heights(case: Case, test: HeightTest) -> Found:
    """The swing of a test by raising. Raises TouchNotFound where the two heights contradict each other."""
    if test.buzzed_mm is not None and test.buzzed_mm >= test.clean_mm:
        raise TouchNotFound("The height that buzzed must be lower than the one that was clean.")
    there = _at_height(case, test, test.clean_mm)
    clean = there.clean.swing_mm
    if clean <= 0:
        raise TouchNotFound("At this height the string would lie on a fret. Measure relief and height again.")
    higher = _at_height(case, test, test.clean_mm + test.error_mm).action_mm - there.action_mm
    buzzed = clean
    if test.buzzed_mm is not None:
        buzzed = max(0.0, _at_height(case, test, test.buzzed_mm).clean.swing_mm)
    between = FoundSwing(buzzed, clean)
    return Found(test.string, between, hypot(_unsure_mm(case, there, higher), between.uncertain_mm))


def _at_height(case: Case, test: HeightTest, height_mm: float) -> StringSetting:
    """The string standing at a height that was read the test's way, over the neck as it is believed."""
    setting, bow = setting_of(case, test.string), case.neck.curvature_per_mm
    action = height_between(
        case.spec, test.string, height_mm, test.way, STANDARD_HEIGHT, bow, setting.nut_gap_mm
    )
    return with_action(setting, action)


def _unsure_mm(case: Case, setting: StringSetting, height_give_mm: float) -> float:
    """How far a setting's clean swing may be off, by what its height and the relief may be off, mm."""
    relief_give, clean = case.standing(RELIEF).give, setting.clean.swing_mm
    higher = with_action(setting, setting.action_mm + height_give_mm)
    bowed = (
        with_relief(case, setting, setting.relief_mm + by, setting.action_mm)
        for by in (-relief_give, relief_give)
    )
    by_relief = max(abs(one.clean.swing_mm - clean) for one in bowed)
    return hypot(higher.clean.swing_mm - clean, by_relief)


@dataclass(frozen=True)
class BoardSays:
    """What the newest board of buzzing notes says of one string: a swing, or a sentence why not."""

    string: int
    frets: tuple[int, ...]
    found: Found | None
    why: str = ""


def boards_say(case: Case) -> tuple[BoardSays, ...]:
    """One answer for each string that buzzed somewhere, while the board and the heights still hold."""
    board = buzz.newest_board(case.journal)
    if board is None or buzz.board_outdated(case.journal, board):
        return ()
    count = case.spec.string_count
    return tuple(
        _string_says(case, one.number, tuple(f for f in one.frets if 0 < f < case.spec.fret_count))
        for one in buzz.string_buzzes(board)
        if one.number <= count
    )


def board_touch(case: Case) -> str:
    """How hard the notes of the newest board were plucked, as marked; empty where that was not said."""
    board = buzz.newest_board(case.journal)
    return str(board.detail.get("touch", "")) if board else ""


def _string_says(case: Case, number: int, frets: tuple[int, ...]) -> BoardSays:
    slot = height_slot(number)
    if slot.key not in case.belief.read:
        return BoardSays(number, frets, None, "its height was not read")
    if not frets:
        return BoardSays(number, frets, None, "only the open string buzzes: that is the nut")
    room = rooms_mm(case, number)
    buzzing = max(room[fret] for fret in frets)
    clean = min((swing for fret, swing in room.items() if fret not in frets), default=buzzing)
    error = _unsure_mm(case, setting_of(case, number), case.standing(slot).give)
    if buzzing - clean > 2 * error:
        return BoardSays(
            number, frets, None, "these notes do not fit one touch: look for a high or worn fret first"
        )
    low, high = sorted((buzzing, clean))
    if high <= 0:
        return BoardSays(number, frets, None, "the string lies on a fret before it is plucked")
    between = FoundSwing(max(0.0, low), high)
    return BoardSays(number, frets, Found(number, between, hypot(error, between.uncertain_mm)))


def rooms_mm(case: Case, number: int) -> dict[int, float]:
    """For every fretted note of a string the open-string swing at which it just touches something, mm."""
    setting = setting_of(case, number)
    room = clearances(setting.neck, setting.saddle_mm) / reach_map(setting.neck, setting.pluck_mm)
    return {fret: float(np.nanmin(room[fret])) for fret in range(1, setting.neck.fret_count)}


def with_own(spec: InstrumentSpec, own: OwnSwing | None) -> InstrumentSpec:
    """The instrument with a touch found by test, or with none."""
    return spec.model_copy(update={"own_swing": own})


@dataclass(frozen=True)
class TargetPair:
    """A target as the table has it for the named touch, and as the own swing makes it."""

    slot: Slot
    table: Bands
    own: Bands


def target_pairs(case: Case) -> tuple[TargetPair, ...]:
    """Relief, then every string bass side first; empty where no touch was found."""
    if case.spec.own_swing is None:
        return ()
    table = replace(case, spec=with_own(case.spec, None))
    heights = map(height_slot, string_numbers(case.spec))
    return tuple(TargetPair(s, table.bands(s), case.bands(s)) for s in (RELIEF, *heights))
