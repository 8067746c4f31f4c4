"""What a belief about one instrument starts from, and how its parts act on one another: geometry, no
readings."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from webapp.physics.arc import string_offset
from webapp.physics.intonation import cents_per_mm
from webapp.physics.mixture import Floats
from webapp.setups.belief.neck import NeckBelief
from webapp.setups.belief.places import PlacesBelief, Threads
from webapp.setups.geometry import STANDARD_HEIGHT, ReliefWay, saddle_per_action, standard_relief
from webapp.setups.slots import Slot, string_numbers
from webapp.trade.belief import Priors
from webapp.trade.content import Trade
from webapp.trade.ranges import Bands, FamilyRanges
from webapp.trade.spec import NO_SCREW, InstrumentSpec
from webapp.trade.words import BridgeType, Family, PickupType, RodType, Side

OCTAVE = 12
SAME_PITCH_MM = 0.01


@dataclass(frozen=True, eq=False)
class Frame:
    """One description of an instrument, and what the trade knows of its kind."""

    spec: InstrumentSpec
    trade: Trade

    @property
    def priors(self) -> Priors:
        return self.trade.belief

    @cached_property
    def family(self) -> Family:
        return self.trade.kinds[self.spec.kind].family

    @property
    def ranges(self) -> FamilyRanges:
        return self.trade.ranges.families[self.family]

    @property
    def pluck_mm(self) -> float:
        """Where this family's strings are plucked, from the saddle."""
        return self.trade.swing.pluck_mm[self.family]

    @cached_property
    def relief_standard(self) -> ReliefWay:
        """The way in which this family's relief bands are stated."""
        return standard_relief(self.spec, self.ranges)

    @cached_property
    def per_action(self) -> Floats:
        """Saddle travel in mm for one mm of height at 12, held at 1, of each string, bass side first."""
        numbers = string_numbers(self.spec)
        return np.array([saddle_per_action(self.spec, n, STANDARD_HEIGHT) for n in numbers])

    @cached_property
    def worked(self) -> dict[str, Any]:
        """What was worked out of this description alone, each thing once."""
        return {}

    def height_gains(self, string: int | None, side: Side | None) -> Floats:
        """Height that each string gains for one mm of travel of a saddle's screws, or of a post.

        Neither string nor side is both posts alike. Two posts carry one stiff bar.
        """
        if string is not None and self.spec.bridge.type is BridgeType.INDIVIDUAL:
            alone = np.zeros(self.spec.string_count)
            alone[self.spec.index_of(string)] = 1.0
            return np.asarray(alone / self.per_action)
        if side is None:
            return np.asarray(1.0 / self.per_action)
        count, spacing = self.spec.string_count, self.spec.spacing_bridge_mm
        posts = self.spec.bridge.post_spacing_mm or spacing
        places = np.array([string_offset(i, count, spacing) for i in range(count)])
        treble = places / posts + 0.5
        return np.asarray((treble if side is Side.TREBLE else 1 - treble) / self.per_action)

    @cached_property
    def tuning_gains(self) -> Floats:
        """Cents at the 12th for one mm that a saddle moves back, each string."""
        return np.array([-cents_per_mm(self.spec.scale_of(n), OCTAVE) for n in string_numbers(self.spec)])

    def tuning_row(self, slot: Slot, fret: int) -> dict[int, float]:
        """How an intonation reading adds up: the string's length, and what only the high fret shows."""
        assert slot.string is not None
        index, scale = self.spec.index_of(slot.string), self.spec.scale_of(slot.string)
        row = {index: cents_per_mm(scale, fret) / cents_per_mm(scale, OCTAVE)}
        if slot.high:
            row[self.spec.string_count + index] = max(0.0, (fret - OCTAVE) / 7)
        return row

    @staticmethod
    def pickup_index(slot: Slot) -> int:
        """Where a pickup's side stands among the places."""
        assert slot.pickup is not None
        return 2 * (slot.pickup - 1) + (1 if slot.side is Side.TREBLE else 0)

    def threads(self, told: str) -> Threads:
        """What a screw's thread may be, given what the player said of it."""
        prior = self.priors.thread
        listed: dict[float, bool] = {}
        for thread in self.trade.threads.values():
            known = next((p for p in listed if abs(p - thread.pitch_mm) < SAME_PITCH_MM), thread.pitch_mm)
            listed[known] = listed.get(known, False) or thread.key == told
        named = any(listed.values())
        pitches = [*listed, prior.other_mm]
        rest = (1 - prior.told if named else 1.0) * (1 - prior.other)
        others = len(listed) - (1 if named else 0)
        chances = [prior.told if is_told else rest / others for is_told in listed.values()]
        chances.append(1 - sum(chances))
        spreads = [*(prior.exact_share * p for p in listed), prior.other_spread_mm]
        return Threads(np.array(pitches), np.array(spreads), np.array(chances))

    def neck(self) -> NeckBelief:
        """The neck and the heights before anything is read: the middle of what repairers accept."""
        spec, ranges, kappa = self.spec, self.trade.ranges, self.priors.kappa[self.family]
        across = np.array([spec.across(n) for n in string_numbers(spec)])
        heights = [ranges.height_bands(self.family, spec.touch, float(a)).usual.middle for a in across]
        return NeckBelief.before(
            self.priors,
            self.threads(spec.bridge.height_thread),
            ranges.relief_bands(self.family, spec.touch).usual.middle,
            np.array(heights),
            across,
            (kappa.mean, kappa.spread),
            spec.rod.type is not RodType.NONE,
        )

    def tuning(self) -> PlacesBelief:
        """Every string's error at 12, then what the high fret shows beside it, cents."""
        first, count = self.priors.before, self.spec.string_count
        mean, own = self.worn_cents
        values = np.concatenate((np.zeros(count), np.full(count, mean)))
        sds = np.concatenate((np.full(count, first.cents), np.full(count, own)))
        return PlacesBelief.before(self.priors, self.threads(self.spec.bridge.intonation_thread), values, sds)

    @property
    def worn_cents(self) -> tuple[float, float]:
        """What the high fret shows beside twice the 12th: the stretch does not double, frets wear. Mean
        and sd."""
        return self.priors.before.stretch_cents, self.priors.before.worn_cents

    def pickups(self) -> PlacesBelief:
        """The gap of every pickup's two sides, mm."""
        told = {pickup.thread for pickup in self.spec.pickups}
        middles = [
            bands.usual.middle if (bands := self._pickup_bands(kind, side)) else 3.0
            for kind in (pickup.type for pickup in self.spec.pickups)
            for side in Side
        ]
        sds = np.full(len(middles), self.priors.before.pickup_mm)
        threads = self.threads(told.pop() if len(told) == 1 else "")
        return PlacesBelief.before(self.priors, threads, np.array(middles), sds)

    def _pickup_bands(self, kind: PickupType, side: Side) -> Bands | None:
        return self.trade.ranges.pickup_bands(self.family, kind, side, self.spec.touch)

    def level(self) -> PlacesBelief:
        """How much higher than its front edge a floating bridge's rear edge stands, mm; a "pitch" is what
        a whole turn of both claw screws makes of it."""
        prior = self.priors.before
        turn = Threads(np.array([prior.springs_mm]), np.array([prior.springs_spread_mm]), np.ones(1))
        at = np.array([self.spec.bridge.level_mm or 0.0])
        return PlacesBelief.before(self.priors, turn, at, np.array([prior.level_mm]))

    def nut(self) -> PlacesBelief:
        """Every open string's gap over fret 1, mm; nothing here is turned."""
        ranges = self.trade.ranges
        middles = [ranges.nut_bands(self.family, s.wound).usual.middle for s in self.spec.strings]
        sds = np.full(len(middles), self.priors.before.nut_mm)
        return PlacesBelief.before(self.priors, self.threads(NO_SCREW), np.array(middles), sds)


_FRAMES: OrderedDict[tuple[str, int], Frame] = OrderedDict()
MOST_FRAMES = 256


def frame_of(spec: InstrumentSpec, trade: Trade) -> Frame:
    """The frame of a description; the same object for the same description, so that a fold can go on from
    it."""
    key = spec.nameless_json(), id(trade)
    found = _FRAMES.get(key)
    if found is None or found.trade is not trade:
        found = _FRAMES[key] = Frame(spec, trade)
        while len(_FRAMES) > MOST_FRAMES:
            _FRAMES.popitem(last=False)
    return found
