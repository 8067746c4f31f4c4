"""The answer to 'how do things stand': one state per slot, per check, and for the whole setup."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from functools import cached_property

from webapp.setups.advice.model import Advice
from webapp.setups.journal import Entry
from webapp.setups.slots import Slot
from webapp.setups.verdicts import Verdict, Word
from webapp.trade.ranges import Bands
from webapp.trade.words import Check


@dataclass(frozen=True)
class SlotState:
    """One place that is read: its newest reading, what it means, and whether it still waits for something.

    `standard` is the reading said the way the bands are stated (mm, or cents); `error` goes with it.
    `expected` is what an inner string should read from its outer neighbours, in the same way.
    """

    slot: Slot
    label: str
    bands: Bands
    verdict: Verdict
    reading: Entry | None = None
    standard: float | None = None
    error: float | None = None
    expected: float | None = None
    accepted: bool = False
    provisional: bool = False
    outdated_by: Entry | None = None
    advice: Advice | None = None
    buzz_frets: tuple[int, ...] = ()

    @property
    def measured(self) -> bool:
        """There is a reading and it can still be trusted."""
        return self.reading is not None and self.outdated_by is None

    @property
    def open(self) -> bool:
        """Whether the setup still waits for the player here."""
        if not self.measured or self.verdict.word is Word.MEASURE_AGAIN:
            return not (self.accepted and self.measured)
        if self.accepted or (self.verdict.settled and not self.buzz_frets):
            return False
        return self.advice is not None and self.advice.needs_player


class Act(StrEnum):
    """What the player does next."""

    ANSWER = "answer"
    MEASURE = "measure"
    DECIDE = "decide"
    LISTEN = "listen"
    FINISH = "finish"
    STOP = "stop"


@dataclass(frozen=True)
class Step:
    """The one next thing to do. `place` is a slot key, or the key of a question such as height.buzz."""

    act: Act
    check: Check
    place: str
    sentence: str


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
        return next(waiting, Step(Act.FINISH, Check.PLAYTEST, "finish", "Finish and see the report"))

    @cached_property
    def repairer(self) -> tuple[RepairItem, ...]:
        """What is to be taken to a repairer."""
        return self.repairs()

    def slot(self, key: str) -> SlotState:
        """The state of one slot. Raises KeyError."""
        check = key.partition(".")[0]
        if check in list(Check):
            for state in self.checks[Check(check)].slots:
                if state.slot.key == key:
                    return state
        raise KeyError(key)

    @property
    def done_count(self) -> int:
        return sum(1 for check in self.checks.values() if check.here and check.done)
