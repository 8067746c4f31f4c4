"""The trade's recipe by hand: the same player with the same tools, without anybody's advice.

Relief first, an eighth of a turn at a time until it reads right. Then every string's height by quarter and
half turns into its band, the outer strings first. The nut is looked at. Then every 12th by half and whole
turns until it is within 3 cents. At the end the order is gone through a second time.
"""

from __future__ import annotations

from dataclasses import dataclass

from tests.trial.hands import Hands, Where
from tests.trial.rod import DONE
from tests.trial.tools import CARD_WORDS, EAR_WORDS

ROD_MOST, HEIGHT_MOST, CENTS_MOST = 10, 12, 10
GOOD_CENTS = 3.0
_LENGTH: list[str] = []


@dataclass
class Recipe:
    """One player following it. `second` marks the second look."""

    hands: Hands
    second: bool = False

    def follow(self) -> None:
        self._once()
        self.second = True
        self._once()
        self.hands.board()

    def _once(self) -> None:
        self._relief()
        self._heights()
        if not self.second:
            for string in self.hands.instrument.strings:
                self.hands.read(
                    f"nut.{string}", Where("nut", string), {"feeler": _LENGTH, "card": list(CARD_WORDS)}
                )
        self._intonation()

    def _relief(self) -> None:
        """An eighth at a time; three that change nothing end it, and so does a nut that will not go."""
        same, last = 0, None
        for _ in range(ROD_MOST):
            seen, wanted = self._relief_seen()
            if wanted == 0:
                return
            same = same + 1 if seen == last else 0
            if same >= 3 and self.hands.kit.relief == "feeler":
                return
            last = seen
            if self.hands.turn("relief", "rod", wanted).ended != DONE:
                return

    def _relief_seen(self) -> tuple[object, int]:
        """What was read, and an eighth tighter (+1), looser (-1) or neither."""
        kind = self.hands.instrument.kind
        hold, press, gap = kind.standard
        methods = {"feeler": _LENGTH, "card": list(CARD_WORDS), "ear": list(EAR_WORDS)}
        reading = self.hands.read("relief", Where("relief", hold=hold, press=press, gap=gap), methods)
        if reading.answer == "none" and not kind.is_bass:
            # Less than a card is right on a guitar, as long as a tap still clicks.
            reading = self.hands.read(
                "relief", Where("relief", hold=hold, press=press, gap=gap), {"ear": list(EAR_WORDS)}
            )
            return reading.answer, -1 if reading.answer == "no_click" else 0
        if reading.answer is not None:
            return reading.answer, self._by_word(reading.answer, kind.is_bass)
        assert reading.value is not None
        low, high = kind.bands.relief_target
        return reading.value, int(reading.value > high) - int(reading.value < low)

    @staticmethod
    def _by_word(answer: str, is_bass: bool) -> int:
        """A bass wants one card that passes, a guitar less than one and yet a click."""
        if answer in EAR_WORDS:
            return {"no_click": -1, "slight": 0, "a_lot": 1}[answer]
        return {"none": -1, "one": 0 if is_bass else 1, "two": 1, "more": 1}[answer]

    def _heights(self) -> None:
        strings = list(self.hands.instrument.strings)
        bridge = self.hands.instrument.bridge.kind
        if bridge == "one_piece":
            for string in strings:
                self._height_off(string)
            return
        if bridge == "posts":
            for _ in range(2):
                self._to_height(strings[-1], "bass")
                self._to_height(strings[0], "treble")
            for string in strings[1:-1]:
                self._height_off(string)
            return
        for string in (strings[-1], strings[0], *strings[-2:0:-1]):
            self._to_height(string, None)

    def _height_off(self, string: int) -> float:
        """How far from the band the string reads; minus is low, 0 right."""
        kind = self.hands.instrument.kind
        low, high = kind.bands.height(kind.across(self.hands.instrument.index(string)), usual=False)
        where = Where("height", string, hold=1, gap=12)
        reading = self.hands.read(
            f"height.{string}", where, {"gauge": _LENGTH, "ruler": _LENGTH, "feeler": _LENGTH}
        )
        assert reading.value is not None
        return min(reading.value - low, 0.0) + max(reading.value - high, 0.0)

    def _to_height(self, string: int, side: str | None) -> None:
        for _ in range(HEIGHT_MOST):
            off = self._height_off(string)
            if off == 0.0:
                return
            eighths = 4 if abs(off) > 0.3 else 2
            part = "post" if side else "saddle_height"
            step = self.hands.turn(f"height.{string}", part, -eighths if off > 0 else eighths, string, side)
            if step.ended != DONE:
                return

    def _intonation(self) -> None:
        for string in self.hands.instrument.strings:
            for _ in range(CENTS_MOST):
                where = Where("intonation", string, fret=12)
                cents = self.hands.read(f"intonation.{string}.12", where, {"tuner": _LENGTH}).value
                assert cents is not None
                if abs(cents) <= GOOD_CENTS or self.hands.instrument.bridge.kind == "one_piece":
                    break
                slot = f"intonation.{string}.12"
                eighths = self._eighths_for(abs(cents))
                step = self.hands.turn(slot, "saddle_position", eighths if cents > 0 else -eighths, string)
                if step.ended != DONE:
                    break

    @staticmethod
    def _eighths_for(cents: float) -> int:
        """Half a turn when near, a whole one further off, some at once when far: nobody counts fifteen."""
        return 4 if cents < 4.0 else 8 if cents < 8.0 else 16 if cents < 16.0 else 32
