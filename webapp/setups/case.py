"""One setup at one moment: everything that judging and advising need to look at."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property, lru_cache
from statistics import median
from typing import Any

from webapp.physics.clearance import clean_swing, reach_map
from webapp.physics.neck import Neck
from webapp.physics.touch import LowestClean, lowest_clean
from webapp.setups.belief.fold import Belief, belief_of
from webapp.setups.belief.frame import Frame, frame_of
from webapp.setups.belief.standing import Standing, standing
from webapp.setups.geometry import ReliefWay, fret_played, neck_under, neck_with_relief
from webapp.setups.journal import Journal
from webapp.setups.lesson import LessonTargets
from webapp.setups.say import Say
from webapp.setups.slots import RELIEF, Slot, nut_slot, string_numbers
from webapp.trade.content import Trade
from webapp.trade.ranges import Band, Bands
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Family, Touch

# Targets follow the relief in steps no gauge can tell apart.
RELIEF_STEP_MM = 0.005
# The narrowest height target, mm: nobody sets a string closer than that.
NARROWEST_MM = 0.3


@dataclass(frozen=True)
class TouchSwing:
    """The swing of one open string at the pluck, mm, how sure it is, and where it comes from."""

    mm: float
    error_mm: float
    basis: str


def table_swing_mm(frame: Frame, number: int, touch: Touch) -> float:
    """Clean swing of the low edge of a touch's height target less the margin, at mid relief, mm."""
    ranges, spec = frame.trade.ranges, frame.spec
    relief = ranges.relief_bands(frame.family, touch).target.middle
    low = ranges.height_bands(frame.family, touch, spec.across(number)).target.low
    way = frame.relief_standard
    bow = neck_with_relief(spec, relief, way.hold, way.press, way.gap).curvature_per_mm
    neck = neck_under(spec, number, bow)
    saddle = neck.saddle_for_action(low - frame.trade.swing.margin_mm)
    return _clean_mm(neck.scale_mm, neck.joint_fret, neck.fret_count, bow, saddle, frame.pluck_mm)


@lru_cache(maxsize=2048)
def _clean_mm(
    scale_mm: float, joint: int, frets: int, bow: float, saddle_mm: float, pluck_mm: float
) -> float:
    return max(0.05, clean_swing(Neck(scale_mm, joint, frets, bow), saddle_mm, pluck_mm).swing_mm)


def swing_for(frame: Frame, number: int, touch: Touch | None = None) -> TouchSwing:
    """The swing to allow on a string: the player's own where it was found by test, else the touch's.

    A swing found on one string is carried to the others in proportion to what a medium touch means there.
    """
    own = frame.spec.own_swing
    if touch is None and own is not None:
        share = table_swing_mm(frame, number, Touch.MEDIUM) / table_swing_mm(frame, own.string, Touch.MEDIUM)
        return TouchSwing(own.swing_mm * share, own.error_mm * share, "your own touch, found by test")
    chosen = touch or frame.spec.touch
    return TouchSwing(table_swing_mm(frame, number, chosen), 0.0, f"a {chosen.value} touch on this kind")


def lowest_for(frame: Frame, number: int, swing_mm: float, relief_mm: float | None = None) -> LowestClean:
    """The lowest clean action of a string for a swing, and its relief (fixed where one is given).

    Relief is the neck's, as read under the bass string: the same bow reads less along a shorter one.
    """
    way, spec = frame.relief_standard, frame.spec
    usual = frame.trade.ranges.relief_bands(frame.family, spec.touch).usual
    low, high = (relief_mm, relief_mm) if relief_mm is not None else (max(0.0, usual.low), usual.high)
    shorter = (spec.scale_of(number) / spec.scale_bass_mm) ** 2
    found = _lowest(
        spec.scale_of(number), spec.joint_fret, spec.fret_count, round(swing_mm, 6), frame.pluck_mm,
        low * shorter, high * shorter, way.frets,
    )  # fmt: skip
    return found._replace(relief_mm=found.relief_mm / shorter)


@lru_cache(maxsize=4096)
def _lowest(
    scale_mm: float, joint: int, frets: int, swing_mm: float, pluck_mm: float, low: float, high: float,
    way: tuple[int, int, int],
) -> LowestClean:  # fmt: skip
    return lowest_clean(scale_mm, joint, frets, swing_mm, pluck_mm, low, high, way)


