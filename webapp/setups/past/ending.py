"""How a setup ends: what is right, what is not, and who does it. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from webapp.setups.states import Assessment, CheckState, RepairItem, SlotState
from webapp.setups.verdicts import Word
from webapp.trade.words import Check

RIGHT = (Word.GOOD, Word.EXPECTED)
FINE = (*RIGHT, Word.TOUCH_LOW, Word.TOUCH_HIGH)


class Who(StrEnum):
    """Who sees to what is not right."""

    PLAYER = "you, in this setup"
    REPAIRER = "a repairer"
    KEPT = "nobody: you like it so"
    TOOL = "a finer tool could tell"
    NOBODY = "nobody: nothing more can be turned here"


@dataclass(frozen=True)
class Left:
    """One thing that is not right: a place or a note, or the whole check where `what` is empty."""

    check: Check
    what: str
    who: Who
    slot: str = ""
    said: str = ""
    word: Word | None = None


@dataclass(frozen=True)
class Ending:
    """What is to be said before the journal is closed.

    `done` tells whether no step is left; `relief_at` when the turned rod is to be read again.
    """

    right: tuple[CheckState, ...]
    left: tuple[Left, ...]
    repairer: tuple[RepairItem, ...]
    relief_at: datetime | None
    done: bool = True

    @property
    def player_left(self) -> bool:
        """Whether something waits for the player's own hands."""
        return any(one.who is Who.PLAYER for one in self.left)

    @property
    def is_right(self) -> bool:
        """Whether nothing at all is amiss, but for what the player likes so."""
        return not self.repairer and all(one.who is Who.KEPT for one in self.left)

    @property
    def sentence(self) -> str:
        """The whole in a line."""
        if not self.done:
            return "Not everything is done. You can finish all the same, or go on."
        if self.player_left:
            return "Not everything is right yet: what is left is said below."
        if not self.is_right:
            told = any(one.who is Who.REPAIRER for one in self.left) or self.repairer
            rest = "a repairer does the rest" if told else "what is left is said below"
            return f"Your own hands have done what they can; {rest}."
        if self.relief_at is not None:
            return "Everything is right as it stands; the neck has still to settle."
        return "Everything is right. Well set up." if not self.left else "Everything is as you want it."


def ending(assessment: Assessment) -> Ending:
    """Every check of this instrument, and lesson, put to one side or the other."""
    right: list[CheckState] = []
    left: list[Left] = []
    for state in assessment.checks.values():
        if not state.here:
            continue
        amiss = tuple(_left(assessment, state))
        left += amiss
        if not amiss and not state.check.is_preparation:
            right.append(state)
    done = all(state.done for state in assessment.checks.values() if state.here)
    return Ending(tuple(right), tuple(left), assessment.repairer, assessment.read_relief_at, done)


def _left(assessment: Assessment, state: CheckState) -> Iterable[Left]:
    """What of one check is not right."""
    if not state.done and not state.notes and all(slot.reading is None for slot in state.slots):
        yield Left(state.check, "", Who.PLAYER, said=state.said, word=state.word)
        return
    by_repairer = any(item.check is state.check for item in assessment.repairer)
    found = [one for slot in state.slots if (one := _place(slot, by_repairer)) is not None]
    found += [Left(state.check, note, Who.REPAIRER if by_repairer else Who.PLAYER) for note in state.notes]
    if not found and state.step is not None:
        found = [Left(state.check, state.step.sentence, Who.PLAYER)]
    elif not found and by_repairer:
        found = [Left(state.check, "", Who.REPAIRER)]
    yield from found


def _place(state: SlotState, by_repairer: bool) -> Left | None:
    """One place, if it is not right; `by_repairer` where a repairer sees to something of its check."""
    word = state.verdict.word
    repairer = state.advice is not None and bool(state.advice.repairer)
    if not repairer and (word in RIGHT or (word in FINE and not state.open)):
        return None
    check, key = state.slot.check, state.slot.key
    return Left(check, state.label, _who(state, by_repairer), key, state.said, word)


def _who(state: SlotState, by_repairer: bool) -> Who:
    if state.open:
        return Who.PLAYER
    if state.accepted:
        return Who.KEPT
    # What a repairer does at one string (a saddle that is filed, say) is done for all that are off.
    if by_repairer:
        return Who.REPAIRER
    return Who.TOOL if state.verdict.word is Word.CANNOT_TELL else Who.NOBODY
