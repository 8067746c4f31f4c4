"""What speaks for a cause, in sentences with numbers: heard, read or said, or forecast by the map."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np

from webapp.setups.buzz.scene import Scene, own_touch
from webapp.setups.buzz.weigh import Suspect, Weighed, remainder_cents
from webapp.setups.buzz_marks import answers_since
from webapp.setups.case import Case
from webapp.setups.checks import start
from webapp.setups.slots import RELIEF, Slot, height_slot, nut_slot, string_label
from webapp.trade.buzz import CauseKey

# More strings than this are counted instead of spelled out.
MOST_STRINGS = 3


class Source(StrEnum):
    """Where a piece of evidence comes from."""

    HEARD = "heard"
    MEASURED = "measured"
    FORECAST = "forecast"
    SAID = "said"
    MISSING = "missing"


@dataclass(frozen=True)
class Evidence:
    """One sentence around one figure; the figure may be empty."""

    source: Source
    before: str
    figure: str = ""
    after: str = ""

    @property
    def sentence(self) -> str:
        return f"{self.before}{self.figure}{self.after}"


@dataclass(frozen=True)
class Spot:
    """The least room of one note: which string, fretted where, over which fret, mm."""

    string: int
    fretted: int
    over: int
    room_mm: float


class Witness:
    """Knows one board, and says what in it speaks for a cause."""

    def __init__(self, case: Case, scene: Scene) -> None:
        self.case = case
        self.scene = scene
        self.say = case.say
        self.touch = "your own" if own_touch(case, scene.touch) else f"a {scene.touch.value}"

    def evidence(self, weighed: Weighed) -> tuple[Evidence, ...]:
        """The sentences for one cause, the strongest first."""
        tell: dict[CauseKey, Callable[[Weighed], Iterable[Evidence]]] = {
            CauseKey.TOO_LOW: self._too_low,
            CauseKey.TOO_STRAIGHT: self._bent,
            CauseKey.TOO_BOWED: self._bent,
            CauseKey.NUT_LOW: self._nut_low,
            CauseKey.UNEVEN_FRET: self._uneven,
            CauseKey.UPPER_BOARD: self._upper,
            CauseKey.LOOSE: self._loose,
            CauseKey.OLD_STRING: self._old,
            CauseKey.TECHNIQUE: self._finger,
        }
        return (*tell[weighed.key](weighed), *self._answered(weighed.key))

    def _answered(self, key: CauseKey) -> Iterable[Evidence]:
        """What was asked about this cause since, and a yes or a no."""
        told = answers_since(self.scene.case, self.scene.board)
        for question in self.case.trade.buzz.question:
            answer = told.get(question.key, "")
            if question.cause is key and answer in ("yes", "no"):
                yield Evidence(Source.SAID, f"{question.label} ", answer.capitalize(), ".")

    # what the map says with everything as it is believed to stand

    def spot(self, number: int, fret: int) -> Spot | None:
        """Where a note has least room; None at the last fret, with nothing ahead."""
        gaps, index = self.scene.gaps, self.scene.numbers.index(number)
        relief, action, swing = self.relief_mm, self._mean(height_slot(number)), self.scene.swing_mm[index]
        if fret == 0:
            held = action * gaps.open_per_action[:, index] + relief * gaps.open_per_relief[:, index]
            nut = self._mean(nut_slot(number)) * gaps.open_per_nut[:, index]
            room = held + nut - swing * gaps.open_reach[:, index]
            return Spot(number, 0, int(np.argmin(room)) + 1, float(room.min()))
        ahead = np.flatnonzero(gaps.fretted == fret)
        if not ahead.size:
            return None
        room = action * gaps.per_action[ahead, index] + relief * gaps.per_relief[ahead, index]
        room = room - swing * gaps.reach[ahead, index]
        return Spot(number, fret, int(gaps.over[ahead[np.argmin(room)]]), float(room.min()))

    @property
    def relief_mm(self) -> float:
        return self._mean(RELIEF)

    def _mean(self, slot: Slot) -> float:
        return self.scene.case.standing(slot).mean

    @cached_property
    def spots(self) -> tuple[Spot, ...]:
        """The least room of every note that buzzed."""
        found = (self.spot(number, fret) for number in self.scene.marked for fret in self.scene.frets(number))
        return tuple(spot for spot in found if spot is not None)

    def _room(self, spot: Spot, more: str = "") -> Evidence:
        before = f"At {self.touch} touch the map leaves "
        return Evidence(
            Source.FORECAST, before, self.say.length(spot.room_mm), f" {self._where(spot)}{more}."
        )

    def _where(self, spot: Spot) -> str:
        fretted = "open" if spot.fretted == 0 else f"fretted at {spot.fretted}"
        return f"on the {self._name(spot.string)}, {fretted}, over fret {spot.over}"

    def _least(self, fretted_only: bool = True) -> Iterable[Evidence]:
        spots = [s for s in self.spots if s.fretted or not fretted_only] or list(self.spots)
        if spots:
            yield self._room(min(spots, key=lambda spot: spot.room_mm))

    # words

    def _name(self, number: int) -> str:
        return string_label(self.case.spec, number)

    def heard(self) -> Evidence:
        """The marks, string by string, or counted where there are many."""
        marked = self.scene.marked
        if len(marked) > MOST_STRINGS:
            frets = sorted({fret for number in marked for fret in self.scene.frets(number)})
            words = f"{self.taps} notes on {len(marked)} strings, at {ranges(frets)}"
        else:
            words = "; ".join(f"{self._name(n)} at {ranges(self.scene.frets(n))}" for n in marked)
        return Evidence(Source.HEARD, f"Buzzing: {words}.")

    @property
    def taps(self) -> int:
        """How many notes are marked."""
        return int(self.scene.tapped.sum())

    def _relief(self) -> Evidence:
        target = self.scene.relief_target
        after = f"; for this touch {self.say.band(target.low, target.high)}."
        return self._known(RELIEF, "The relief is ", after, "The relief was not measured.")

    def _known(self, slot: Slot, before: str, after: str, without: str) -> Evidence:
        """What is believed of a place that was ever read."""
        if slot.key not in self.scene.case.belief.read:
            return Evidence(Source.MISSING, without)
        stands = self.scene.case.standing(slot)
        return Evidence(Source.MEASURED, before, self.say.about(stands.mean, stands.give), after)

    # cause by cause

    def _too_low(self, weighed: Weighed) -> Iterable[Evidence]:
        short = min(weighed.strings, key=lambda n: self._mean(height_slot(n)) - self._need(n))
        name = self._name(short)
        without = f"The height of the {name} was not measured."
        yield self._known(height_slot(short), f"The {name} stands ", " at the 12th.", without)
        before = f"With the relief in its target, {self.touch} touch needs about "
        yield Evidence(Source.FORECAST, before, self.say.length(self._need(short)), " at the 12th.")
        yield from self._least()
        yield self.heard()

    def _need(self, number: int) -> float:
        """Lowest clean action of a string with the relief brought into its target, mm."""
        target, gaps, index = self.scene.relief_target, self.scene.gaps, self.scene.numbers.index(number)
        relief = min(max(self.relief_mm, target.low), target.high)
        dips = self.scene.swing_mm[index] * gaps.reach[:, index]
        return float(np.max((dips - relief * gaps.per_relief[:, index]) / gaps.per_action[:, index]))

    def _bent(self, weighed: Weighed) -> Iterable[Evidence]:
        yield self._relief()
        yield from self._least()
        yield self.heard()

    def _nut_low(self, weighed: Weighed) -> Iterable[Evidence]:
        for number in weighed.strings[:MOST_STRINGS]:
            name, usual = self._name(number), self.case.bands(nut_slot(number)).target
            after = f" over fret 1; usual {self.say.band(usual.low, usual.high)}."
            without = f"The gap of the {name} at the nut was not measured."
            yield self._known(nut_slot(number), f"The open {name} stands ", after, without)
        opened = [spot for spot in self.spots if spot.fretted == 0]
        if opened:
            yield self._room(min(opened, key=lambda spot: spot.room_mm))
        yield self.heard()

    def _uneven(self, weighed: Weighed) -> Iterable[Evidence]:
        roomy = max(self.spots, key=lambda spot: spot.room_mm, default=None)
        if roomy is not None:
            clean = ", so it should play clean" if roomy.room_mm > 0 else ""
            yield self._room(roomy, clean)
        yield self.heard()
        for suspect, words in zip(weighed.suspects, ("Best explained by", "Or by"), strict=False):
            yield self._suspect(suspect, words)

    def _suspect(self, suspect: Suspect, words: str) -> Evidence:
        how = "too high" if suspect.high else "worn"
        before = f"{words} fret {suspect.fret}, about "
        return Evidence(Source.FORECAST, before, self.say.length(suspect.by_mm), f" {how}.")

    def _upper(self, weighed: Weighed) -> Iterable[Evidence]:
        joint = self.case.spec.joint_fret
        yield self.heard()
        if self.spots:
            least = min(self.spots, key=lambda spot: spot.room_mm)
            yield self._room(least, ", the least of these notes")
        way = {
            "hump": f"frets standing high about fret {joint}, where the neck meets the body",
            "fall": f"frets that peak at fret {joint}, where the neck meets the body, and fall away after it",
            "rise": f"a board that rises from fret {joint}, where the neck meets the body, to its end",
        }[weighed.way]
        yield Evidence(Source.FORECAST, f"Best explained by {way}.")

    def _loose(self, weighed: Weighed) -> Iterable[Evidence]:
        yield self.heard()
        notes = self.case.spec.fret_count + 1
        if weighed.way == "string":
            number = weighed.strings[0]
            before = f"On the {self._name(number)} {len(self.scene.frets(number))} of {notes} notes"
            yield Evidence(Source.HEARD, f"{before}, with clean ones between: no pattern of frets.")
        elif weighed.way == "pitch":
            yield Evidence(Source.HEARD, "Most of these notes sound the same pitch, on whichever string.")
        elif weighed.way == "open":
            yield Evidence(Source.HEARD, "Open strings, though their slots are not low.")
        else:
            yield Evidence(Source.HEARD, "They follow no pattern of frets or strings.")
        yield from self._roomiest()

    def _roomiest(self) -> Iterable[Evidence]:
        if self.spots:
            yield self._room(max(self.spots, key=lambda spot: spot.room_mm), ", room enough")

    def _old(self, weighed: Weighed) -> Iterable[Evidence]:
        answer = start.newest(self.case)
        key = str(answer.detail.get("age", "")) if answer else ""
        label = next((a.label for a in self.case.trade.start.ages if a.key == key), "")
        if label:
            yield Evidence(Source.SAID, f"How old the strings are: {label[0].lower()}{label[1:]}.")
        for number in weighed.strings:
            left = remainder_cents(self.case, number)
            if left is not None and abs(left) > self.case.trade.practice.doubt.left_over_cents:
                before = f"{self._name(number)}: the high fret is off by "
                yield Evidence(Source.MEASURED, before, self.say.cents(left), " more than the 12th explains.")
        yield self.heard()

    def _finger(self, weighed: Weighed) -> Iterable[Evidence]:
        yield Evidence(Source.HEARD, f"{self.taps} of {self.scene.tapped.size} notes, here and there.")
        yield from self._least()
        yield self.heard()


def ranges(frets: Iterable[int]) -> str:
    """Frets as they are said: 'open, 1 to 4 and 7'."""
    runs: list[list[int]] = []
    for fret in sorted(frets):
        if runs and fret == runs[-1][-1] + 1 and runs[-1][0] > 0:
            runs[-1].append(fret)
        else:
            runs.append([fret])
    words = [_run(run) for run in runs]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _run(run: Sequence[int]) -> str:
    if run == [0]:
        return "open"
    if len(run) == 2:
        return f"{run[0]}, {run[1]}"
    return str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}"
