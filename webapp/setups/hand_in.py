"""A hand-in: what a finished setup says, copied out of it so that nothing else of the bench goes along."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from webapp.setups.case import Case
from webapp.setups.states import Assessment, CheckState, SlotState
from webapp.setups.turned import what_was_turned
from webapp.setups.verdicts import Word, worst
from webapp.trade.base import TradeModel
from webapp.trade.words import Check


class HandedPlace(TradeModel):
    """One place: what it read (mm or cents, said the standard way) and what that meant."""

    key: str
    label: str
    word: Word
    value: float | None = None
    unit: Literal["mm", "cents"] = "mm"
    kept: bool = False


class HandedCheck(TradeModel):
    """One check of the lesson."""

    check: Check
    word: Word
    places: tuple[HandedPlace, ...] = ()

    @property
    def said(self) -> str:
        """The word to say; the questions without readings have words of their own."""
        if self.check is Check.START and self.word is not Word.GOOD:
            return "stopped" if self.stopped else "left out"
        if self.check is Check.PLAYTEST and self.word is not Word.GOOD:
            return "not signed off"
        return self.word.value

    @property
    def stopped(self) -> bool:
        """Whether something was seen at the start that a repairer must look at first."""
        return self.check is Check.START and self.word is Word.TOO_LOW

    @property
    def kept(self) -> bool:
        """Whether the player left something outside its band because they like it so."""
        return any(place.kept for place in self.places)

    @property
    def telling(self) -> HandedPlace | None:
        """The place that speaks for the check: the first of those with its word."""
        return next((place for place in self.places if place.word is self.word), None)


class HandIn(TradeModel):
    """All that a teacher gets to see."""

    checks: Annotated[tuple[HandedCheck, ...], Field(max_length=len(Check))]
    turned: tuple[str, ...] = ()

    def check(self, check: Check) -> HandedCheck | None:
        """One check; None where this student's lesson had no such check."""
        return next((one for one in self.checks if one.check is check), None)


def hand_in_of(case: Case, assessment: Assessment) -> HandIn:
    """Verdicts, readings, and what was turned; no name, no note."""
    checks = tuple(_check(state) for state in assessment.checks.values() if state.here)
    return HandIn(checks=checks, turned=what_was_turned(case))


def _check(state: CheckState) -> HandedCheck:
    places = tuple(_place(slot) for slot in state.slots)
    # What the student likes as it is still reads as it reads.
    word = worst([place.word for place in places]) if places else state.word
    return HandedCheck(check=state.check, word=word, places=places)


def _place(state: SlotState) -> HandedPlace:
    return HandedPlace(
        key=state.slot.key,
        label=state.label,
        word=state.verdict.word,
        value=None if state.standard is None else round(state.standard, 4),
        unit="cents" if state.slot.check is Check.INTONATION else "mm",
        kept=state.accepted and state.measured and not state.verdict.settled,
    )
