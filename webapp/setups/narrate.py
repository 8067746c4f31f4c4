"""Journal entries in words."""

from __future__ import annotations

import re

from webapp.setups.case import Case
from webapp.setups.checks.base import KEPT
from webapp.setups.checks.buzz_questions import CAUSE
from webapp.setups.convert import height_way, relief_way
from webapp.setups.journal import (
    COMPARED,
    CREAKS,
    NO_ROOM,
    QUICK,
    WILL_NOT_MOVE,
    Entry,
    EntryKind,
    Part,
)
from webapp.setups.slots import NoSuchSlot, Slot, parse_slot, pickup_label, slot_label, string_label
from webapp.trade.words import Check, label

_QUESTIONS = {
    "start": "Getting ready",
    "height.buzz": "Every fret plucked",
    CAUSE: "Why it buzzes",
    "pickups.ear": "Pickups by ear",
    "playtest": "Play test",
    "drift": "Tuning drift",
}

# What was done instead of a turn, and what is told of a question with yes and no.
_ANSWERS = {
    KEPT: "Kept so",
    NO_ROOM: "No room left",
    WILL_NOT_MOVE: "It will not move",
    CREAKS: "It creaks",
}
_TOLD = {"yes": "Yes.", "no": "No.", "unsure": "Not sure."}

_ROOM = {"more": "more room than before", "same": "as much room as before", "less": "less room than before"}
LEVEL = Slot(Check.HEIGHT, level=True).key

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
        return f"{label(entry.check).capitalize()} ({entry.slot})"
    name = slot_label(case.spec, slot)
    return name if entry.check is Check.RELIEF or slot.level else f"{label(entry.check).capitalize()}, {name}"


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
    if entry.typed and entry.typed not in value and (entry.unit != "cents" or "answer" in entry.detail):
        parts.append(f"typed “{entry.typed}”")
    parts += [_ROOM.get(str(entry.detail.get(COMPARED)), ""), way_words(case, entry)]
    return ", ".join(part for part in parts if part)


def way_words(case: Case, entry: Entry) -> str:
    """How a reading was taken: frets and tool."""
    tool = case.trade.tools.get(entry.tool)
    name = tool.name if tool else entry.tool
    if entry.check is Check.RELIEF:
        return f"{relief_way(entry, case.relief_standard).text}, {name}"
    if entry.check is Check.HEIGHT and entry.slot != LEVEL:
        return f"{height_way(entry).text}, {name}"
    if entry.check is Check.INTONATION:
        return f"at fret {entry.detail.get('fret', 12)}, {name}"
    return name


def _observation(case: Case, entry: Entry) -> str:
    answer = entry.detail.get("answer")
    if answer in _ANSWERS:
        return _ANSWERS[answer]
    if entry.slot == CAUSE:
        asked = next((q.label for q in case.trade.buzz.question if q.key == entry.detail.get("asked")), "")
        return f"{asked} {_TOLD.get(str(answer), '')}".strip()
    if entry.slot == "start":
        return _start(case, entry)
    if entry.slot == "drift":
        return _drift(case, entry)
    if entry.slot == "height.buzz":
        taps = [f"{string_label(case.spec, int(s))} {'open' if f == 0 else f'fret {f}'}"
                for s, f in entry.detail.get("taps", []) if int(s) <= len(case.spec.strings)]  # fmt: skip
        return f"Buzz: {'; '.join(taps)}" if taps else "No buzz"
    if entry.slot == "pickups.ear":
        heard = set(entry.detail.get("heard", ()))
        return "; ".join(s.label for s in case.trade.ear if s.key in heard) or "Sounds good"
    found = set(entry.detail.get("symptoms", ()))
    words = [s.label for q in case.trade.playtest for s in q.symptoms if s.key in found]
    end = ["Signed off"] if entry.detail.get("signed") else []
    return "; ".join([*words, *end]) or "Nothing amiss"


def _drift(case: Case, entry: Entry) -> str:
    cents = entry.detail.get("cents", {})
    names = {int(n): c for n, c in cents.items() if int(n) <= len(case.spec.strings)}
    return "; ".join(f"{string_label(case.spec, n)} {case.say.cents(c)}" for n, c in names.items())


def _start(case: Case, entry: Entry) -> str:
    stoppers = set(entry.detail.get("stoppers", ()))
    found = [s.label for s in case.trade.start.stoppers if s.key in stoppers]
    age = next((a.label for a in case.trade.start.ages if a.key == entry.detail.get("age")), "")
    if entry.detail.get(QUICK) is True:
        return f"Quick check. Strings: {age.lower()}" if age else "Quick check"
    return "; ".join(found) if found else f"Ready. Strings: {age.lower()}" if age else "Ready"
