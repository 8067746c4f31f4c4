"""The answer to 'how do things stand': one state per slot, per check, and for the whole setup."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from functools import cached_property

from webapp.setups.advice import Advice
from webapp.setups.belief.standing import Standing
from webapp.setups.journal import Entry
from webapp.setups.slots import Slot, check_of
from webapp.setups.verdicts import Verdict, Word, said
from webapp.trade.ranges import Bands
from webapp.trade.words import Check


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
    for; None where it waits for nothing.
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
    advice: Advice | None = None
    buzz_frets: tuple[int, ...] = ()

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
        return next(waiting, Step(Act.FINISH, [*Check][-1], "finish", "Finish and see the report"))

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
