"""What was turned, summed up in words for each part."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from webapp.setups.case import Case
from webapp.setups.journal import Entry, Part, Turn
from webapp.setups.slots import pickup_label, string_label
from webapp.setups.turns import VERBS
from webapp.trade.words import Side

Place = tuple[Part, int, int, str]


def what_was_turned(case: Case) -> tuple[str, ...]:
    """One sentence for each part that was touched in this setup, in the order of the bench."""
    groups: dict[Place, list[Entry]] = {}
    for entry in case.journal.turns:
        groups.setdefault(_place(entry.turn), []).append(entry)
    return tuple(turned_words(case, groups[place]) for place in sorted(groups, key=_order))


def _place(turn: Turn) -> Place:
    return turn.part, turn.string or 0, turn.pickup or 0, turn.side.value if turn.side else ""


def _order(place: Place) -> tuple[int, int, int, str]:
    part, string, pickup, side = place
    return list(Part).index(part), -string, pickup, side


def turned_words(case: Case, entries: Sequence[Entry]) -> str:
    """The turns of one part as one sentence: 'Rod: tightened a quarter turn in 2 steps'."""
    turn = entries[0].turn
    return f"{part_words(case, turn)}: {_done(case, turn.part, [e.turn.eighths for e in entries])}"


def part_words(case: Case, turn: Turn) -> str:
    """The part as the bench calls it."""
    spec = case.spec
    # The instrument may have been described anew with fewer strings or pickups since.
    if turn.pickup is not None and turn.pickup <= len(spec.pickups):
        name = pickup_label(spec, turn.pickup)
        return f"{name}, {turn.side.value} side" if turn.side else name
    if turn.part is Part.SADDLE_HEIGHT and turn.side is not None:
        return f"{'Bass' if turn.side is Side.BASS else 'Treble'}-side post"
    name = string_label(spec, turn.string) if turn.string and turn.string <= len(spec.strings) else ""
    return {
        Part.ROD: "Rod",
        Part.STRINGS: "Strings",
        Part.NUT: f"Nut slot, {name}" if name else "Nut",
        Part.SADDLE_HEIGHT: f"Saddle height, {name}" if name else "Bridge height",
        Part.SADDLE_POSITION: f"Saddle position, {name}" if name else "Saddle position",
        Part.PICKUP_HEIGHT: "Pickup",
    }[turn.part]


def _done(case: Case, part: Part, eighths: Sequence[int]) -> str:
    steps = f" in {len(eighths)} steps" if len(eighths) > 1 else ""
    if part is Part.STRINGS:
        return "changed" if not steps else f"changed {len(eighths)} times"
    if not any(eighths):
        return ("worked on" if part is Part.NUT else "changed") + steps
    net = sum(eighths)
    if not net:
        return f"turned {case.say.turns(_one_way(eighths))} and back again{steps}"
    words = VERBS.get(part, ("Turned", "Turned back"))[0 if net > 0 else 1].lower()
    if any((e > 0) != (net > 0) for e in eighths if e):
        return f"{words} {case.say.turns(net)} in all, back and forth{steps}"
    return f"{words} {case.say.turns(net)}{steps}"


def _one_way(eighths: Iterable[int]) -> int:
    return sum(e for e in eighths if e > 0)
