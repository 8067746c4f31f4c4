"""Instruments with one thing wrong, plucked note by note: what the buzz finder is tried on.

Written with plain loops and its own geometry. The instrument has true sizes; with nothing wrong it plays
clean at the touch it is plucked with, with the one fault it buzzes. It is then read with tools: what the
gauge meets on the true frets, give or take the tool's error. The finder sees readings and marks, never the
truth. An instrument that does not buzz is drawn again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from random import Random

from tests.setups.journals import Bench, all_kinds, the_trade
from tests.setups.synthetic_truth import (
    Truth,
    lowest_saddle,
    nut_for,
    plays,
    relief_frets,
    usual_swing,
    with_relief,
)
from webapp.trade.buzz import CauseKey
from webapp.trade.words import Touch

FRET_ERROR_MM = (0.05, 0.30)
UNEVEN_BOARD_MM = 0.012  # a sound board's frets, one standard deviation
HAND = 0.08  # how much harder or softer than the touch's usual swing, one standard deviation
WIDE_MM = 0.15  # a finger's buzz is planted only where the string has this much room
PLUCK = 0.03  # from one pluck to the next
# (tool, error) as content/tools.toml states them, with how often each is in the player's hand.
RELIEF_TOOLS = ((0.02, 6), (0.05, 3), (0.15, 1))
HEIGHT_TOOLS = ((0.1, 6), (0.25, 4))
NUT_TOOLS = ((0.02, 6), (0.05, 3), (0.1, 2))
TUNER_CENTS = 1.0
AGES = (("fresh", 3), ("weeks", 3), ("months", 2), ("old", 1), ("unknown", 1))
TIRED_AGES = (("months", 4), ("old", 5), ("unknown", 1))


@dataclass(frozen=True)
class Planted:
    """An instrument with one fault: what it is, which fret, and the notes that buzz because of it."""

    key: CauseKey
    truth: Truth
    touch: Touch
    taps: tuple[tuple[int, int], ...]
    fret: int | None = None
    high: bool = False
    string: int | None = None
    tired: frozenset[int] = frozenset()


@dataclass
class Workshop:
    """Draws instruments from a seeded hat."""

    rng: Random
    draws: int = 0
    kinds: Sequence[str] = field(default_factory=all_kinds)

    def planted(self, key: CauseKey) -> Planted:
        """Draw until one is clean without its fault and buzzes with it."""
        while True:
            self.draws += 1
            found = self._draw(key)
            if found is not None and found.taps:
                return found

    def _draw(self, key: CauseKey) -> Planted | None:
        rng = self.rng
        kind = rng.choice(list(self.kinds))
        touch = rng.choice(list(Touch))
        sound = self._sound(kind, touch)
        if any(plays(sound)):
            return None
        faults: dict[CauseKey, Callable[[Truth, str, Touch], Planted]] = {
            CauseKey.TOO_LOW: self._too_low,
            CauseKey.TOO_STRAIGHT: self._too_straight,
            CauseKey.TOO_BOWED: self._too_bowed,
            CauseKey.NUT_LOW: self._nut_low,
            CauseKey.UNEVEN_FRET: self._uneven,
            CauseKey.UPPER_BOARD: self._upper,
            CauseKey.LOOSE: self._loose,
            CauseKey.OLD_STRING: self._old,
            CauseKey.TECHNIQUE: self._finger,
        }
        return faults[key](sound, kind, touch)

    def _sound(self, kind: str, touch: Touch) -> Truth:
        """An instrument in order for this touch: targets met, a little room above the lowest clean action."""
        rng, trade = self.rng, the_trade()
        spec = trade.kinds[kind].spec
        family = trade.kinds[kind].family
        numbers, way = range(len(spec.strings), 0, -1), relief_frets(kind)
        target = trade.ranges.relief_bands(family, touch).target
        truth = Truth(
            spec=spec,
            relief_frets=way,
            bow_per_mm=0.0,
            saddle_mm={},
            nut_mm={},
            swing_mm={},
            frets={},
        )
        hand = rng.gauss(1.0, HAND)
        swing = {n: [usual_swing(kind, touch, n) * hand] * (spec.fret_count + 1) for n in numbers}
        truth = with_relief(replace(truth, swing_mm=swing), rng.uniform(target.low, target.high))
        room = rng.uniform(0.08, 0.4)
        saddle = {n: lowest_saddle(truth, n) + 2 * (room + rng.uniform(0.0, 0.15)) for n in numbers}
        truth = replace(truth, saddle_mm=saddle)
        nut = {}
        for n in numbers:
            band = trade.ranges.nut_bands(family, spec.string(n).wound).target
            nut[n] = nut_for(truth, n, rng.uniform(band.low, band.high))
        frets = {
            (n, f): rng.gauss(0.0, UNEVEN_BOARD_MM) for f in range(1, spec.fret_count + 1) for n in numbers
        }
        # The board is plucked once: the same plucks meet the instrument with its fault as without.
        plucks = {n: [swing * rng.gauss(1.0, PLUCK) for swing in row] for n, row in truth.swing_mm.items()}
        return replace(truth, nut_mm=nut, frets=frets, swing_mm=plucks)

    # the faults

    def _buzzing(self, key: CauseKey, truth: Truth, touch: Touch, **known: object) -> Planted:
        return Planted(key, truth, touch, tuple(plays(truth)), **known)  # type: ignore[arg-type]

    def _too_low(self, sound: Truth, kind: str, touch: Touch) -> Planted:
        """Saddles down, all together or one alone."""
        rng = self.rng
        numbers = list(sound.saddle_mm)
        low = numbers if rng.random() < 0.7 else [rng.choice(numbers)]
        drop = 2 * rng.uniform(0.3, 1.0)
        saddle = {n: s - (drop if n in low else 0.0) for n, s in sound.saddle_mm.items()}
        return self._buzzing(CauseKey.TOO_LOW, replace(sound, saddle_mm=saddle), touch)

    def _too_straight(self, sound: Truth, kind: str, touch: Touch) -> Planted:
        target = the_trade().ranges.relief_bands(the_trade().kinds[kind].family, touch).target
        relief = target.low - self.rng.uniform(0.06, 0.35)
        return self._buzzing(CauseKey.TOO_STRAIGHT, self._bent(sound, relief), touch)

    def _too_bowed(self, sound: Truth, kind: str, touch: Touch) -> Planted:
        target = the_trade().ranges.relief_bands(the_trade().kinds[kind].family, touch).target
        relief = target.high + self.rng.uniform(0.1, 0.7)
        return self._buzzing(CauseKey.TOO_BOWED, self._bent(sound, relief, keeps_action=True), touch)

    def _bent(self, sound: Truth, relief_mm: float, keeps_action: bool = False) -> Truth:
        """Another relief; the player has set the action over it again, or left the saddles alone."""
        bent = with_relief(sound, relief_mm)
        if not keeps_action and self.rng.random() < 0.4:
            return bent
        saddle = {}
        for n in sound.saddle_mm:
            lost = sound.string_over(n, 1, 12) - bent.string_over(n, 1, 12)
            x1 = sound.x(n, 1)
            saddle[n] = bent.saddle_mm[n] + lost * (sound.spec.scale_of(n) - x1) / (sound.x(n, 12) - x1)
        return replace(bent, saddle_mm=saddle)

    def _nut_low(self, sound: Truth, kind: str, touch: Touch) -> Planted:
        rng = self.rng
        numbers = list(sound.nut_mm)
        worn = rng.sample(numbers, rng.choice((1, 1, 2)))
        nut = {
            n: nut_for(sound, n, rng.uniform(0.0, 0.2)) if n in worn else mm for n, mm in sound.nut_mm.items()
        }
        return self._buzzing(CauseKey.NUT_LOW, replace(sound, nut_mm=nut), touch)

    def _uneven(self, sound: Truth, kind: str, touch: Touch) -> Planted:
        """One fret proud or worn by 0.05 to 0.3 mm: right across, or most under one string."""
        rng = self.rng
        high = rng.random() < 0.5
        by = rng.uniform(*FRET_ERROR_MM) * (1 if high else -1)
        last = sound.spec.fret_count
        fret = rng.randint(2, last) if high else rng.randint(1, last - 1)
        middle = rng.choice(list(sound.saddle_mm))
        across = rng.random() < 0.5
        frets = dict(sound.frets)
        for n in sound.saddle_mm:
            frets[n, fret] += by * (1.0 if across else {0: 1.0, 1: 0.3}.get(abs(n - middle), 0.0))
        return self._buzzing(CauseKey.UNEVEN_FRET, replace(sound, frets=frets), touch, fret=fret, high=high)

    def _upper(self, sound: Truth, kind: str, touch: Touch) -> Planted:
        """The board past the joint humps, rises to its end, or falls away from a peak at the joint."""
        rng, spec = self.rng, sound.spec
        joint, last = spec.joint_fret, spec.fret_count
        by = rng.uniform(0.1, 0.4)
        way = rng.choice(("hump", "rise", "fall-away"))
        top = joint + rng.uniform(-0.5, 2.5)
        half = rng.uniform(2.5, 5.0)
        start = joint - rng.uniform(0.0, 1.5)
        frets = dict(sound.frets)
        for f in range(1, last + 1):
            if way == "rise":
                lift = by * max(0.0, f - start) / (last - start)
            elif way == "hump" or f <= joint:
                lift = by * max(0.0, 1 - abs(f - (top if way == "hump" else joint)) / half)
            else:
                lift = by * (1 - 2 * (f - joint) / (last - joint))
            for n in sound.saddle_mm:
                frets[n, f] += lift
        planted = self._buzzing(CauseKey.UPPER_BOARD, replace(sound, frets=frets), touch)
        # Where it reaches one fret only, it is one high fret and nothing else.
        return planted if len({fret for _, fret in planted.taps}) > 1 else replace(planted, taps=())

    def _loose(self, sound: Truth, kind: str, touch: Touch) -> Planted:
        """A saddle that rattles under one string, or a part that answers one pitch on every string."""
        rng = self.rng
        numbers, last = list(sound.saddle_mm), sound.spec.fret_count
        if rng.random() < 0.6:
            n, rate = rng.choice(numbers), rng.uniform(0.3, 0.9)
            return Planted(CauseKey.LOOSE, sound, touch,
                           tuple((n, f) for f in range(last + 1) if rng.random() < rate))  # fmt: skip
        opens = {n: midi(sound.spec.string(n).note) for n in numbers}
        low, high = min(opens.values()), max(opens.values()) + last
        pitch = rng.randint(low + 5, high - 12)
        taps = tuple(
            (n, pitch - opens[n]) for n in numbers if 0 <= pitch - opens[n] <= last and rng.random() < 0.9
        )
        # A single note says nothing about a pitch.
        return Planted(CauseKey.LOOSE, sound, touch, taps if len(taps) >= 3 else ())

    def _old(self, sound: Truth, kind: str, touch: Touch) -> Planted:
        """A dented, dirty string: notes here and there, and frets that disagree with the tuner."""
        rng = self.rng
        numbers, last = list(sound.saddle_mm), sound.spec.fret_count
        tired = numbers if rng.random() < 0.5 else [rng.choice(numbers)]
        rate = rng.uniform(0.1, 0.3)
        taps = tuple((n, f) for n in tired for f in range(last + 1) if rng.random() < rate)
        return Planted(
            CauseKey.OLD_STRING, sound, touch, taps if len(taps) >= 2 else (), tired=frozenset(tired)
        )

    def _finger(self, sound: Truth, kind: str, touch: Touch) -> Planted:
        """A few notes pressed badly, far apart, where the string has room to spare."""
        rng = self.rng
        notes = [
            (n, f)
            for n in sound.saddle_mm
            for f in range(1, sound.spec.fret_count)
            if sound.room(n, f) > WIDE_MM
        ]
        taps: list[tuple[int, int]] = []
        for n, f in rng.sample(notes, len(notes)):
            if len(taps) < rng.choice((2, 3, 4)) and all(abs(f - other) > 1 for _, other in taps):
                taps.append((n, f))
        return Planted(CauseKey.TECHNIQUE, sound, touch, tuple(taps) if len(taps) > 1 else ())


def midi(note: str) -> int:
    """The number of a note among all semitones."""
    letters = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    return letters[note[0]] + {"#": 1, "b": -1}.get(note[1], 0) + 12 * int(note[-1])


def read_with_tools(planted: Planted, rng: Random) -> Bench:
    """A journal of this instrument: every reading off by up to its tool's error, then the buzz board."""
    truth = planted.truth
    spec = truth.spec.model_copy(update={"touch": planted.touch})
    bench = Bench(spec)
    bench.observe("start", stoppers=[], age=_pick(rng, TIRED_AGES if planted.tired else AGES))

    def off(tools: Sequence[tuple[float, int]]) -> tuple[float, float]:
        error = rng.choices([e for e, _ in tools], [w for _, w in tools])[0]
        return rng.uniform(-error, error), error

    by, error = off(RELIEF_TOOLS)
    hold, press, gap = truth.relief_frets
    bench.reading("relief", truth.relief() + by, error=error, hold=hold, press=press, gap=gap)
    for n in bench.numbers:
        by, error = off(HEIGHT_TOOLS)
        bench.reading(f"height.{n}", truth.string_over(n, 1, 12) + by, error=error, hold=1, gap=12)
    for n in bench.numbers:
        by, error = off(NUT_TOOLS)
        bench.reading(f"nut.{n}", max(0.0, truth.string_over(n, 0, 1) + by), error=error)
    _read_tuner(bench, planted, rng)
    bench.observe("height.buzz", taps=[list(tap) for tap in planted.taps], touch=planted.touch.value)
    return bench


def _read_tuner(bench: Bench, planted: Planted, rng: Random) -> None:
    """Each string's saddle is a little off; a tired string adds what no saddle explains."""
    high = bench.case().high_fret
    for n in bench.numbers:
        saddle_mm, nut_cents = rng.gauss(0, 1.5), rng.uniform(0, 3)
        for slot, fret in ((f"intonation.{n}.12", 12), (f"intonation.{n}.high", high)):
            per_mm = 1731.2 / bench.spec.scale_of(n) * (2 ** (fret / 12) - 1)
            tired = rng.gauss(0, 5.0) if n in planted.tired else 0.0
            cents = saddle_mm * per_mm + nut_cents + tired + rng.uniform(-TUNER_CENTS, TUNER_CENTS)
            bench.reading(slot, round(cents, 1), fret=fret)


def _pick(rng: Random, ages: Sequence[tuple[str, int]]) -> str:
    return rng.choices([age for age, _ in ages], [weight for _, weight in ages])[0]
