"""The form for what the hand turned: which way, how far; and the entry it makes."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.pages.forms import FormReader
from webapp.setups.journal import Turn
from webapp.setups.say import Say
from webapp.setups.slots import Slot
from webapp.setups.states import SlotState
from webapp.setups.turns import VERBS, turn_detail, turn_words
from webapp.store.entries import NewEntry

# Eighths of a turn a player may log at once: up to five whole turns.
AMOUNTS = tuple(range(1, 41))

@dataclass(frozen=True)
class Ways:
    """The two ways to turn, the advised one first, and the advised amount."""

    options: tuple[tuple[str, str], ...]
    advised: str
    eighths: int


def ways_to_turn(turn: Turn) -> Ways:
    """Both ways for a part, in words; the form starts from the advice."""
    plus, minus = VERBS[turn.part]
    options = (("plus", plus), ("minus", minus))
    advised = "plus" if turn.eighths > 0 else "minus"
    if advised == "minus":
        options = (options[1], options[0])
    return Ways(options, advised, abs(turn.eighths))


def read_eighths(form: FormReader) -> int | None:
    """Signed eighths of a turn as chosen, or None with a sentence beside the field."""
    way = form.choice("way", ("plus", "minus"), "which way you turned")
    amount = form.choice("amount", [str(n) for n in AMOUNTS], "how far you turned")
    if way is None or amount is None:
        return None
    return int(amount) * (1 if way == "plus" else -1)


def turn_entry(say: Say, slot: Slot, state: SlotState, form: FormReader) -> NewEntry | None:
    """The advised part, turned as far as the player says; carries what the next reading should show."""
    eighths = read_eighths(form)
    advice = state.advice
    if eighths is None or advice is None or advice.turn is None:
        return None
    done = Turn(advice.turn.part, eighths, advice.turn.string, advice.turn.pickup, advice.turn.side)
    detail = turn_detail(done)
    forecast = advice.forecast
    if forecast is not None and state.reading is not None and state.reading.value is not None:
        share = eighths / advice.turn.eighths
        before = state.reading.value
        detail["expected"] = before + (forecast.value - before) * share
        detail["spread"] = forecast.spread * max(1.0, abs(share))
        detail["basis"] = forecast.basis
    return adjustment(say, slot.check.value, slot.key, done, detail)


def adjustment(say: Say, check: str, place: str, turn: Turn, detail: dict[str, object]) -> NewEntry:
    """The journal entry of a turn, with its words as text."""
    return NewEntry("adjustment", check, place, typed=turn_words(say, turn), detail=detail)
