"""The verdict on what was just read, on top of the next page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from webapp.pages.setup.reading_help import check_name
from webapp.pages.visit.addresses import is_several
from webapp.pages.visit.case_loading import LoadedSetup
from webapp.setups.states import SlotState
from webapp.trade.words import Check


@dataclass(frozen=True)
class Flash:
    """What was read, and for each verdict a state that it is said of: (which places or what value, state)."""

    label: str
    parts: tuple[tuple[str, SlotState], ...]


def flash(setup: LoadedSetup, after: str) -> Flash | None:
    """The line for the slot, or the check's slots, that were just recorded; nothing for anything else."""
    if is_several(after):
        return _of_check(setup, Check(after))
    try:
        state = setup.assessment.slot(after)
    except KeyError:
        return None
    value = value_words(setup, state)
    return Flash(state.label, ((value, state),)) if value else None


def _of_check(setup: LoadedSetup, check: Check) -> Flash | None:
    """The places of a check, those of one verdict together."""
    said: dict[str, list[SlotState]] = {}
    for state in setup.assessment.checks[check].slots:
        if state.measured:
            said.setdefault(state.said, []).append(state)
    parts = tuple((names_of(some) if len(said) > 1 else "", some[0]) for some in said.values())
    return Flash(check_name(check), parts) if parts else None


def names_of(states: Sequence[SlotState]) -> str:
    """'E, A and D string'; names that share no ending one after the other."""
    names = list(dict.fromkeys(state.label for state in states))
    short = [name.removesuffix(" string") for name in names]
    if len(names) < 2 or any(a == b for a, b in zip(names, short, strict=True)):
        return "; ".join(names)
    return f"{', '.join(short[:-1])} and {short[-1]} string"


def value_words(setup: LoadedSetup, state: SlotState) -> str:
    """The newest reading as it was taken, a range where it is one; empty where there is none."""
    if state.reading is None or state.reading.value is None:
        return ""
    return setup.case.say.reading(state.reading)
