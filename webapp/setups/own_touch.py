"""The player's own touch, found by test: from the height where the buzz goes, or from the notes that buzz."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot

import numpy as np

from webapp.physics.clearance import clean_swing, clearances, reach_map
from webapp.physics.touch import FoundSwing
from webapp.setups import buzz
from webapp.setups.case import Case
from webapp.setups.convert import STANDARD_HEIGHT, HeightWay, relief_factor, relief_way, saddle_from
from webapp.setups.geometry import neck_under, neck_with_relief
from webapp.setups.journal import Entry
from webapp.setups.setting import setting_of
from webapp.setups.slots import Slot, string_numbers
from webapp.trade.ranges import Bands
from webapp.trade.spec import InstrumentSpec, OwnSwing
from webapp.trade.words import Check


class NotFound(ValueError):
    """The test says nothing; the message is a sentence for the player."""


@dataclass(frozen=True)
class Found:
    """A swing found on one string: between the setting that buzzed and the one that did not, mm."""

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
    """What was read: heights of one string where it was clean and, where tried, where it still buzzed, mm."""

    string: int
    clean_mm: float
    buzzed_mm: float | None = None
    way: HeightWay = STANDARD_HEIGHT
    error_mm: float | None = None


def found_by_heights(case: Case, test: HeightTest) -> Found:
    """The swing of a test by raising. Raises NotFound where the two heights contradict each other."""
    if test.buzzed_mm is not None and test.buzzed_mm >= test.clean_mm:
        raise NotFound("The height that buzzed must be lower than the one that was clean.")
    relief = case.relief_mm
    clean = _swing(case, test, test.clean_mm, relief)
    if clean <= 0:
        raise NotFound("At this height the string would lie on a fret. Measure relief and height again.")
    buzzed = clean if test.buzzed_mm is None else max(0.0, _swing(case, test, test.buzzed_mm, relief))
    error = case.trade.practice.doubt.unstated_mm if test.error_mm is None else test.error_mm
    by_height = _swing(case, test, test.clean_mm + error, relief) - clean
    by_relief = _swing(case, test, test.clean_mm, relief + relief_error_mm(case)) - clean
    between = FoundSwing(buzzed, clean)
    return Found(test.string, between, hypot(by_height, by_relief, between.uncertain_mm))


def _swing(case: Case, test: HeightTest, height_mm: float, relief_mm: float) -> float:
    """Clean swing of the string at a height read the test's way, over a neck with this relief."""
    way = case.relief_standard
    bow = neck_with_relief(case.spec, relief_mm, way.hold, way.press, way.gap).curvature_per_mm
    neck = neck_under(case.spec, test.string, bow)
    saddle = saddle_from(neck, height_mm, test.way, case.nut_gap_mm(test.string))
    return clean_swing(neck, saddle, case.pluck_mm).swing_mm


def relief_error_mm(case: Case) -> float:
    """How far off the relief may be: the tool's error, or half the target where it was never read."""
    reading = case.journal.newest_reading("relief")
    if reading is None or reading.value is None:
        return case.bands_relief.target.width / 2
    taken = relief_way(reading, case.relief_standard)
    return (reading.error or 0.0) * abs(relief_factor(case.spec, taken, case.relief_standard))


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
    reading = _height_that_holds(case, number)
    if reading is None:
        return BoardSays(number, frets, None, "its height was not read since the last turn")
    if not frets:
        return BoardSays(number, frets, None, "only the open string buzzes: that is the nut")
    room = rooms_mm(case, number)
    buzzing = max(room[fret] for fret in frets)
    clean = min((swing for fret, swing in room.items() if fret not in frets), default=buzzing)
    error = _room_error_mm(case, number, reading.error or case.trade.practice.doubt.unstated_mm)
    if buzzing - clean > 2 * error:
        return BoardSays(
            number, frets, None, "these notes do not fit one touch: look for a high or worn fret first"
        )
    between = FoundSwing(max(0.0, min(buzzing, clean)), max(buzzing, clean))
    if between.swing_mm <= 0:
        return BoardSays(number, frets, None, "the string lies on a fret before it is plucked")
    return BoardSays(number, frets, Found(number, between, hypot(error, between.uncertain_mm)))


def _height_that_holds(case: Case, number: int) -> Entry | None:
    slot = Slot(Check.HEIGHT, string=number)
    reading = case.journal.newest_reading(slot.key)
    if reading is None or reading.value is None or case.journal.outdated(slot, reading):
        return None
    return reading


def rooms_mm(case: Case, number: int) -> dict[int, float]:
    """For every fretted note of a string the open-string swing at which it just touches something, mm."""
    setting = setting_of(case, number)
    room = clearances(setting.neck, setting.saddle_mm) / reach_map(setting.neck, setting.pluck_mm)
    return {fret: float(np.nanmin(room[fret])) for fret in range(1, setting.neck.fret_count)}


def _room_error_mm(case: Case, number: int, height_error_mm: float) -> float:
    setting = setting_of(case, number)
    raised = replace(setting, action_mm=setting.action_mm + height_error_mm)
    return abs(raised.clean.swing_mm - setting.clean.swing_mm)


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
    heights = (Slot(Check.HEIGHT, string=number) for number in string_numbers(case.spec))
    return tuple(TargetPair(s, table.bands(s), case.bands(s)) for s in (Slot(Check.RELIEF), *heights))
