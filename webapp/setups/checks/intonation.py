"""Intonation: each string at 12 and at a high fret against its own tuned open note, and its saddle's
place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from webapp.physics.mixture import Floats
from webapp.setups.belief.places import PITCH, VALUES
from webapp.setups.belief.standing import uses_of
from webapp.setups.case import Case
from webapp.setups.checks.base import ReadCheck, Way
from webapp.setups.checks.deciding import (
    Answer,
    View,
    best_eighths,
    kept_since,
    no_room,
    now_words,
    rows_turned,
    screw_basis,
    thread_chance,
    view_of,
)
from webapp.setups.geometry import fret_played
from webapp.setups.journal import NO_ROOM, Entry, Part, Turn
from webapp.setups.lesson import INTONATION_12, INTONATION_HIGH, BandRow
from webapp.setups.slots import Slot, string_label, tuned_slot
from webapp.setups.states import Act, Advice, CheckState, Forecast, SlotState, Word, word_of
from webapp.setups.turn_rotation import rotation_of
from webapp.trade.content import Trade
from webapp.trade.ranges import INTONATION_HIGH_FRET, INTONATION_LOW_FRET, Band
from webapp.trade.spec import NO_SCREW, UNKNOWN, Kind
from webapp.trade.words import BridgeType, Check, ScrewHeads

# Twenty whole turns: a saddle's long screw moves a string by a cent or two for each.
MOST_EIGHTHS = 160
# A saddle moved by so much, in cents at the 12th, is looked at again: the wrong way round it would have
# mattered.
WORTH_A_LOOK_CENTS = 4.0
# The octave counts for more than the high fret, which is played less.
WEIGHTS = (1.5, 1.0)
IN_TUNE_WORDS = "Good: the string plays in tune up the neck."


class Intonation(ReadCheck):
    """Every string: two frets, one saddle."""

    check = Check.INTONATION
    drawn_at = "saddle"
    widest = Band(low=-200, high=200)
    plausible = "intonation"
    is_signed = True

    def heading(self, case: Case, slot: Slot) -> str:
        assert slot.string is not None
        return f"{string_label(case.spec, slot.string)} at fret {case.intonation_fret(slot)}"

    def way(self, case: Case, slot: Slot, last: Entry | None) -> Way:
        return {"fret": case.intonation_fret(slot)}

    def lines(self, case: Case, slot: Slot, method: str, way: Way) -> tuple[str, str]:
        assert slot.string is not None
        name = string_label(case.spec, slot.string)
        return (
            f"Tune the open {name} exactly, just before you read.",
            f"Play it at fret {way['fret']}, pressing as ever. How far off does the tuner show it?",
        )

    def lines_together(self, case: Case, slots: Sequence[Slot], method: str, way: Way) -> tuple[str, str]:
        frets = " and ".join(dict.fromkeys(f"fret {case.intonation_fret(slot)}" for slot in slots))
        return (
            "String by string: tune it open, exactly, just before you read.",
            f"Play it at {frets}, pressing as ever. How far off does the tuner show it?",
        )

    def way_taken(self, case: Case, entry: Entry) -> str:
        return f"at fret {fret_played(entry, case.high_fret)}"

    def band_rows(self, trade: Trade, kind: Kind) -> Iterable[BandRow]:
        low, high = map(trade.ranges.intonation_bands, (INTONATION_LOW_FRET, INTONATION_HIGH_FRET))
        yield self.band_row(INTONATION_12, "At fret 12", low)
        yield self.band_row(INTONATION_HIGH, "At the high fret", high)

    def state(self, case: Case, slot: Slot) -> SlotState:
        state = super().state(case, slot)
        assert slot.string is not None
        fret = case.intonation_fret(slot)
        # The two frets are one question: "I like it so" at one answers both.
        kept = any(kept_since(case, one.key, _newest(case, one)) for one in pair(case, slot.string))
        state = replace(state, label=f"{string_label(case.spec, slot.string)}, fret {fret}")
        return replace(state, accepted=True, wants=None) if kept and state.reading is not None else state

    def assess(self, case: Case) -> CheckState:
        states = [self.state(case, slot) for slot in self.slots(case)]
        return self.summed(states, self.next_step(_once_a_string(states), thread_known(case)))

    def wants(self, case: Case, view: View, answer: Callable[[], Answer]) -> Act | None:
        """After its saddle was moved a string is read once more, at the fret that shows the most of it:
        the high one moves about twice as far. The other goes with it by what was shown when both were
        read."""
        wants, enough = super().wants(case, view, answer), case.trade.belief.enough
        assert view.slot.string is not None
        if view.reading is None or view.doubted or view.accepted or view.slot.key not in case.belief.unread:
            return wants
        both = pair(case, view.slot.string)
        far = abs(case.belief.unread.get(both[0].key, 0.0)) > WORTH_A_LOOK_CENTS
        if view.slot == both[-1] and far:
            return Act.MEASURE if view.reads < enough.most_reads else None
        return None if view.usual >= enough.again else wants

    def advised(self, case: Case, view: View) -> Answer:
        assert view.slot.string is not None
        if all(self.at_ease(case, view_of(case, slot)) for slot in pair(case, view.slot.string)):
            return Answer(Advice(IN_TUNE_WORDS))
        return string_answer(case, view.slot.string)


def _once_a_string(states: list[SlotState]) -> list[SlotState]:
    """One turn for a string, though both its frets ask for it; and one reading after it: the high fret's,
    which says most. Only a string that was not read yet is read at both."""
    turning = {s.slot.string: s.slot for s in reversed(states) if s.wants is Act.DECIDE}
    again = {s.slot.string: s.slot for s in states if s.wants is Act.MEASURE and s.reading is not None}
    kept = []
    for state in states:
        chosen = {Act.DECIDE: turning, Act.MEASURE: again}.get(state.wants or Act.STOP, {})
        is_second = state.reading is not None and chosen.get(state.slot.string, state.slot) != state.slot
        kept.append(replace(state, wants=None) if is_second else state)
    return kept


def pair(case: Case, number: int) -> tuple[Slot, ...]:
    """The readings of one string."""
    high = (tuned_slot(number, high=True),) if case.spec.fret_count > 12 else ()
    return (tuned_slot(number), *high)


def _newest(case: Case, slot: Slot) -> int:
    reading = case.journal.newest_reading(slot.key)
    return reading.id if reading else 0


def string_answer(case: Case, number: int) -> Answer:
    """One answer for both readings of a string; worked out once a case."""
    kept: dict[int, Answer] = case.worked.setdefault("intonation", {})
    if number not in kept:
        kept[number] = _answer(case, number)
    return kept[number]


def thread_known(case: Case) -> bool:
    """Whether the saddle screws' thread is sure enough to go the whole way at once."""
    tuning = case.belief.tuning
    chance = thread_chance(tuning.mixture, tuning.threads, 0, tuning.split)
    return chance >= case.trade.belief.enough.thread_known


