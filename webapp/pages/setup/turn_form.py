"""What the hand turned: which way, how far; and the entries it makes."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.pages.visit.forms import FormReader, count_of
from webapp.setups.case import Case
from webapp.setups.journal import CREAKS, NO_ROOM, WILL_NOT_MOVE, Entry, EntryKind, Part, Turn, turn_detail
from webapp.setups.say import VERBS, Say, turn_words
from webapp.setups.slots import Slot
from webapp.setups.states import Advice

# Eighths of a turn a player may log at once: up to five whole turns.
AMOUNTS = tuple(range(1, 41))
# More than any advice says.
MOST_SAID = 400
OUTCOMES = {WILL_NOT_MOVE: "It will not move", CREAKS: "It creaks", NO_ROOM: "No room left"}
BY_REPAIRER = "A repairer has seen to it"


@dataclass(frozen=True)
class Ways:
    """The two ways to turn a part, the advised one first; what was said, and how far it may be turned."""

    options: tuple[tuple[str, str], ...]
    advised: str
    said: int
    amounts: tuple[tuple[str, str], ...]


def ways_to_turn(case: Case, turn: Turn) -> Ways:
    """Both ways for a part, in words. A rod is never turned more than its step at once."""
    plus, minus = VERBS[turn.part]
    options = (("plus", plus), ("minus", minus))
    advised = "plus" if turn.eighths > 0 else "minus"
    if advised == "minus":
        options = (options[1], options[0])
    # A hand may go a little further than it was told.
    most = max(AMOUNTS[-1], abs(turn.eighths) * 5 // 4) if turn.part is not Part.ROD else rod_at_once(case)
    amounts = tuple((str(n), case.say.turns(n)) for n in range(1, most + 1))
    return Ways(options, advised, turn.eighths, (("0", "not at all"), *amounts))


def rod_at_once(case: Case) -> int:
    """The most eighths that a rod is turned before it is read again."""
    return case.trade.belief.enough.rod_at_once


def read_eighths(form: FormReader) -> int | None:
    """Signed eighths of a turn as chosen, or None with a sentence beside the field."""
    way = form.choice("way", ("plus", "minus"), "which way you turned")
    amount = form.choice("amount", [str(n) for n in AMOUNTS], "how far you turned")
    if way is None or amount is None:
        return None
    return int(amount) * (1 if way == "plus" else -1)


@dataclass(frozen=True)
class Names:
    """The names of one place's fields; on a page for one they are plain."""

    way: str
    amount: str
    said: str

    @classmethod
    def of(cls, slot: Slot, single: bool) -> Names:
        tail = "" if single else "_" + slot.key.replace(".", "_")
        return cls(f"way{tail}", f"amount{tail}", f"said{tail}")


def turned_as_typed(case: Case, advised: Turn, names: Names, form: FormReader, unsaid: int) -> int | None:
    """Signed eighths as the form tells them, or None with a sentence beside the field.

    Where no amount was chosen it is `unsaid`: what the page said, or nothing.
    """
    ways = ways_to_turn(case, advised)
    way = form.choice(names.way, dict(ways.options), "which way you turned")
    amount = form.raw(names.amount)
    if way is None:
        return None
    if amount:
        found = form.choice(names.amount, dict(ways.amounts), "how far you turned")
        return None if found is None else int(found) * (1 if way == "plus" else -1)
    if unsaid and (way == "plus") != (unsaid > 0):
        form.fault(names.amount, "Choose how far you turned.")
        return None
    return unsaid


def said_on_page(case: Case, advised: Turn, names: Names, form: FormReader) -> int | None:
    """What the page told to turn, which may have been a while ago. None where it now tells another way."""
    text = form.raw(names.said, str(advised.eighths))
    said = count_of(text.removeprefix("-")) * (-1 if text.startswith("-") else 1)
    most = rod_at_once(case) if advised.part is Part.ROD else MOST_SAID
    return said if said * advised.eighths > 0 and abs(said) <= most else None


def turn_entry(say: Say, slot: Slot, advice: Advice, eighths: int) -> Entry:
    """The advised part, turned as far as the player says, with what the forecast of it rested on."""
    assert advice.turn is not None
    asked = advice.turn
    done = Turn(asked.part, eighths, asked.string, asked.pickup, asked.side)
    basis = {"basis": advice.forecast.basis} if advice.forecast else {}
    return adjustment(say, slot.key, done, turn_detail(done) | basis)


def repairer_entry(slot: Slot) -> Entry:
    """A repairer worked on this place: whatever it was before, it is read again."""
    part = Part.worked_on(slot.check)
    # Heights hang together: a saddle that was filed, or a shim, moves every string.
    string = None if part is Part.SADDLE_HEIGHT else slot.string
    detail = turn_detail(Turn(part, 0, string, slot.pickup, slot.side)) | {"by": "repairer"}
    return Entry(EntryKind.ADJUSTMENT, slot.check, slot.key, typed=BY_REPAIRER, detail=detail)


def adjustment(say: Say, place: str, turn: Turn, detail: dict[str, object]) -> Entry:
    """The journal entry of a turn, with its words as text."""
    words = turn_words(say, turn)
    return Entry(EntryKind.ADJUSTMENT, turn.part.check, place, typed=words, detail=detail)
