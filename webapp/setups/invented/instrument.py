"""An invented instrument as it truly is, and the air of its room: it moves with that and answers the hand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from random import Random

import numpy as np

from webapp.physics.drift import Air, Floats
from webapp.physics.drift_fit import DAYS_PER_YEAR
from webapp.physics.intonation import expected_error
from webapp.physics.neck import Neck
from webapp.setups.air_log.daily import day_number
from webapp.setups.case import Case
from webapp.setups.geometry import STANDARD_HEIGHT, neck_under, neck_with_relief
from webapp.setups.journal import Part, Turn
from webapp.setups.slots import Slot, all_slots, nut_slot, pickup_slot, string_numbers
from webapp.trade.demo import DemoInstrument, DemoRoom
from webapp.trade.words import BridgeType, Side

# A thread that the description does not know still has a pitch. Most of a saddle's rise shows at a pickup.
UNKNOWN_PITCH_MM, RISE_AT_PICKUP = 0.7, 0.85


@dataclass
class Piece:
    """The true state, mm. `short_mm` is how far each saddle should move back; `rod_eighths` are tightened."""

    case: Case
    told: DemoInstrument
    air: Air
    begins: datetime
    saddle_mm: dict[int, float]
    nut_mm: dict[Slot, float]
    short_mm: dict[int, float]
    pickup_mm: dict[Slot, float]
    rod_eighths: int = 0
    strung_mm: float = 0.0

    @cached_property
    def _moist_at_start(self) -> float:
        return self._wood(self.begins)

    @cached_property
    def _wood_by_day(self) -> Floats:
        return self.air.wood(self.told.neck.lag_days, self.air.days)

    def _wood(self, at: datetime) -> float:
        return float(np.interp(day_number(at), self.air.days, self._wood_by_day))

    def relief(self, at: datetime) -> float:
        """True relief, read the family's standard way."""
        neck = self.told.neck
        years = (day_number(at) - day_number(self.begins)) / DAYS_PER_YEAR
        by_itself = neck.mm_per_percent * (self._wood(at) - self._moist_at_start) + neck.mm_per_year * years
        return neck.relief_mm + by_itself - self.rod_eighths * neck.rod_mm_per_eighth + self.strung_mm

    def neck(self, at: datetime, number: int) -> Neck:
        """The neck under one string."""
        way = self.case.relief_standard
        bowed = neck_with_relief(self.case.spec, self.relief(at), *way.frets)
        return neck_under(self.case.spec, number, bowed.curvature_per_mm)

    def height(self, at: datetime, number: int) -> float:
        """True height at 12, held at 1."""
        return self.neck(at, number).action(self.saddle_mm[number], STANDARD_HEIGHT.hold, STANDARD_HEIGHT.gap)

    def true(self, at: datetime, slot: Slot) -> float:
        """The true value of any slot, standard way: mm, or cents."""
        still = self.nut_mm | self.pickup_mm
        if slot in still:
            return still[slot]
        if slot.string is None:
            return self.relief(at)
        if not slot.is_cents:
            return self.height(at, slot.string)
        fret = self.case.high_fret if slot.high else 12
        return expected_error(self.case.spec.scale_of(slot.string), fret, self.short_mm[slot.string])

    def restring(self, rng: Random) -> None:
        """New strings of the same set pull nearly alike."""
        self.strung_mm += rng.gauss(0, 0.012)

    def apply(self, turn: Turn) -> None:
        """Answer a turn of the hand."""
        bridge = self.case.spec.bridge
        turned = turn.eighths / 8
        if turn.part is Part.ROD:
            self.rod_eighths += turn.eighths
        elif turn.part is Part.SADDLE_HEIGHT:
            rise = turned * self._pitch(bridge.height_thread)
            for number in self._carried(turn):
                self.saddle_mm[number] += rise
                for slot in self.pickup_mm:
                    if number == (1 if slot.side is Side.TREBLE else self.case.spec.string_count):
                        self.pickup_mm[slot] += rise * RISE_AT_PICKUP
        elif turn.part is Part.SADDLE_POSITION and turn.string is not None:
            self.short_mm[turn.string] -= turned * self._pitch(bridge.intonation_thread)
        elif turn.pickup is not None and turn.side is not None:
            thread = self.case.spec.pickups[turn.pickup - 1].thread
            self.pickup_mm[pickup_slot(turn.pickup, turn.side)] -= turned * self._pitch(thread)

    def _carried(self, turn: Turn) -> tuple[int, ...]:
        """The strings on a screw: its own, or on a post those of its half of the bridge."""
        if turn.string is not None:
            return (turn.string,)
        near = Side.BASS if turn.side is Side.BASS else Side.TREBLE
        across = self.case.spec.across
        return tuple(n for n in self.saddle_mm if (across(n) < 0.5) == (near is Side.BASS))

    def _pitch(self, thread: str) -> float:
        known = self.case.trade.threads.get(thread)
        return known.pitch_mm if known else UNKNOWN_PITCH_MM


def new_piece(case: Case, told: DemoInstrument, air: Air, begins: datetime, rng: Random) -> Piece:
    """The instrument as its story begins, a little off here and there, as any that comes to a bench."""
    numbers = string_numbers(case.spec)
    own_saddles = case.spec.bridge.type is not BridgeType.ONE_PIECE

    def middle(slot: Slot) -> float:
        return case.bands(slot).target.middle

    piece = Piece(
        case=case,
        told=told,
        air=air,
        begins=begins,
        saddle_mm={},
        nut_mm={slot: middle(slot) + rng.gauss(0, 0.03) for slot in map(nut_slot, numbers)},
        short_mm={n: rng.uniform(-2.0, 2.5) if own_saddles else rng.gauss(0, 0.4) for n in numbers},
        pickup_mm={
            slot: middle(slot) + rng.uniform(-0.7, 0.7)
            for slot in all_slots(case.spec)
            if slot.pickup is not None
        },
    )
    bass, treble = told.habits.height_mm
    for number in numbers:
        wanted = bass + (treble - bass) * case.spec.across(number)
        piece.saddle_mm[number] = piece.neck(begins, number).saddle_for_action(wanted)
    return piece


# Today's weather keeps this much of yesterday's, and adds so many percent of its own.
_KEPT, _WEATHER_PERCENT, _WEATHER_C = 0.8, 2.6, 0.5


def room_air(room: DemoRoom, first: date, last: date) -> dict[date, tuple[float, float]]:
    """Daily means, temperature in Celsius and humidity in percent, from one day to another, both included.

    A yearly wave and weather on top of it; the same seed and the same first day give the same air.
    """
    rng = Random(room.seed)
    middle, swing = _wave(room.driest_percent, room.wettest_percent)
    mild, warmth = _wave(room.coolest_c, room.warmest_c)
    found, weather, day = {}, 0.0, first
    while day <= last:
        turn = math.cos(2 * math.pi * (day.timetuple().tm_yday - room.wettest_day) / 365.25)
        weather = _KEPT * weather + rng.gauss(0, _WEATHER_PERCENT)
        humidity = min(max(middle + swing * turn + weather, 12.0), 92.0)
        temperature = mild + warmth * turn + rng.gauss(0, _WEATHER_C)
        found[day] = round(temperature, 1), round(humidity, 1)
        day += timedelta(days=1)
    return found


def _wave(low: float, high: float) -> tuple[float, float]:
    return (low + high) / 2, (high - low) / 2
