"""One reading against its bands, in the words of the bench."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from webapp.trade.ranges import Bands

# A value typed in inches may miss an edge by a rounding error of 1e-16; nobody at a bench can see that.
HAIR_MM = 1e-6


class Word(StrEnum):
    """The verdict words; always shown with a mark of their own shape."""

    GOOD = "good"
    TOUCH_LOW = "a touch low"
    TOUCH_HIGH = "a touch high"
    TOO_LOW = "too low"
    TOO_HIGH = "too high"
    MEASURE_AGAIN = "measure again"
    OUT_OF_DATE = "out of date"
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


@dataclass(frozen=True)
class Verdict:
    """A word, and whether the tool is too coarse to be sure of it."""

    word: Word
    near_edge: bool = False
    why: str = ""

    @property
    def settled(self) -> bool:
        """Nothing to do about it."""
        return self.word in (Word.GOOD, Word.NOT_HERE, Word.NOT_TAUGHT)


def judge(value: float, error: float, bands: Bands) -> Verdict:
    """Judge a reading (mm or cents, same unit as the bands).

    `near_edge` is set where the tool's error reaches across an edge that would change the word.
    """
    if not bands.plausible.contains(value):
        return Verdict(Word.MEASURE_AGAIN, why="The reading itself looks wrong.")
    word = _word(value, bands)
    neighbours = {_word(value - error, bands), _word(value + error, bands)}
    return Verdict(word, near_edge=neighbours != {word})


def _word(value: float, bands: Bands) -> Word:
    target, usual = bands.target, bands.usual
    if value < target.low - HAIR_MM:
        return Word.TOO_LOW if value < usual.low - HAIR_MM else Word.TOUCH_LOW
    if value > target.high + HAIR_MM:
        return Word.TOO_HIGH if value > usual.high + HAIR_MM else Word.TOUCH_HIGH
    return Word.GOOD


NEEDIEST = (
    Word.MEASURE_AGAIN, Word.OUT_OF_DATE, Word.TOO_LOW, Word.TOO_HIGH, Word.NOT_MEASURED,
    Word.TOUCH_LOW, Word.TOUCH_HIGH, Word.GOOD, Word.NOT_HERE, Word.NOT_TAUGHT,
)  # fmt: skip


def worst(words: list[Word]) -> Word:
    """The word that speaks for a whole check: the one that most needs a hand."""
    return min(words, key=NEEDIEST.index, default=Word.NOT_MEASURED)
