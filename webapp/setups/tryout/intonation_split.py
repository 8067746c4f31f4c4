"""One string's tuning errors over the board, split into saddle, nut end and what neither explains."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.physics.intonation import IntonationFit, split_fit
from webapp.physics.numbers import say_number
from webapp.setups.belief.reading import seen_of
from webapp.setups.case import Case
from webapp.setups.checks.intonation import has_no_room, has_no_screw, string_answer
from webapp.setups.geometry import fret_played
from webapp.setups.journal import Entry, EntryKind
from webapp.setups.slots import string_label, tuned_slot

# Frets worth reading for a split; 12 and a high one at least, the low ones tell the nut end apart.
SPLIT_FRETS = (1, 2, 3, 5, 7, 9, 12, 15, 17, 19)


@dataclass(frozen=True)
class Split:
    """The fit of one string, the readings it rests on {fret: cents}, and what to do about each part."""

    number: int
    readings: dict[int, float]
    fit: IntonationFit
    saddle: str
    nut: str
    remainder: str
    repairer: tuple[str, ...] = ()


def current_readings(case: Case, number: int) -> dict[int, Entry]:
    """The newest valid reading of each fret of a string that nothing has moved since, by fret."""
    slot = tuned_slot(number)
    prefix = f"intonation.{number}."
    found: dict[int, Entry] = {}
    for entry in case.journal.live:
        if entry.kind is EntryKind.READING and entry.slot.startswith(prefix) and entry.value is not None:
            found[fret_played(entry, case.high_fret)] = entry
    return {fret: e for fret, e in sorted(found.items()) if case.journal.moved_since(slot, e) is None}


def split_of(case: Case, number: int) -> Split | None:
    """The split of a string; None until at least two frets have been read."""
    entries = current_readings(case, number)
    readings = {fret: e.value for fret, e in entries.items() if e.value is not None}
    if len(readings) < 2:
        return None
    error = max(seen_of(case.trade, e).sigma for e in entries.values())
    fit = split_fit(case.spec.scale_of(number), readings, error)
    saddle, out_of_travel = _saddle_words(case, number, fit)
    nut, nut_repair = _nut_words(case, number, fit)
    remainder, left_repair = _remainder_words(case, number, fit, len(readings))
    repairs = tuple(text for text in (out_of_travel, nut_repair, left_repair) if text)
    return Split(number, readings, fit, saddle, nut, remainder, repairs)


def _give(value: float) -> str:
    return f"give or take {say_number(abs(value), 1)}"


def _saddle_words(case: Case, number: int, fit: IntonationFit) -> tuple[str, str]:
    far = case.say.length(abs(fit.shift_mm))
    if abs(fit.shift_mm) <= fit.shift_error_mm:
        return f"Saddle: within {case.say.length(fit.shift_error_mm)} of its best place. Leave it.", ""
    back = fit.shift_mm > 0
    way = "back, away from the nut" if back else "toward the nut"
    words = f"Saddle: {far} {way}, give or take {case.say.length(fit.shift_error_mm)}."
    name = string_label(case.spec, number)
    if has_no_screw(case):
        return f"{words} This bridge has no screw for it.", f"{name}: saddle wants to move {far} {way}."
    if has_no_room(case, number, 1 if back else -1):
        return (
            f"{words} It has no room left: fresh strings, or a lighter one, may need less.",
            f"{name}: saddle out of travel; {far} {way} is wanted.",
        )
    turn = string_answer(case, number).advice.turn
    if turn is None or (turn.eighths > 0) != back:
        return words, ""
    return f"{words} The setup turns it {case.say.turns(turn.eighths)}.", ""


def _nut_words(case: Case, number: int, fit: IntonationFit) -> tuple[str, str]:
    if abs(fit.nut_cents) <= max(2 * fit.nut_error_cents, case.trade.practice.doubt.left_over_cents / 2):
        return "Nut end: no error that these readings can show.", ""
    words = f"Nut end: every fretted note {case.say.cents(fit.nut_cents)}, {_give(fit.nut_error_cents)}."
    name, far = string_label(case.spec, number), say_number(abs(fit.nut_cents), 0)
    if fit.nut_cents > 0:
        return (
            f"{words} The slot is high, or the string is pressed too hard at the first frets.",
            f"{name}: fretted notes about {far} cents sharp from the nut end; slot high?",
        )
    return (
        f"{words} The open string sounds sharp against the board: look for a slot that pinches.",
        f"{name}: fretted notes about {far} cents flat from the nut end.",
    )


def _remainder_words(case: Case, number: int, fit: IntonationFit, count: int) -> tuple[str, str]:
    if count < 3:
        return "Read one more fret, a low one, to see whether anything is left over.", ""
    fret, cents = fit.largest_remainder
    if abs(cents) <= case.trade.practice.doubt.left_over_cents:
        return "Left over: nothing beyond what a tuner misses.", ""
    words = (
        f"Left over: {case.say.cents(cents)} at fret {fret}. Read that fret once more; "
        "then think of an old string, then of a worn fret."
    )
    name = string_label(case.spec, number)
    return words, f"{name}: {case.say.cents(cents)} at fret {fret} that no saddle or nut explains."
