"""Play test: open strings, every fret, tuning; sign off, or back to the check that the symptom points to."""

from __future__ import annotations

from webapp.setups.case import Case
from webapp.setups.checks.base import BenchCheck
from webapp.setups.journal import Entry
from webapp.setups.states import Act, CheckState, RepairItem, Step, Word
from webapp.trade.pages import Symptom
from webapp.trade.words import Check

PLACE = "playtest"
SIGNED = "signed"


def newest(case: Case) -> Entry | None:
    """The last play test, unless something was turned since."""
    answers = case.journal.observations(PLACE)
    if not answers or any(turn.id > answers[-1].id for turn in case.journal.turns):
        return None
    return answers[-1]


def symptoms(case: Case) -> tuple[Symptom, ...]:
    """What the last play test showed."""
    answer = newest(case)
    found = set(answer.detail.get("symptoms", ())) if answer else set()
    return tuple(s for question in case.trade.playtest for s in question.symptoms if s.key in found)


def signed(case: Case) -> bool:
    """Whether the player signed off the newest play test."""
    answer = newest(case)
    return answer is not None and bool(answer.detail.get(SIGNED))


class Playtest(BenchCheck):
    """Done when it is signed off; with faults ticked, a signature does not make it good."""

    check = Check.PLAYTEST
    questions = {PLACE: "Play test"}
    ask_again = "Play it again"

    def assess(self, case: Case) -> CheckState:
        found = symptoms(case)
        notes = tuple(f"{s.label}: {s.says}" for s in found)
        word = Word.TOUCH_LOW if found else Word.GOOD
        if signed(case):
            return CheckState(Check.PLAYTEST, word, notes=notes)
        played = newest(case) is not None
        step = Step(Act.ANSWER, Check.PLAYTEST, PLACE, "Play it, then sign off")
        return CheckState(Check.PLAYTEST, word if played else Word.NOT_MEASURED, step=step, notes=notes)

    def answered(self, case: Case, entry: Entry) -> str:
        found = set(entry.detail.get("symptoms", ()))
        words = [s.label for q in case.trade.playtest for s in q.symptoms if s.key in found]
        end = ["Signed off"] if entry.detail.get(SIGNED) else []
        return "; ".join([*words, *end]) or "Nothing amiss"

    def points_to(self, case: Case) -> tuple[Check, ...]:
        return tuple(dict.fromkeys(s.check for s in symptoms(case) if s.check is not None))

    def handed_in(self, word: Word) -> str:
        if word is Word.GOOD:
            return super().handed_in(word)
        return "faults found" if word.is_off else "not signed off"

    def undone(self, count: int, amiss: bool) -> str:
        return "found faults in the play test" if amiss else "did not sign off the play test"

    def repairs(self, case: Case, state: CheckState) -> tuple[RepairItem, ...]:
        """Symptoms that no check of ours mends."""
        return tuple(
            RepairItem(Check.PLAYTEST, f"{s.label}: {s.says}") for s in symptoms(case) if s.check is None
        )
