"""An instrument on a bench: it has true sizes, answers turns as a real one would, and is read with rounding.

Its geometry is written here anew, so that the advice is tried against something else than its own sums.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from random import Random

from tests.setups.journals import Bench
from webapp.setups.advice.model import Advice
from webapp.setups.journal import Part, Turn
from webapp.setups.slots import Slot, parse_slot
from webapp.setups.states import Act, SlotState, Step
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, Check, PickupPosition, Side

STANDARD = (1, 12)
PICKUP_AT = {PickupPosition.NECK: 0.76, PickupPosition.MIDDLE: 0.83, PickupPosition.BRIDGE: 0.93}
UNKNOWN_PITCHES_MM = (0.5, 0.7, 0.8, 1.0)


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
    rod_turns: list[int] = field(default_factory=list)

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
        assert slot.string is not None
        if slot.check is Check.HEIGHT:
            return self.height(slot.string, *STANDARD)
        if slot.check is Check.NUT:
            return self.nut_gap_mm[slot.string]
        return self.cents(slot.string, high_fret if slot.high else 12)

    def apply(self, turn: Turn) -> None:
        """Answer a turn of the hand."""
        turned = turn.eighths / 8
        if turn.part is Part.ROD:
            self.rod_turns.append(turn.eighths)
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
    steps: list[Step] = field(default_factory=list)

    def setup(self, most_steps: int) -> Step:
        """Follow the advice to the end; the last step is returned, finished or not."""
        for _ in range(most_steps):
            assessment = self.bench.assess()
            step = assessment.next
            self.steps.append(step)
            if step.act in (Act.FINISH, Act.STOP):
                break
            if step.act is Act.MEASURE:
                self._measure(parse_slot(step.place, self.bench.spec), assessment.slot(step.place))
            elif step.act is Act.DECIDE:
                self._decide(assessment.slot(step.place))
            else:
                self._answer(step)
        return self.steps[-1]

    def _measure(self, slot: Slot, state: SlotState) -> None:
        bench, piece = self.bench, self.piece
        high = bench.case().intonation_fret(slot) if slot.check is Check.INTONATION else 12
        value = round(piece.standard(slot, high), 2)
        detail: dict[str, int] = {}
        if slot.check is Check.RELIEF:
            value = round(piece.relief(self.relief_frets), 2)
            detail = dict(zip(("hold", "press", "gap"), self.relief_frets, strict=True))
        elif slot.check is Check.HEIGHT:
            assert slot.string is not None
            value = round(piece.height(slot.string, *self.height_way) * 20) / 20
            detail = dict(zip(("hold", "gap"), self.height_way, strict=True))
        elif slot.check is Check.INTONATION:
            value = float(round(value))
        again = state.reading is not None and state.measured and state.reading.value == value
        bench.reading(slot.key, value, **detail)
        if again:
            bench.keep(slot.key)  # read twice alike: the player believes it

    def _decide(self, state: SlotState) -> None:
        advice = state.advice
        assert isinstance(advice, Advice) and advice.turn is not None, state
        self.piece.apply(advice.turn)
        self.bench.log(advice.turn)

    def _answer(self, step: Step) -> None:
        if step.place == "start":
            self.bench.start()
        elif step.place == "height.buzz":
            self.bench.buzz(*self.piece.buzz_taps())
        elif step.place == "pickups.ear":
            self.bench.observe(step.place, heard=[])
        else:
            self.bench.observe(step.place, symptoms=[], signed=True)
