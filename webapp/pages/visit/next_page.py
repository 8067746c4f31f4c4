"""Where the next step of a setup is done: the journal knows it, so any device finds the same place."""

from __future__ import annotations

from webapp.pages.visit.addresses import check_path, setup_path, step_path
from webapp.pages.visit.case_loading import LoadedSetup
from webapp.setups.checks import READ_CHECKS
from webapp.setups.slots import all_slots
from webapp.setups.states import Act, Step
from webapp.trade.words import label


def onward(setup: LoadedSetup, after: str = "") -> str:
    """The address of the next step; `after` is the slot or the check just read, to be told of there."""
    if setup.finished:
        return setup_path(setup.id, "report")
    step = setup.assessment.next
    if step.act is Act.STOP:
        return check_path(setup.id, step.check)
    path = step_path(setup.id, step)
    read = after in READ_CHECKS or after in {slot.key for slot in all_slots(setup.spec)}
    return f"{path}?after={after}" if read else path


def next_words(step: Step) -> str:
    """The main button while a setup is under way: 'Continue: string height, A string'."""
    if step.act is Act.STOP:
        return "Why this setup stopped"
    check, (_, _, place) = label(step.check), step.sentence.partition(": ")
    if step.act in (Act.MEASURE, Act.DECIDE):
        place = "" if len(step.places) > 1 else place
        return f"Continue: {check}" if place.lower() in ("", check) else f"Continue: {check}, {place}"
    first, _, _ = step.sentence.partition(". ")
    return f"Continue: {first[:1].lower()}{first[1:]}"
