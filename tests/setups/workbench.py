"""An instrument on a bench: it has true sizes, answers turns as a real one would, and is read with rounding.

Its geometry is written here anew, so that the advice is tried against something else than its own sums.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from random import Random

from tests.setups.journals import Bench
from tests.setups.obeying import obey
from webapp.setups.journal import Part, Turn
from webapp.setups.slots import Slot, parse_slot
from webapp.setups.states import Step
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, Check, PickupPosition, Side

STANDARD = (1, 12)
PICKUP_AT = {PickupPosition.NECK: 0.76, PickupPosition.MIDDLE: 0.83, PickupPosition.BRIDGE: 0.93}
UNKNOWN_PITCHES_MM = (0.5, 0.7, 0.8, 1.0)
# What a whole turn of both claw screws draws the rear edge of this floating bridge down by.
SPRINGS_MM = 1.0


@dataclass
class Workpiece:
    """The true state of one instrument. Lengths mm; `saddle_mm` over the straight end of the board."""

    spec: InstrumentSpec
    bow_per_mm: float
    rod_mm_per_eighth: float
    relief_frets: tuple[int, int, int]
    saddle_mm: dict[int, float]
    short_mm: dict[int, float]
    nut_gap_mm: dict[int, float]
    nut_cents: dict[int, float]
    pickup_mm: dict[tuple[int, Side], float]
    bridge_pitch_mm: float
    shift_pitch_mm: float
    pickup_pitch_mm: float
    buzzes_below_mm: dict[int, float]
    lean_mm: float = 0.0
    turns: list[Turn] = field(default_factory=list)

    # geometry

    def fret_x(self, number: int, fret: int) -> float:
        return self.spec.scale_of(number) * (1 - 2 ** (-fret / 12))

    def fret_y(self, number: int, fret: int, bow: float | None = None) -> float:
        before = max(self.fret_x(number, self.spec.joint_fret) - self.fret_x(number, fret), 0.0)
        return (self.bow_per_mm if bow is None else bow) * before**2

    def relief(self, frets: tuple[int, int, int], bow: float | None = None) -> float:
        hold, press, gap = frets
        number = len(self.spec.strings)
        x0, x1, x = (self.fret_x(number, f) for f in (hold, press, gap))
        y0, y1, y = (self.fret_y(number, f, bow) for f in (hold, press, gap))
        return y0 + (y1 - y0) * (x - x0) / (x1 - x0) - y

    def height(self, number: int, hold: int, gap: int) -> float:
        scale, saddle = self.spec.scale_of(number), self.saddle_mm[number]
        x, x0, y0 = self.fret_x(number, gap), self.fret_x(number, hold), self.fret_y(number, hold)
        if hold == 0:
            # The string stands `nut_gap_mm` over fret 1 and runs straight to the saddle.
            x0 = self.fret_x(number, 1)
            y0 = self.fret_y(number, 1) + self.nut_gap_mm[number]
        return y0 + (saddle - y0) * (x - x0) / (scale - x0) - self.fret_y(number, gap)

    def cents(self, number: int, fret: int) -> float:
        scale = self.spec.scale_of(number)
        length = scale - self.short_mm[number]
        exact = 1200 * math.log2(length / (length - self.fret_x(number, fret))) - 100 * fret
        return exact + self.nut_cents[number]

    def pickup_gap(self, pickup: int, side: Side) -> float:
        number = len(self.spec.strings) if side is Side.BASS else 1
        scale, last = self.spec.scale_of(number), self.fret_x(number, self.spec.fret_count)
        place = scale * PICKUP_AT[self.spec.pickups[pickup - 1].position]
        under = self.fret_y(number, self.spec.fret_count)
        string = under + (self.saddle_mm[number] - under) * (place - last) / (scale - last)
        return string - self.pickup_mm[(pickup, side)]

    # the player's hands

    def standard(self, slot: Slot, high_fret: int) -> float:
        """The true value of a slot, said the way its bands are stated."""
        if slot.check is Check.RELIEF:
            return self.relief(self.relief_frets)
        if slot.pickup is not None and slot.side is not None:
            return self.pickup_gap(slot.pickup, slot.side)
        if slot.level:
            return self.lean_mm
        assert slot.string is not None
        if slot.check is Check.HEIGHT:
            return self.height(slot.string, *STANDARD)
        if slot.check is Check.NUT:
            return self.nut_gap_mm[slot.string]
        return self.cents(slot.string, high_fret if slot.high else 12)

    def apply(self, turn: Turn) -> None:
        """Answer a turn of the hand."""
        turned = turn.eighths / 8
        self.turns.append(turn)
        if turn.part is Part.ROD:
            wanted = self.relief(self.relief_frets) - turn.eighths * self.rod_mm_per_eighth
            self.bow_per_mm = wanted / self.relief(self.relief_frets, bow=1.0)
        elif turn.part is Part.SADDLE_HEIGHT and turn.string is not None:
            self.saddle_mm[turn.string] += turned * self.bridge_pitch_mm
        elif turn.part is Part.SADDLE_HEIGHT and turn.side is not None:
            self._tilt(turn.side, turned * self.bridge_pitch_mm)
        elif turn.part is Part.SADDLE_HEIGHT:
            for side in Side:
                self._tilt(side, turned * self.bridge_pitch_mm)
        elif turn.part is Part.SADDLE_POSITION and turn.string is not None:
            self.short_mm[turn.string] -= turned * self.shift_pitch_mm
        elif turn.part is Part.PICKUP_HEIGHT and turn.pickup is not None and turn.side is not None:
            self.pickup_mm[(turn.pickup, turn.side)] += turned * self.pickup_pitch_mm
        elif turn.part is Part.SPRINGS:
            self.lean_mm -= turned * SPRINGS_MM

    def _tilt(self, side: Side, rise_mm: float) -> None:
        """One post rises, the other stays: every string moves by its share of the way across the posts."""
        spacing = self.spec.spacing_bridge_mm
        posts = self.spec.bridge.post_spacing_mm or spacing
        for number in self.saddle_mm:
            from_bass = (posts - spacing) / 2 + spacing * self.spec.across(number)
            share = 1 - from_bass / posts if side is Side.BASS else from_bass / posts
            self.saddle_mm[number] += rise_mm * share

    def buzz_taps(self) -> list[tuple[int, int]]:
        """A string that stands too low buzzes at several frets."""
        low = (n for n in self.saddle_mm if self.height(n, *STANDARD) < self.buzzes_below_mm[n])
        return [(number, fret) for number in low for fret in (3, 4, 5)]


def workpiece(bench: Bench, rng: Random) -> Workpiece:
    """A random start: every quantity somewhere between a little outside its usual band and the middle."""
    spec, case = bench.spec, bench.case()

    def somewhere(key: str) -> float:
        usual = case.bands(parse_slot(key, spec)).usual
        return rng.uniform(usual.low - usual.width / 3, usual.high + usual.width / 3)

    numbers = bench.numbers
    way = case.relief_standard
    threads = bench.trade.threads

    def pitch(key: str) -> float:
        """The true thread: within a few hundredths of the named one, or any where it is not known."""
        known = threads.get(key)
        return known.pitch_mm * rng.uniform(0.97, 1.03) if known else rng.choice(UNKNOWN_PITCHES_MM)

    piece = Workpiece(
        spec=spec,
        bow_per_mm=0.0,
        rod_mm_per_eighth=rng.uniform(0.02, 0.15),
        relief_frets=way.frets,
        saddle_mm=dict.fromkeys(numbers, 0.0),
        short_mm={n: rng.uniform(-6, 6) for n in numbers},
        nut_gap_mm={n: max(0.05, somewhere(f"nut.{n}")) for n in numbers},
        nut_cents={n: rng.choice((0.0, 0.0, rng.uniform(0, 11))) for n in numbers},
        pickup_mm={(p, side): 0.0 for p in range(1, len(spec.pickups) + 1) for side in Side},
        bridge_pitch_mm=pitch(spec.bridge.height_thread),
        shift_pitch_mm=pitch(spec.bridge.intonation_thread),
        pickup_pitch_mm=pitch(spec.pickups[0].thread) if spec.pickups else 1.0,
        lean_mm=rng.uniform(-1.0, 1.0),
        buzzes_below_mm={
            n: case.bands(parse_slot(f"height.{n}", spec)).target.low + rng.uniform(-0.3, 0.15)
            for n in numbers
        },
    )
    piece.bow_per_mm = somewhere("relief") / piece.relief(way.frets, bow=1.0)
    _set_heights(piece, bench, somewhere, rng)
    for pickup, side in piece.pickup_mm:
        piece.pickup_mm[pickup, side] = piece.pickup_gap(pickup, side) - max(
            0.5, somewhere(f"pickups.{pickup}.{side.value}")
        )
    return piece


def _set_heights(piece: Workpiece, bench: Bench, somewhere: object, rng: Random) -> None:
    """Saddles for random heights; on posts the bridge is a bar whose saddles follow the board."""
    assert callable(somewhere)
    wanted = {n: max(0.6, float(somewhere(f"height.{n}"))) for n in bench.numbers}
    if bench.spec.bridge.type is not BridgeType.INDIVIDUAL:
        bass, treble = wanted[bench.numbers[0]], wanted[bench.numbers[-1]]
        wanted = {n: bass + (treble - bass) * bench.spec.across(n) for n in bench.numbers}
    for number, height in wanted.items():
        at_zero = piece.height(number, *STANDARD)
        piece.saddle_mm[number] = 1.0
        piece.saddle_mm[number] = (height - at_zero) / (piece.height(number, *STANDARD) - at_zero)


@dataclass
class Player:
    """Reads with rounding, in their own way, and does what the next step says."""

    bench: Bench
    piece: Workpiece
    relief_frets: tuple[int, int, int]
    height_way: tuple[int, int]

    def setup(self, until: Check | None = None) -> list[Step]:
        """Follow the advice to the end, or to a check."""
        return obey(self.bench, self.read, self.piece.apply, taps=self.piece.buzz_taps, until=until)

    def read(self, key: str) -> None:
        """What the gauge shows; a blade cannot be pushed under a neck that bends back."""
        bench, piece, slot = self.bench, self.piece, parse_slot(key, self.bench.spec)
        if slot.check is Check.RELIEF:
            value = max(0.0, round(piece.relief(self.relief_frets) / 0.05) * 0.05)
            hold, press, gap = self.relief_frets
            bench.reading(key, value, hold=hold, press=press, gap=gap)
            return
        if slot.check is Check.HEIGHT and slot.string is not None:
            value = round(piece.height(slot.string, *self.height_way) * 20) / 20
            hold, gap = self.height_way
            bench.reading(key, value, hold=hold, gap=gap, step=0.05)
            return
        true = piece.standard(slot, bench.case().intonation_fret(slot))
        steps = {Check.NUT: 0.05, Check.INTONATION: 1.0}.get(slot.check, 0.1)
        bench.reading(key, round(true / steps) * steps)
