"""The clearance of one string as a map: every note, every fret ahead, and the room that a touch leaves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from webapp.physics.clearance import CleanSwing, clearances, reach_map
from webapp.setups.case import Case, TouchSwing, swing_for
from webapp.setups.slots import RELIEF, Slot, height_slot, nut_slot
from webapp.setups.strings.string_setting import StringSetting, heights_known
from webapp.trade.words import Touch

OWN = "own"


class Room(StrEnum):
    """What a touch leaves over one fret."""

    TOUCHES = "touches"
    CLOSE = "close"
    CLEAR = "clear"


@dataclass(frozen=True)
class OverFret:
    """One pair of frets: the gap at rest and how far the string dips there, mm.

    It is close when a pluck `close_times` as hard would touch.
    """

    fretted: int
    over: int
    gap_mm: float
    swing_mm: float
    close_times: float

    @property
    def left_mm(self) -> float:
        """What the swing leaves of the gap; below 0 it touches."""
        return self.gap_mm - self.swing_mm

    @property
    def room(self) -> Room:
        if self.left_mm < 0:
            return Room.TOUCHES
        return Room.CLOSE if self.gap_mm < self.close_times * self.swing_mm else Room.CLEAR


@dataclass(frozen=True)
class NamedSwing:
    """A touch to choose: light, medium, firm, or the player's own where it was found."""

    key: str
    label: str
    swing: TouchSwing


def touch_keys(case: Case) -> tuple[str, ...]:
    """The touches that can be chosen, the player's own first where there is one."""
    own = (OWN,) if case.spec.own_swing is not None else ()
    return (*own, *(touch.value for touch in Touch))


def default_touch(case: Case) -> str:
    """The player's own touch where it was found, else the one they named."""
    return OWN if case.spec.own_swing is not None else case.spec.touch.value


def touch_label(key: str) -> str:
    """'your own', 'light', 'medium', 'firm'."""
    return "your own" if key == OWN else key


def named_swing(case: Case, number: int, key: str) -> NamedSwing:
    """What one touch means on one string. Raises ValueError for a touch there is not."""
    if key == OWN and case.spec.own_swing is not None:
        return NamedSwing(key, touch_label(key), swing_for(case.frame, number))
    return NamedSwing(key, touch_label(key), swing_for(case.frame, number, Touch(key)))


def named_swings(case: Case, number: int) -> tuple[NamedSwing, ...]:
    """Every touch on one string."""
    return tuple(named_swing(case, number, key) for key in touch_keys(case))


@dataclass(frozen=True, eq=False)
class ClearanceMap:
    """Gaps and dips of one string, both [fretted, over] in mm, NaN where there is nothing to touch.

    Row 0 is the open string; it is there where the nut's gap is known.
    """

    setting: StringSetting
    swing: TouchSwing
    gaps: NDArray[np.float64]
    dips: NDArray[np.float64]
    close_times: float

    @property
    def fret_count(self) -> int:
        return self.setting.neck.fret_count

    @property
    def starts(self) -> range:
        """The frets to hold, 0 the open string; at the last one there is nothing ahead to touch."""
        return range(0 if self.setting.nut_known else 1, self.fret_count)

    @cached_property
    def clean(self) -> CleanSwing:
        """The largest swing that touches nothing on fretted notes."""
        return self.setting.clean

    @property
    def left_mm(self) -> float:
        """Swing still in hand before the first touch, mm at the pluck; below 0 it touches."""
        return self.clean.swing_mm - self.swing.mm

    def place(self, fretted: int, over: int) -> OverFret:
        """One pair. Raises ValueError unless first start <= fretted < over <= the last fret."""
        if not self.starts.start <= fretted < over <= self.fret_count:
            raise ValueError("the string can only touch a fret past the one that is held")
        gap, dip = float(self.gaps[fretted, over]), float(self.dips[fretted, over])
        return OverFret(fretted, over, gap, dip, self.close_times)

    def row(self, fretted: int) -> tuple[OverFret, ...]:
        """Every fret ahead of a fretted note, nearest first."""
        return tuple(self.place(fretted, over) for over in range(fretted + 1, self.fret_count + 1))

    def tightest(self, fretted: int) -> OverFret:
        """The fret ahead that a growing swing meets first. Raises ValueError at the last fret."""
        return min(self.row(fretted), key=lambda p: p.gap_mm / p.swing_mm if p.swing_mm else p.gap_mm)

    def places(self) -> Iterator[OverFret]:
        """Every pair, row by row."""
        for fretted in self.starts:
            yield from self.row(fretted)

    def of_room(self, room: Room) -> tuple[OverFret, ...]:
        """The pairs that touch, are close, or are clear."""
        return tuple(place for place in self.places() if place.room is room)


def clearance_map(setting: StringSetting, swing: TouchSwing, close_times: float) -> ClearanceMap:
    """The map of a string for one touch."""
    gaps = clearances(setting.neck, setting.saddle_mm, setting.nut_mm)
    dips = swing.mm * reach_map(setting.neck, setting.pluck_mm)
    return ClearanceMap(setting, swing, gaps, dips, close_times)


@dataclass(frozen=True)
class Rest:
    """One thing that the sums rest on: its name, its length in mm, give or take, and where that comes from.

    `give_mm` is half of a 90 % interval; 0 where a target stands in for a reading.
    """

    name: str
    mm: float
    give_mm: float
    source: str

    @property
    def measured(self) -> bool:
        return self.source == MEASURED


MEASURED = "measured"
AFTER_A_CHANGE = "expected after what was changed since"
FROM_THE_OTHERS = "expected from the other strings"
STAND_IN = "not measured: middle of the target"


def rests_on(case: Case, setting: StringSetting) -> tuple[Rest, ...]:
    """Relief and height of a string, each with its source; the nut's gap too where the map counts it."""
    number = setting.number
    nut = nut_slot(number)
    return (
        _rest(case, "Relief", setting.relief_mm, RELIEF),
        _rest(case, "Height at 12", setting.action_mm, height_slot(number)),
        *((_rest(case, "Open, over fret 1", setting.nut_gap_mm, nut),) if setting.nut_known else ()),
    )


def _rest(case: Case, name: str, mm: float, slot: Slot) -> Rest:
    source = _source(case, slot)
    return Rest(name, mm, 0.0 if source == STAND_IN else case.standing(slot).give, source)


def _source(case: Case, slot: Slot) -> str:
    belief = case.belief
    if slot.key in belief.read:
        return AFTER_A_CHANGE if slot.key in belief.moved else MEASURED
    return FROM_THE_OTHERS if slot != RELIEF and heights_known(case) else STAND_IN