def own_relief_mm(frame: Frame) -> float:
    """The relief that goes with the swing; one neck serves every string, so the middle of what they would
    choose."""
    numbers = string_numbers(frame.spec)
    return median(lowest_for(frame, n, swing_for(frame, n).mm).relief_mm for n in numbers)


def suited(frame: Frame, slot: Slot, table: Bands, relief_mm: float) -> Bands:
    """The table's bands with the target made to suit the swing over the neck as it is bowed.

    The usual band stays the table's, widened only where a target found by test lies outside it. `relief_mm`
    is 0 but for a height, which alone follows it.
    """
    if slot.level or slot.is_cents or slot.pickup is not None:
        return table
    steps = round(relief_mm / RELIEF_STEP_MM)
    made: dict[tuple[Slot, int], Bands] = frame.worked.setdefault("suited", {})
    if (slot, steps) not in made:
        made[slot, steps] = _suited(frame, slot, table, steps * RELIEF_STEP_MM)
    return made[slot, steps]


def _suited(frame: Frame, slot: Slot, table: Bands, relief_mm: float) -> Bands:
    if not slot.over_neck:
        return _nut(frame, slot, table)
    own = frame.spec.own_swing is not None
    if slot != RELIEF:
        target = _height(frame, slot, table, relief_mm)
    elif own:
        middle, half = own_relief_mm(frame), frame.trade.swing.relief_width_mm / 2
        target = Band(low=max(0.0, middle - half), high=middle + half)
    else:
        return table
    if not own:
        return Bands(target=target.clamped(table.usual), usual=table.usual, plausible=table.plausible)
    target = target.clamped(table.plausible)
    usual = Band(low=min(table.usual.low, target.low), high=max(table.usual.high, target.high))
    return Bands(target=target, usual=usual, plausible=table.plausible)


def _nut(frame: Frame, slot: Slot, table: Bands) -> Bands:
    """Low edge of the table, or what the open string needs over fret 1: whichever is more."""
    assert slot.string is not None
    low = min(max(table.target.low, open_dip_mm(frame, slot.string)), table.target.high)
    target = Band(low=low, high=table.target.high)
    return Bands(target=target, usual=table.usual, plausible=table.plausible)


def open_dip_mm(frame: Frame, number: int) -> float:
    """How far the open string dips over fret 1 at the swing to allow, mm."""
    spec = frame.spec
    neck = Neck(spec.scale_of(number), spec.joint_fret, spec.fret_count, 0.0)
    return float(swing_for(frame, number).mm * reach_map(neck, frame.pluck_mm)[0, 1])


def _height(frame: Frame, slot: Slot, table: Bands, relief_mm: float) -> Band:
    """From the lowest clean height plus the margin, as far up as the table's own target, or an own one's
    width."""
    assert slot.string is not None
    lowest = lowest_for(frame, slot.string, swing_for(frame, slot.string).mm, relief_mm)
    low = lowest.action_mm + frame.trade.swing.margin_mm
    if frame.spec.own_swing is not None:
        return Band(low=low, high=low + frame.trade.swing.width_mm)
    return Band(low=low, high=max(table.target.high, low + NARROWEST_MM))


