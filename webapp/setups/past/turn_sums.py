"""What was turned, summed up in words for each part."""

from __future__ import annotations

from collections.abc import Sequence

from webapp.setups.case import Case
from webapp.setups.journal import Entry, Part, Turn
from webapp.setups.slots import pickup_label, string_label, string_numbers
from webapp.setups.turn_words import VERBS

_NAMES = {
    Part.ROD: "Rod",
    Part.SADDLE_HEIGHT: "Saddle height",
    Part.SADDLE_POSITION: "Saddle position",
    Part.PICKUP_HEIGHT: "Pickup height",
    Part.NUT: "Nut slots",
    Part.STRINGS: "Strings",
    Part.SPRINGS: "Springs",
}
Place = tuple[int, int, str]


def what_was_turned(case: Case) -> tuple[str, ...]:
    """One sentence for each part touched in this setup: 'Rod: tightened a quarter turn in 2 steps'."""
    lines = []
    for part in Part:
        entries = [entry for entry in case.journal.turns if entry.turn.part is part]
        if entries:
            lines.append(f"{_NAMES[part]}: {_places(case, part, entries)}")
    return tuple(lines)


def turned_words(case: Case, entry: Entry) -> str:
    """One turn: 'Saddle height, E string: lowered half a turn'."""
    place = place_words(case, entry.turn)
    name = f"{_NAMES[entry.turn.part]}, {place}" if place else _NAMES[entry.turn.part]
    return f"{name}: {_done(case, entry.turn.part, [entry.turn.eighths])}"


def place_words(case: Case, turn: Turn) -> str:
    """Which string, pickup or post; nothing where the part is the only one."""
    spec = case.spec
    side = f"{turn.side.value} side" if turn.side else ""
    # The instrument may have been described anew with fewer strings or pickups since.
    if turn.pickup is not None and turn.pickup <= len(spec.pickups):
        name = pickup_label(spec, turn.pickup)
        return f"{name[0].lower()}{name[1:]}{', ' if side else ''}{side}"
    if turn.string is not None and turn.string <= len(spec.strings):
        return string_label(spec, turn.string)
    return f"post on the {side}" if side else ""


def _places(case: Case, part: Part, entries: Sequence[Entry]) -> str:
    """The places of one part in order, those that were turned alike named together."""
    by_place: dict[Place, list[Entry]] = {}
    for entry in sorted(entries, key=lambda e: _place(e.turn)):
        by_place.setdefault(_place(entry.turn), []).append(entry)
    alike: dict[str, list[str]] = {}
    for group in by_place.values():
        done = _done(case, part, [entry.turn.eighths for entry in group])
        alike.setdefault(done, []).append(place_words(case, group[0].turn))
    strings = [string_label(case.spec, number) for number in string_numbers(case.spec)]
    names = {done: "every string" if places == strings else _and(places) for done, places in alike.items()}
    return "; ".join(f"{name} {done}".strip() for done, name in names.items())


def _place(turn: Turn) -> Place:
    return -(turn.string or 0), turn.pickup or 0, turn.side.value if turn.side else ""


def _and(names: Sequence[str]) -> str:
    separator = "; " if any("," in name for name in names) else ", "
    return separator.join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1]


def _done(case: Case, part: Part, eighths: Sequence[int]) -> str:
    steps = f" in {len(eighths)} steps" if len(eighths) > 1 else ""
    if part is Part.STRINGS:
        return "changed" if not steps else f"changed {len(eighths)} times"
    if not any(eighths):
        return f"worked on{steps}"
    net = sum(eighths)
    if not net:
        away = sum(e for e in eighths if e > 0)
        return f"turned {case.say.turns(away)} and back again{steps}"
    words = VERBS.get(part, ("Turned", "Turned back"))[0 if net > 0 else 1].lower()
    if any((e > 0) != (net > 0) for e in eighths if e):
        return f"{words} {case.say.turns(net)} in all, back and forth{steps}"
    return f"{words} {case.say.turns(net)}{steps}"
