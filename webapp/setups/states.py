"""How things stand: the verdict's words, what to do about each place, and the one answer to it all."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from functools import cached_property

from webapp.setups.belief.standing import Standing
from webapp.setups.journal import Entry, Turn
from webapp.setups.slots import Slot, check_of
from webapp.trade.ranges import Bands
from webapp.trade.words import Check


@dataclass(frozen=True)
class Forecast:
    """What the next reading should show, give or take half of a 90 % interval, and what that rests on.

    Millimetres the family's standard way, or cents.
    """

    value: float
    give: float
    basis: str


@dataclass(frozen=True)
class Advice:
    """What a place's state means and what to do about it, in the order of doing.

    `turn` is there when the player can turn something; `repairer` holds the words to take to a repairer. An
    answer with neither needs no hand at all. `outcomes` are what may happen instead of the turn.
    """

    means: str
    do: tuple[str, ...] = ()
    turn: Turn | None = None
    forecast: Forecast | None = None
    then: str = ""
    repairer: str = ""
    outcomes: tuple[str, ...] = ()


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
    Check.START: {Word.TOO_LOW: "stopped", Word.NOT_MEASURED: "not done"},
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
    Check.PLAYTEST: {Word.TOUCH_LOW: "not all is right", Word.NOT_MEASURED: "not done"},
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


class Act(StrEnum):
    """What the player does next."""

    ANSWER = "answer"
    MEASURE = "measure"
    DECIDE = "decide"
    REST = "rest"
    LISTEN = "listen"
    FINISH = "finish"
    STOP = "stop"


@dataclass(frozen=True)
class SlotState:
    """One place that is read: what is believed of it, its newest reading, and what it waits for.

    `value` is believed of it, the way its bands are stated (mm, or cents), give or take `give` (half of a 90
    % interval). `moved_by` is a turn that moved it since it was last read. `wants` is what this place waits
    for; None where it waits for nothing. `advised` works the advice out: most places are never asked for it.
    """

    slot: Slot
    label: str
    bands: Bands
    verdict: Verdict
    standing: Standing
    reading: Entry | None = None
    accepted: bool = False
    provisional: bool = False
    moved_by: Entry | None = None
    wants: Act | None = None
    advised: Callable[[], Advice | None] = field(default=lambda: None, compare=False, repr=False)
    buzz_frets: tuple[int, ...] = ()

    @cached_property
    def advice(self) -> Advice | None:
        """What to do here, where it was read."""
        return self.advised()

    @property
    def value(self) -> float:
        """What is believed of it."""
        return self.standing.mean

    @property
    def give(self) -> float:
        """Half of the 90 % interval."""
        return self.standing.give

    @cached_property
    def usual(self) -> float:
        """The chance that it lies in its usual band."""
        return self.standing.chance(self.bands.usual)

    @cached_property
    def target(self) -> float:
        """The chance that it lies in its target."""
        return self.standing.chance(self.bands.target)

    @property
    def measured(self) -> bool:
        """There is a reading of this setup, and nothing moved the place since."""
        return self.reading is not None and self.moved_by is None

    @property
    def open(self) -> bool:
        """Whether the setup still waits for the player here."""
        return self.wants is not None

    @property
    def settled(self) -> bool:
        """Surely right: nothing more to read or turn."""
        return self.wants is None and self.verdict.word in (Word.GOOD, Word.EXPECTED)

    @property
    def said(self) -> str:
        """The verdict in the words of its check."""
        return said(self.slot.check, self.verdict.word)


@dataclass(frozen=True)
class Step:
    """The one next thing to do. `place` is a slot key, or the key of a question such as height.buzz.

    `places` are the slots that are done in one go, `place` first: they do not depend on one another.
    """

    act: Act
    check: Check
    place: str
    sentence: str
    places: tuple[str, ...] = ()
    hours: float = 0.0


@dataclass(frozen=True)
class CheckState:
    """One check: its slots, its one-word summary, and the step it waits for (None when it is done)."""

    check: Check
    word: Word
    slots: tuple[SlotState, ...] = ()
    step: Step | None = None
    notes: tuple[str, ...] = ()
    here: bool = True

    @property
    def said(self) -> str:
        """The summary in the words of the check."""
        return said(self.check, self.word)

    @property
    def done(self) -> bool:
        return self.step is None


@dataclass(frozen=True)
class RepairItem:
    """Something to take to a repairer, in the words and numbers to take there."""

    check: Check
    text: str


@dataclass(frozen=True)
class Assessment:
    """The whole answer: wizard, report, history and the instrument's card read this and nothing else.

    `checks` holds every check in the order of the bench. Each may be judged only when it is looked at: the
    next step is often found before the last of them.
    """

    checks: Mapping[Check, CheckState]
    repairs: Callable[[], tuple[RepairItem, ...]] = field(default=tuple, compare=False, repr=False)
    stopped_by: str = ""
    read_relief_at: datetime | None = None

    @cached_property
    def next(self) -> Step:
        """The one thing to do next."""
        waiting = (state.step for state in self.checks.values() if state.step is not None)
        return next(waiting, Step(Act.FINISH, [*Check][-1], "finish", "Finish this setup"))

    @cached_property
    def repairer(self) -> tuple[RepairItem, ...]:
        """What is to be taken to a repairer."""
        return self.repairs()

    def slot(self, key: str) -> SlotState:
        """The state of one slot. Raises KeyError."""
        if key.partition(".")[0] in list(Check):
            for state in self.checks[check_of(key)].slots:
                if state.slot.key == key:
                    return state
        raise KeyError(key)

    @property
    def done_count(self) -> int:
        return sum(1 for check in self.checks.values() if check.here and check.done)
