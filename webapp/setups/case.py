"""One setup at one moment: everything that judging and advising need to look at."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any

from webapp.physics.neck import Neck
from webapp.setups.belief.fold import Belief, belief_of
from webapp.setups.belief.frame import Frame, frame_of
from webapp.setups.belief.standing import Standing, standing
from webapp.setups.convert import ReliefWay, fret_played
from webapp.setups.geometry import neck_with_relief
from webapp.setups.journal import Journal
from webapp.setups.lesson import LessonTargets
from webapp.setups.say import Say
from webapp.setups.slots import RELIEF, Slot, nut_slot
from webapp.setups.swing_targets import suited
from webapp.trade.content import Trade
from webapp.trade.ranges import Bands
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Family


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
        table = self._table_bands(slot, fret)
        taught = self.lesson.bands(self.spec, slot, fret, table) if self.lesson else None
        if taught is not None or slot.level:
            return taught or table
        # The relief's own target leans on no reading; a height's follows the bow.
        bow = self.relief_mm if slot.over_neck and slot != RELIEF else 0.0
        return suited(self.frame, slot, table, bow)

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
