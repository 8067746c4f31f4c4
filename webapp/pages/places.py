"""Addresses of the pages of a setup."""

from __future__ import annotations

from webapp.setups.states import Act, Step
from webapp.trade.words import Check

QUESTION_PAGES = {"start": "start", "height.buzz": "buzz", "pickups.ear": "listen", "playtest": "playtest"}


def instrument_path(instrument_id: str) -> str:
    return f"/instruments/{instrument_id}"


def setup_path(setup_id: str, *rest: str) -> str:
    """A setup's own page, or one below it."""
    return "/".join((f"/setups/{setup_id}", *rest))


def check_path(setup_id: str, check: Check) -> str:
    return setup_path(setup_id, "check", check.value)


def read_path(setup_id: str, slot_key: str) -> str:
    return setup_path(setup_id, "read", slot_key)


def adjust_path(setup_id: str, slot_key: str) -> str:
    return setup_path(setup_id, "adjust", slot_key)


def step_path(setup_id: str, step: Step) -> str:
    """Where the next thing to do is done."""
    if step.act is Act.FINISH:
        return setup_path(setup_id, "finish")
    if step.act is Act.MEASURE:
        return read_path(setup_id, step.place)
    if step.act is Act.DECIDE:
        return adjust_path(setup_id, step.place)
    return setup_path(setup_id, "ask", QUESTION_PAGES[step.place])
