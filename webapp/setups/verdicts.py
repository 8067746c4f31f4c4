"""What is believed of one place against its bands, in the words of the bench."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from webapp.trade.ranges import Bands
from webapp.trade.words import Check

# A value typed in inches may miss an edge by a rounding error of 1e-16; nobody at a bench can see that.
HAIR = 1e-6


class Word(StrEnum):
    """The verdict words; always shown with a mark of their own shape."""

    GOOD = "good"
    TOUCH_LOW = "a touch low"
    TOUCH_HIGH = "a touch high"
    TOO_LOW = "too low"
    TOO_HIGH = "too high"
    CANNOT_TELL = "cannot tell with this tool"
    MEASURE_AGAIN = "measure again"
    EXPECTED = "expected"
    NOT_MEASURED = "not measured"
    NOT_HERE = "not on this instrument"
    NOT_TAUGHT = "not in this lesson"

    @property
    def slug(self) -> str:
        """For class names: too-low, not-on-this-instrument."""
        return self.value.replace(" ", "-")

    @property
    def is_low(self) -> bool:
        return self in (Word.TOUCH_LOW, Word.TOO_LOW)

    @property
    def is_high(self) -> bool:
        return self in (Word.TOUCH_HIGH, Word.TOO_HIGH)

    @property
    def is_off(self) -> bool:
        """Outside the target, and known to be."""
        return self.is_low or self.is_high


# High and low follow the check: a neck is bowed or straight, a note sharp or flat, a pickup far or close.
_SAID: dict[Check, dict[Word, str]] = {
    Check.START: {Word.TOO_LOW: "stopped"},
    Check.RELIEF: {
        Word.TOUCH_LOW: "a touch straight", Word.TOO_LOW: "too straight",
        Word.TOUCH_HIGH: "a touch bowed", Word.TOO_HIGH: "too much bow",
    },
    Check.INTONATION: {
        Word.TOUCH_LOW: "a touch flat", Word.TOO_LOW: "flat",
        Word.TOUCH_HIGH: "a touch sharp", Word.TOO_HIGH: "sharp",
    },
    Check.PICKUPS: {
        Word.TOUCH_LOW: "a touch close", Word.TOO_LOW: "too close",
        Word.TOUCH_HIGH: "a touch far", Word.TOO_HIGH: "too far",
    },
    Check.PLAYTEST: {Word.TOUCH_LOW: "not all is right"},
}  # fmt: skip


def said(check: Check, word: Word) -> str:
    """A verdict as this check says it."""
    return _SAID.get(check, {}).get(word, word.value)


@dataclass(frozen=True)
class Verdict:
    """A word, and whether the belief is too wide to be sure of it."""

    word: Word
    near_edge: bool = False
    why: str = ""

    @property
    def settled(self) -> bool:
        """Nothing to do about it."""
        return self.word in (Word.GOOD, Word.NOT_HERE, Word.NOT_TAUGHT)


def word_of(value: float, bands: Bands) -> Word:
    """Where a value lies: mm or cents, same unit as the bands."""
    target, usual = bands.target, bands.usual
    if value < target.low - HAIR:
        return Word.TOO_LOW if value < usual.low - HAIR else Word.TOUCH_LOW
    if value > target.high + HAIR:
        return Word.TOO_HIGH if value > usual.high + HAIR else Word.TOUCH_HIGH
    return Word.GOOD


NEEDIEST = (
    Word.MEASURE_AGAIN, Word.TOO_LOW, Word.TOO_HIGH, Word.NOT_MEASURED, Word.EXPECTED, Word.CANNOT_TELL,
    Word.TOUCH_LOW, Word.TOUCH_HIGH, Word.GOOD, Word.NOT_HERE, Word.NOT_TAUGHT,
)  # fmt: skip


def worst(words: list[Word]) -> Word:
    """The word that speaks for a whole check: the one that most needs a hand."""
    return min(words, key=NEEDIEST.index, default=Word.NOT_MEASURED)
