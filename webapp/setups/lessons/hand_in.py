"""A hand-in: what a finished setup says, copied out of it so that nothing else of the bench goes along."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from webapp.setups.case import Case
from webapp.setups.checks import CHECKS, READ_CHECKS
from webapp.setups.past.history import stands
from webapp.setups.past.turn_sums import what_was_turned
from webapp.setups.slots import check_of
from webapp.setups.states import Assessment, CheckState, SlotState
from webapp.setups.verdicts import Word, said, worst
from webapp.trade.base import TradeModel
from webapp.trade.words import Check

# A word of hand-ins that were kept before a turn was taken to move what is believed.
_ONCE_SAID = {"out of date": Word.EXPECTED}
Said = Annotated[Word, BeforeValidator(lambda word: _ONCE_SAID.get(str(word), word))]


class HandedPlace(TradeModel):
    """One place: what it read (mm or cents, said the standard way), a range where it is one, and what that
    meant.

    Where it was not read since a turn, what is believed of it.
    """

    key: str
    label: str
    word: Said
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: Literal["mm", "cents"] = "mm"
    kept: bool = False

    @property
    def said(self) -> str:
        """The verdict in the words of its check."""
        return said(check_of(self.key), self.word)


class HandedCheck(TradeModel):
    """One check of the lesson."""

    check: Check
    word: Said
    places: tuple[HandedPlace, ...] = ()

    @property
    def said(self) -> str:
        """The word to say."""
        return CHECKS[self.check].handed_in(self.word)

    @property
    def amiss(self) -> bool:
        """Whether its questions, where nothing is read, were answered with something amiss."""
        return not self.places and self.word.is_off

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
    checks = tuple(_check(case, state) for state in assessment.checks.values() if state.here)
    return HandIn(checks=checks, turned=what_was_turned(case))


def _check(case: Case, state: CheckState) -> HandedCheck:
    places = tuple(_place(case, slot) for slot in state.slots)
    # What the student likes as it is still reads as it reads.
    word = worst([place.word for place in places]) if places else state.word
    return HandedCheck(check=state.check, word=word, places=places)


def _place(case: Case, state: SlotState) -> HandedPlace:
    verdict = stands(state)
    newest = state.reading if state.measured else None
    read = READ_CHECKS[state.slot.check].standard(case.belief, state.slot, newest) if newest else None
    value = read.value if read else None if verdict.word is Word.NOT_MEASURED else state.value
    low, high = (read.detail.get("low"), read.detail.get("high")) if read else (None, None)
    return HandedPlace(
        key=state.slot.key,
        label=state.label,
        word=verdict.word,
        value=_rounded(value),
        low=_rounded(low),
        high=_rounded(high),
        unit=state.slot.check.unit,
        kept=state.accepted and state.measured and not verdict.settled,
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)
