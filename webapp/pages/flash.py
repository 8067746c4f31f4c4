"""The verdict on what was just read, on top of the next page."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.pages.loading import LoadedSetup
from webapp.setups.states import SlotState


@dataclass(frozen=True)
class Flash:
    """One line: what was read, and the word for it."""

    state: SlotState
    value: str


def flash(setup: LoadedSetup, slot_key: str) -> Flash | None:
    """The line for the slot that was just recorded; nothing for anything else."""
    try:
        state = setup.assessment.slot(slot_key)
    except KeyError:
        return None
    value = value_words(setup, state)
    return Flash(state, value) if value else None


def value_words(setup: LoadedSetup, state: SlotState) -> str:
    """The newest reading in the player's unit, as it was taken; empty where there is none."""
    if state.reading is None or state.reading.value is None:
        return ""
    say = setup.case.say
    if state.reading.unit == "cents":
        return say.cents(state.reading.value)
    return say.length(state.reading.value)
