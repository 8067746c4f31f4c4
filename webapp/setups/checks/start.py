"""Start: clean, strung, tuned, tools at hand; and the things that end a setup before it begins."""

from __future__ import annotations

from webapp.setups.case import Case
from webapp.setups.checks.base import BenchCheck
from webapp.setups.journal import QUICK, Entry
from webapp.setups.states import Act, CheckState, RepairItem, Step
from webapp.setups.verdicts import Word
from webapp.trade.words import Check

PLACE = "start"


def newest(case: Case) -> Entry | None:
    """The last time the start questions were answered."""
    answers = case.journal.observations(PLACE)
    return answers[-1] if answers else None


def stoppers(case: Case) -> tuple[RepairItem, ...]:
    """What ends this setup early, in the words to take to a repairer."""
    # A quick check does not ask for them, so it tells nothing of them either.
    answers = [one for one in case.journal.observations(PLACE) if one.detail.get(QUICK) is not True]
    answer = answers[-1] if answers else None
    found = set(answer.detail.get("stoppers", ())) if answer else set()
    return tuple(
        RepairItem(Check.START, f"{stopper.label}. {stopper.says}")
        for stopper in case.trade.start.stoppers
        if stopper.key in found
    )


class Start(BenchCheck):
    """Done once everything is confirmed and nothing stops the setup."""

    check = Check.START

    def assess(self, case: Case) -> CheckState:
        if newest(case) is None:
            step = Step(Act.ANSWER, Check.START, PLACE, "Get ready")
            return CheckState(Check.START, Word.NOT_MEASURED, step=step)
        stopped = stoppers(case)
        if stopped:
            step = Step(Act.STOP, Check.START, PLACE, "Stop here and see a repairer")
            return CheckState(
                Check.START, Word.TOO_LOW, step=step, notes=tuple(item.text for item in stopped)
            )
        return CheckState(Check.START, Word.GOOD)

    def repairs(self, case: Case, state: CheckState) -> tuple[RepairItem, ...]:
        return stoppers(case)
