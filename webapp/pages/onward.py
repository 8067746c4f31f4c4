"""Where the next step of a setup is done: the journal knows it, so any device finds the same place."""

from __future__ import annotations

from webapp.pages.loading import LoadedSetup
from webapp.pages.places import check_path, setup_path, step_path
from webapp.setups.checks import READ_CHECKS
from webapp.setups.slots import all_slots
from webapp.setups.states import Act


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