def has_no_screw(case: Case) -> bool:
    bridge = case.spec.bridge
    return bridge.type is BridgeType.ONE_PIECE or bridge.intonation_thread == NO_SCREW


def has_no_room(case: Case, number: int, eighths: int) -> bool:
    """Whether the player said, after the last move of this saddle, that it can go no further that way."""
    return any(no_room(case, slot, eighths) for slot in pair(case, number))


def worst_word(case: Case, number: int) -> Word:
    """The word of the string: of that fret which is further off for its band."""
    slots = pair(case, number)
    words = [word_of(case.standing(s).mean, case.bands(s)) for s in slots]
    order = (Word.TOO_LOW, Word.TOO_HIGH, Word.TOUCH_LOW, Word.TOUCH_HIGH, Word.GOOD)
    return min(words, key=order.index)


def _answer(case: Case, number: int) -> Answer:
    slots, tuning = pair(case, number), case.belief.tuning
    enough, frame = case.trade.belief.enough, case.frame
    index = case.spec.index_of(number)
    per_mm = frame.tuning_gains[index]
    stands = [case.standing(slot) for slot in slots]

    def uses(eighths: Floats) -> Floats:
        total = np.zeros(len(eighths))
        for slot, stand, weight in zip(slots, stands, WEIGHTS, strict=False):
            rows = rows_turned(stand.row, PITCH, stand.row[VALUES + index] * per_mm, eighths)
            total += weight * uses_of(tuning.mixture, rows, case.bands(slot), enough)
        return total / sum(WEIGHTS[: len(slots)])

    pitch_mm = tuning.mixture.moments(tuning.mixture.unit(PITCH))[0]
    known = thread_known(case)
    straights = [-stand.mean / (stand.row[VALUES + index] * per_mm * pitch_mm / 8) for stand in stands]
    eighths, gain = best_eighths(uses, *straights, most=MOST_EIGHTHS)
    return _told(case, number, eighths, gain, known)


