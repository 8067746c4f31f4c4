"""Journal entries in words."""

from __future__ import annotations

import re

from webapp.physics.numbers import on_screen
from webapp.setups.case import Case
from webapp.setups.checks import CHECKS
from webapp.setups.journal import COMPARED, CREAKS, KEPT, NO_ROOM, WILL_NOT_MOVE, Entry, EntryKind, Part
from webapp.setups.say import capital
from webapp.setups.slots import (
    LEVEL,
    RELIEF,
    NoSuchSlot,
    parse_slot,
    pickup_label,
    slot_label,
    string_label,
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
