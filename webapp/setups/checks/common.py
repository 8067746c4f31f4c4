"""What the checks share: the state of a slot before advice, and the next step within groups of slots."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from webapp.setups.case import Case
from webapp.setups.journal import Entry
from webapp.setups.slots import Slot, slot_label
from webapp.setups.states import Act, CheckState, SlotState, Step
from webapp.setups.verdicts import Verdict, Word, judge, worst
from webapp.trade.words import Check

KEPT = "kept"


def blank(case: Case, slot: Slot) -> SlotState:
    """The slot without a reading."""
    return SlotState(slot, slot_label(case.spec, slot), case.bands(slot), Verdict(Word.NOT_MEASURED))


def judged(case: Case, slot: Slot, standard: float, error: float, reading: Entry) -> SlotState:
    """The slot with its newest reading judged; out of date where something it depends on was turned since."""
    bands = case.bands(slot)
    outdated_by = case.journal.outdated(slot, reading)
    verdict = Verdict(Word.OUT_OF_DATE) if outdated_by else judge(standard, error, bands)
    return SlotState(
        slot,
        slot_label(case.spec, slot),
        bands,
        verdict,
        reading=reading,
        standard=standard,
        error=error,
        outdated_by=outdated_by,
        accepted=kept_since(case, slot.key, reading.id),
    )


def kept_since(case: Case, place: str, entry_id: int) -> bool:
    """Whether the player said 'I like it so' after that entry."""
    return any(o.id > entry_id and o.detail.get("answer") == KEPT for o in case.journal.observations(place))


def first_open(groups: Sequence[Sequence[SlotState]]) -> Step | None:
    """The next step: in the first unfinished group, what must be read comes before what must be decided."""
    for group in groups:
        unread = next((s for s in group if not s.measured), None)
        if unread:
            return _measure(unread)
        waiting = next((s for s in group if s.open), None)
        if waiting:
            return _decide(waiting)
    return None


def _measure(state: SlotState) -> Step:
    again = " again" if state.reading is not None else ""
    return Step(Act.MEASURE, state.slot.check, state.slot.key, f"Measure{again}: {state.label}")


def _decide(state: SlotState) -> Step:
    if state.verdict.word is Word.MEASURE_AGAIN:
        return Step(Act.MEASURE, state.slot.check, state.slot.key, f"Measure again: {state.label}")
    return Step(Act.DECIDE, state.slot.check, state.slot.key, f"Adjust: {state.label}")


def check_state(
    check: Check, states: Iterable[SlotState], step: Step | None, notes: tuple[str, ...] = ()
) -> CheckState:
    """Sum a check up: the word of its most needy slot; what the player chose to keep counts as good."""
    slots = tuple(states)
    words = [Word.GOOD if s.accepted and s.measured else s.verdict.word for s in slots]
    return CheckState(check, worst(words), slots, step, notes)


def not_here(check: Check) -> CheckState:
    """A check that this instrument has nothing for."""
    return CheckState(check, Word.NOT_HERE, here=False)