@dataclass(frozen=True)
class Case:
    """The instrument, what the trade knows, the journal so far, and the time it is (UTC).

    `past` holds the journals of the instrument's earlier setups, oldest first: what they taught about its rod
    and its screws goes into the advice. A `lesson` says which checks are done, and by which bands.
    """

    spec: InstrumentSpec
    trade: Trade
    journal: Journal
    now: datetime
    say: Say = field(default_factory=Say)
    past: tuple[Journal, ...] = ()
    lesson: LessonTargets | None = None

    @property
    def journals(self) -> tuple[Journal, ...]:
        """This instrument's journals: earlier setups, oldest first, then this one."""
        return (*self.past, self.journal)

    @cached_property
    def frame(self) -> Frame:
        """The instrument's geometry and what the trade knows of its kind."""
        return frame_of(self.spec, self.trade)

    @cached_property
    def belief(self) -> Belief:
        """What is known of the instrument now, from every entry of every setup."""
        return belief_of(self.frame, self.journals, self.now)

    @property
    def family(self) -> Family:
        return self.frame.family

    @property
    def relief_standard(self) -> ReliefWay:
        """The way in which this family's relief bands are stated."""
        return self.frame.relief_standard

    @property
    def relief_mm(self) -> float:
        """The relief as it is believed, the standard way; the middle of its target until it is read."""
        return self.belief.relief_mm if self.relief_known else self.bands_relief.target.middle

    @cached_property
    def neck(self) -> Neck:
        """The neck under the bass string, bowed as believed."""
        way = self.relief_standard
        return neck_with_relief(self.spec, self.relief_mm, way.hold, way.press, way.gap)

    @property
    def bands_relief(self) -> Bands:
        return self.bands(RELIEF)

    @property
    def relief_known(self) -> bool:
        return RELIEF.key in self.belief.read

    def standing(self, slot: Slot) -> Standing:
        """Where a slot stands by the belief."""
        if slot not in self._standings:
            self._standings[slot] = standing(self.belief, slot, self.intonation_fret(slot))
        return self._standings[slot]

    @cached_property
    def worked(self) -> dict[str, Any]:
        """What the checks worked out of this case, each thing once."""
        return {}

    @cached_property
    def _standings(self) -> dict[Slot, Standing]:
        return {}

    def nut_gap_mm(self, number: int) -> float:
        """The open string's gap over fret 1 as believed; the middle of the target until it is read."""
        slot = nut_slot(number)
        return self.standing(slot).mean if slot.key in self.belief.read else self.bands(slot).target.middle

    @property
    def pluck_mm(self) -> float:
        """Where this family's strings are plucked, from the saddle."""
        return self.frame.pluck_mm

    def bands(self, slot: Slot) -> Bands:
        """Target, usual and plausible band of a slot, read the standard way (mm, or cents).

        The target is the lesson's where there is one; else it suits the player's swing over the neck as it is
        bowed: their own swing where that was found by test, else that of the touch they named.
        """
        if slot not in self._bands:
            self._bands[slot] = self._bands_of(slot, self.intonation_fret(slot))
        return self._bands[slot]

    def bands_at(self, slot: Slot, fret: int) -> Bands:
        """The bands of an intonation slot read at another fret than the newest reading's."""
        return self._bands_of(slot, fret)

    def _bands_of(self, slot: Slot, fret: int) -> Bands:
        made: dict[tuple[Slot, int], Bands] = self.frame.worked.setdefault("table", {})
        if (slot, fret) not in made:
            made[slot, fret] = self._table_bands(slot, fret)
        table = made[slot, fret]
        taught = self._taught(slot, fret, table)
        if taught is not None or slot.level:
            return taught or table
        # The relief's own target leans on no reading; a height's follows the bow.
        bow = self.relief_mm if slot.over_neck and slot != RELIEF else 0.0
        return suited(self.frame, slot, table, bow)

    def _taught(self, slot: Slot, fret: int, table: Bands) -> Bands | None:
        """The lesson's bands; of each place those of the lesson that was asked for last are kept."""
        if self.lesson is None:
            return None
        made: dict[tuple[Slot, int], tuple[LessonTargets, Bands | None]]
        made = self.frame.worked.setdefault("taught", {})
        kept = made.get((slot, fret))
        if kept is None or kept[0] is not self.lesson:
            kept = made[slot, fret] = self.lesson, self.lesson.bands(self.spec, slot, fret, table)
        return kept[1]

    @cached_property
    def _bands(self) -> dict[Slot, Bands]:
        return {}

    def _table_bands(self, slot: Slot, fret: int) -> Bands:
        ranges, touch = self.trade.ranges, self.spec.touch
        if slot == RELIEF:
            return ranges.relief_bands(self.family, touch)
        if slot.is_cents:
            return ranges.intonation_bands(fret)
        if slot.level:
            return ranges.level_bands(self.spec.bridge.level_mm)
        if slot.pickup is not None and slot.side is not None:
            kind = self.spec.pickups[slot.pickup - 1].type
            bands = ranges.pickup_bands(self.family, kind, slot.side, touch)
            assert bands is not None, "a pickup on a family that has none is refused with the instrument"
            return bands
        assert slot.string is not None
        if slot.over_neck:
            return ranges.height_bands(self.family, touch, self.spec.across(slot.string))
        return ranges.nut_bands(self.family, self.spec.string(slot.string).wound)

    def intonation_fret(self, slot: Slot) -> int:
        """The fret of an intonation slot: 12, or the high fret last used on that string."""
        if not slot.high:
            return 12
        reading = self.journal.newest_reading(slot.key)
        return fret_played(reading, self.high_fret) if reading else self.high_fret

    @property
    def high_fret(self) -> int:
        """The high fret to suggest: the 19th, or what the board and the body let a hand reach."""
        return min(19, self.spec.fret_count, self.spec.joint_fret + 3)
