"""Where the next step of a setup is done: the journal knows it, so any device finds the same place."""

from __future__ import annotations

from webapp.pages.loading import LoadedSetup
from webapp.pages.places import check_path, setup_path, step_path
from webapp.setups.slots import all_slots
from webapp.setups.states import Act


def onward(setup: LoadedSetup, after: str = "") -> str:
    """The address of the next step; `after` is the slot that was just read, to be told of there."""
    if setup.finished:
        return setup_path(setup.id, "report")
    step = setup.assessment.next
    if step.act is Act.STOP:
        return check_path(setup.id, step.check)
    path = step_path(setup.id, step)
    return f"{path}?after={after}" if after in {slot.key for slot in all_slots(setup.spec)} else path
