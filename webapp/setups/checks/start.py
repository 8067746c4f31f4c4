"""Start: clean, strung, tuned; and the things that end a setup before it begins."""

from __future__ import annotations

from webapp.setups.case import Case
from webapp.setups.checks.base import BenchCheck
from webapp.setups.journal import DRIFT_PLACE, QUICK, START_PLACE, Entry
from webapp.setups.slots import string_label
from webapp.setups.states import Act, CheckState, RepairItem, Step, Word
from webapp.trade.words import Check


def newest(case: Case) -> Entry | None:
    """The last time the start questions were answered. A quick check asks but the strings' age."""
    answers = [one for one in case.journal.observations(START_PLACE) if one.detail.get(QUICK) is not True]
    return answers[-1] if answers else None


def stoppers(case: Case) -> tuple[RepairItem, ...]:
    """What ends this setup early, in the words to take to a repairer."""
    answer = newest(case)
    found = set(answer.detail.get("stoppers", ())) if answer else set()
    return tuple(
        RepairItem(Check.START, f"{stopper.label}. {stopper.says}")
        for stopper in case.trade.start.stoppers
        if stopper.key in found
    )


class Start(BenchCheck):
    """Done once everything is confirmed and nothing stops the setup."""

    check = Check.START
    drawn_at = "strings"
    questions = {START_PLACE: "Getting ready", DRIFT_PLACE: "Tuning drift"}
    ask_again = "Answer these questions again"

    def assess(self, case: Case) -> CheckState:
        if newest(case) is None:
            step = Step(Act.ANSWER, Check.START, START_PLACE, "Get ready")
            return CheckState(Check.START, Word.NOT_MEASURED, step=step)
        stopped = stoppers(case)
        if stopped:
            step = Step(Act.STOP, Check.START, START_PLACE, "Stop here and see a repairer")
            return CheckState(
                Check.START, Word.TOO_LOW, step=step, notes=tuple(item.text for item in stopped)
            )
        return CheckState(Check.START, Word.GOOD)

    def answered(self, case: Case, entry: Entry) -> str:
        return _drift(case, entry) if entry.slot == DRIFT_PLACE else _ready(case, entry)

    def handed_in(self, word: Word) -> str:
        return super().handed_in(word) if word in (Word.GOOD, Word.TOO_LOW) else "left out"

    def undone(self, count: int, amiss: bool) -> str:
        return "stopped at the start, for a repairer" if amiss else "left the start out"

    def repairs(self, case: Case, state: CheckState) -> tuple[RepairItem, ...]:
        return stoppers(case)


def _drift(case: Case, entry: Entry) -> str:
    cents = entry.detail.get("cents", {})
    names = {int(n): c for n, c in cents.items() if int(n) <= len(case.spec.strings)}
    return "; ".join(f"{string_label(case.spec, n)} {case.say.cents(c)}" for n, c in names.items())


def _ready(case: Case, entry: Entry) -> str:
    stoppers = set(entry.detail.get("stoppers", ()))
    found = [s.label for s in case.trade.start.stoppers if s.key in stoppers]
    age = next((a.label for a in case.trade.start.ages if a.key == entry.detail.get("age")), "")
    if entry.detail.get(QUICK) is True:
        return f"Quick check. Strings: {age.lower()}" if age else "Quick check"
    return "; ".join(found) if found else f"Ready. Strings: {age.lower()}" if age else "Ready"
