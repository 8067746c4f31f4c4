"""Journal entries in words, and what was turned summed up for each part."""

from __future__ import annotations

import re
from collections.abc import Sequence

from webapp.physics.numbers import on_screen
from webapp.setups.case import Case
from webapp.setups.checks import CHECKS
from webapp.setups.journal import COMPARED, CREAKS, KEPT, NO_ROOM, WILL_NOT_MOVE, Entry, EntryKind, Part, Turn
from webapp.setups.say import VERBS, capital
from webapp.setups.slots import (
    LEVEL,
    RELIEF,
    NoSuchSlot,
    parse_slot,
    pickup_label,
    slot_label,
    string_label,
    string_numbers,
)
from webapp.trade.words import label

_QUESTIONS = {place: title for one in CHECKS.values() for place, title in one.questions.items()}

# What was done instead of a turn, and what is told of a question with yes and no.
_ANSWERS = {
    KEPT: "Kept so",
    NO_ROOM: "No room left",
    WILL_NOT_MOVE: "It will not move",
    CREAKS: "It creaks",
}

_ROOM = {"more": "more room than before", "same": "as much room as before", "less": "less room than before"}

# Frets read beside the 12th and the high one, to tell the nut end from the saddle.
_EXTRA_FRET = re.compile(r"intonation\.(\d{1,2})\.(\d{1,2})")


def entry_title(case: Case, entry: Entry) -> str:
    """What the entry is about."""
    if entry.kind is EntryKind.ADJUSTMENT:
        return _part_title(case, entry)
    if entry.kind is EntryKind.NOTE:
        return "Note"
    if entry.slot in _QUESTIONS:
        return _QUESTIONS[entry.slot]
    if entry.slot.startswith("saddle."):
        return string_label(case.spec, int(entry.slot.removeprefix("saddle.")))
    fret = _EXTRA_FRET.fullmatch(entry.slot)
    if fret and int(fret[1]) <= len(case.spec.strings):
        return f"Intonation, {string_label(case.spec, int(fret[1]))}, fret {fret[2]}"
    try:
        slot = parse_slot(entry.slot, case.spec)
    except NoSuchSlot:
        # The instrument was described anew with fewer strings or pickups; what was read before still shows.
        return f"{capital(label(entry.check))} ({entry.slot})"
    name = slot_label(case.spec, slot)
    return name if slot in (RELIEF, LEVEL) else f"{capital(label(entry.check))}, {name}"


def _part_title(case: Case, entry: Entry) -> str:
    turn = entry.turn
    name = {
        Part.ROD: "Truss rod",
        Part.SADDLE_HEIGHT: "Saddle height",
        Part.SADDLE_POSITION: "Saddle position",
        Part.PICKUP_HEIGHT: "Pickup height",
        Part.NUT: "Nut",
        Part.STRINGS: "Strings",
        Part.SPRINGS: "Springs",
    }[turn.part]
    if turn.string is not None and turn.string <= len(case.spec.strings):
        return f"{name}, {string_label(case.spec, turn.string)}"
    if turn.pickup is not None and turn.side is not None and turn.pickup <= len(case.spec.pickups):
        return f"{pickup_label(case.spec, turn.pickup)}, {turn.side.value} side"
    return f"{name}, {turn.side.value} side" if turn.side is not None else name


def entry_words(case: Case, entry: Entry) -> str:
    """What the entry says."""
    if entry.kind is EntryKind.READING:
        return reading_words(case, entry)
    if entry.kind is EntryKind.OBSERVATION:
        return _observation(case, entry)
    return entry.typed


def reading_words(case: Case, entry: Entry) -> str:
    """Value in the player's unit, what was typed where that looks different, and how it was taken."""
    if entry.value is None:
        return entry.typed
    say = case.say
    value = say.reading(entry)
    parts = [value]
    # An answer by feel is shown too: the range does not say which of the words it was.
    typed = on_screen(entry.typed)
    if typed and typed not in value and (entry.unit != "cents" or "answer" in entry.detail):
        parts.append(f"typed “{typed}”")
    parts += [_ROOM.get(str(entry.detail.get(COMPARED)), ""), way_words(case, entry)]
    return ", ".join(part for part in parts if part)


def way_words(case: Case, entry: Entry) -> str:
    """How a reading was taken: frets and tool."""
    tool = case.trade.tools.get(entry.tool)
    parts = (CHECKS[entry.check].way_taken(case, entry), tool.name if tool else entry.tool)
    return ", ".join(part for part in parts if part)


def _observation(case: Case, entry: Entry) -> str:
    return _ANSWERS.get(entry.detail.get("answer", "")) or CHECKS[entry.check].answered(case, entry)


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