def _told(case: Case, number: int, eighths: int, gain: float, known: bool) -> Answer:
    word = worst_word(case, number)
    if word is Word.GOOD and gain <= case.trade.belief.enough.turn_settled:
        return Answer(Advice(IN_TUNE_WORDS), gain)
    if not eighths or gain <= case.trade.belief.enough.turn:
        means = "The saddle is in its best place; what is left comes from an old string, the nut or a fret."
        left = _left(case, number, ", with the saddle in its best place. Try a fresh string first.")
        return Answer(Advice(means, repairer=left), gain)
    back = eighths > 0
    pitch, length = ("sharp", "short") if back else ("flat", "long")
    means = f"The fretted notes are {pitch}: the string is a little too {length}."
    way = "back, away from the nut" if back else "toward the nut"
    if has_no_screw(case):
        told = _left(case, number, f"; in tune with the saddle a little {way}. Try fresh strings first.")
        return Answer(Advice(means, repairer=told))
    if has_no_room(case, number, eighths):
        told = _left(case, number, f"; its saddle has no room left {way}. Try a fresh string first.")
        return Answer(Advice(f"{means} The saddle has no room left.", repairer=told))
    return Answer(_move(case, number, eighths, known, means, way), gain)


def _left(case: Case, number: int, why: str) -> str:
    """What is left for others to see to; empty where nothing is more likely off than not."""
    off = any(view_of(case, slot).is_off for slot in pair(case, number))
    return f"{string_label(case.spec, number)}: {_readings(case, number)}{why}" if off else ""


def _readings(case: Case, number: int) -> str:
    slots = pair(case, number)
    parts = [
        f"{case.say.cents(round(case.standing(s).mean))} at fret {case.intonation_fret(s)}" for s in slots
    ]
    return " and ".join(parts)


def _move(case: Case, number: int, eighths: int, known: bool, means: str, way: str) -> Advice:
    name = string_label(case.spec, number)
    bridge = case.spec.bridge
    behind = bridge.intonation_heads is ScrewHeads.BEHIND
    turn = Turn(Part.SADDLE_POSITION, eighths=eighths, string=number)
    seen = "seen from the bridge’s end" if behind else "seen from the neck’s side"
    do = (
        f"Slacken the {name}, so that the saddle slides without weight on it.",
        f"Move its saddle {way}: {now_words(case.say, eighths, known)}, "
        f"{rotation_of(case.spec, turn).value}, {seen}.",
    )
    slot = pair(case, number)[0]
    moved = case.belief.tuning.turned(eighths, _alone(case, number))
    row = case.standing(slot).row
    forecast = Forecast(
        moved.mixture.moments(row)[0],
        moved.mixture.half_width(row),
        f"{screw_basis(known, bridge.intonation_thread != UNKNOWN)}; at the 12th fret",
    )
    return Advice(means, do, turn, forecast, "Tune the open string again.", outcomes=(NO_ROOM,))


def _alone(case: Case, number: int) -> Floats:
    """What a mm of this one saddle's travel does to every place of the tuning."""
    gains = np.zeros(2 * case.spec.string_count)
    index = case.spec.index_of(number)
    gains[index] = case.frame.tuning_gains[index]
    return gains
