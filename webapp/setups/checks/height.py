"""String height: every string, then every fret by ear; on a floating bridge, first whether it sits level."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from webapp.physics.mixture import Floats
from webapp.setups import buzz_marks as buzz
from webapp.setups.belief.fold import Belief
from webapp.setups.belief.places import PITCH
from webapp.setups.belief.standing import uses_of
from webapp.setups.buzz_marks import CAUSE, next_question
from webapp.setups.case import Case
from webapp.setups.checks.base import HELD_BY, ReadCheck, Way
from webapp.setups.checks.deciding import Answer, View, best_eighths, kept_since, rows_turned
from webapp.setups.checks.heights_turned import (
    buzzed_before,
    height_answer,
    means_of,
    posts_or_known,
    raise_answer,
)
from webapp.setups.geometry import STANDARD_HEIGHT, height_way
from webapp.setups.journal import NO_ROOM, Entry, Part, Turn
from webapp.setups.lesson import HEIGHT_BASS, HEIGHT_TREBLE, BandRow
from webapp.setups.slots import LEVEL, Slot, height_slot, string_label
from webapp.setups.states import Act, Advice, CheckState, Forecast, RepairItem, SlotState, Step, Word, word_of
from webapp.setups.turn_rotation import rotation_of
from webapp.trade.content import Trade
from webapp.trade.ranges import Band
from webapp.trade.spec import Kind
from webapp.trade.words import BridgeType, Check


def level_lines(case: Case) -> tuple[str, str]:
    """What to look at, and what to read."""
    first = "With every string in tune, look at the bridge from the side."
    if case.spec.bridge.level_mm is None:
        return first, "How much higher over the body is its rear edge than its front edge? Lower is minus."
    return first, "How high over the body is its rear edge?"


# Practice: a quarter turn of both claw screws, then every string is tuned again.
MOST_SPRING_EIGHTHS = 2

_MEANS = {
    Word.GOOD: "Level: the springs and the strings hold each other.",
    Word.TOUCH_HIGH: "It leans toward the neck a little.",
    Word.TOO_HIGH: "It leans toward the neck: the springs are too slack for these strings.",
    Word.TOUCH_LOW: "It leans back a little.",
    Word.TOO_LOW: "It leans back: the springs pull harder than these strings.",
}


# Tightening the springs draws the rear edge down.
_GAIN = np.array([-1.0])


def level_answer(case: Case, view: View) -> Answer:
    """Both claw screws alike, a quarter turn at most, then retune and look again."""
    bands, enough = case.bands(view.slot), case.trade.belief.enough
    means = _MEANS[word_of(view.mean, bands)]
    level = case.belief.level
    per_turn = level.mixture.moments(level.mixture.unit(PITCH))[0]

    row = case.standing(view.slot).row

    def uses(eighths: Floats) -> Floats:
        return uses_of(level.mixture, rows_turned(row, PITCH, -1.0, eighths), bands, enough)

    eighths, gain = best_eighths(
        uses, 8 * (view.mean - bands.target.middle) / per_turn, most=MOST_SPRING_EIGHTHS
    )
    if not eighths:
        return Answer(Advice(means))
    verb = "Tighten" if eighths > 0 else "Loosen"
    turn = Turn(Part.SPRINGS, eighths)
    clock = rotation_of(case.spec, turn).value
    then = level.turned(eighths, _GAIN)
    forecast = Forecast(then.mixture.moments(row)[0], then.mixture.half_width(row), "what springs usually do")
    do = (
        "Slacken the strings first where the maker says so: the springs are under load.",
        f"{verb} both claw screws in the back {case.say.turns(eighths)}, alike: {clock}, "
        "looking straight at their heads.",
        "Tune every string, twice: each one moves the others.",
    )
    return Answer(
        Advice(means, do, turn, forecast, "Look at it again.", outcomes=(NO_ROOM,)),
        gain,
    ).tried_on(view, enough.turn)


BUZZ = buzz.BOARD
_TOLD = {"yes": "Yes.", "no": "No.", "unsure": "Not sure."}
# A string on its fret is no height to set up.
LOWEST_MM = 0.05


class Height(ReadCheck):
    """Each string at the 12th fret; what buzzes is raised twice at most, then its cause is looked for."""

    check = Check.HEIGHT
    drawn_at = "height"
    questions = {BUZZ: "Every fret plucked", CAUSE: "Why it buzzes"}
    ask_again = "Pluck every fret again"
    notes_drawn = True
    readings = "the string heights"
    widest = Band(low=-10, high=25)
    plausible = "height"
    asks = ("way",)

    def heading(self, case: Case, slot: Slot) -> str:
        if slot.level:
            return "Does the bridge sit level?"
        assert slot.string is not None
        return f"Height of the {string_label(case.spec, slot.string)}"

    def way(self, case: Case, slot: Slot, last: Entry | None) -> Way:
        if last is None or slot.level:
            return {} if slot.level else {"hold": 1, "gap": 12}
        found = height_way(last)
        return {"hold": found.hold, "gap": found.gap}

    def lines(self, case: Case, slot: Slot, method: str, way: Way) -> tuple[str, str]:
        if slot.level:
            return level_lines(case)
        assert slot.string is not None
        return _hands(way, "the string", f"the {string_label(case.spec, slot.string)}")

    def lines_together(self, case: Case, slots: Sequence[Slot], method: str, way: Way) -> tuple[str, str]:
        return _hands(way, "the strings", "each string")

    def way_taken(self, case: Case, entry: Entry) -> str:
        return "" if entry.slot == LEVEL.key else height_way(entry).text

    def standard(self, belief: Belief, slot: Slot, reading: Entry) -> Entry:
        if slot.level or height_way(reading) == STANDARD_HEIGHT:
            return reading
        seen = belief.standard(slot, reading)
        return replace(reading, value=(seen.low + seen.high) / 2)

    def band_rows(self, trade: Trade, kind: Kind) -> Iterable[BandRow]:
        for key, words, across in (
            (HEIGHT_BASS, "Thickest string at fret 12, held at 1", 0.0),
            (HEIGHT_TREBLE, "Thinnest string at fret 12, held at 1", 1.0),
        ):
            yield self.band_row(key, words, trade.ranges.height_bands(kind.family, kind.spec.touch, across))

    def answered(self, case: Case, entry: Entry) -> str:
        if entry.slot == CAUSE:
            key = entry.detail.get("asked")
            asked = next((q.label for q in case.trade.buzz.question if q.key == key), "")
            return f"{asked} {_TOLD.get(str(entry.detail.get('answer')), '')}".strip()
        taps = [f"{string_label(case.spec, int(s))} {'open' if f == 0 else f'fret {f}'}"
                for s, f in entry.detail.get("taps", []) if int(s) <= len(case.spec.strings)]  # fmt: skip
        return f"Buzz: {'; '.join(taps)}" if taps else "No buzz"

    def widest_of(self, slot: Slot) -> Band:
        # Only the bridge may lean; a string stands over its fret.
        return self.widest if slot.level else Band(low=0, high=self.widest.high)

    def refused(self, slot: Slot, value: float) -> str:
        return "" if slot.level or value >= LOWEST_MM else _ON_THE_FRET

    def likely_of(self, case: Case, slot: Slot) -> Band:
        return self.widest if slot.level else super().likely_of(case, slot)

    def wants_reading(self, case: Case, slot: Slot) -> bool:
        leads = slot.level or slot.string in (1, case.spec.string_count)
        return leads and slot.key not in case.belief.read

    def state(self, case: Case, slot: Slot) -> SlotState:
        state = super().state(case, slot)
        found = _heard_along(case, slot)
        if found is None or state.wants is not Act.DECIDE:
            return state
        return replace(state, buzz_frets=found.frets)

    def heard(self, case: Case, view: View) -> bool:
        return _heard_along(case, view.slot) is not None

    def advised(self, case: Case, view: View) -> Answer:
        if view.slot.level:
            return level_answer(case, view)
        assert view.slot.string is not None
        board, found = current_board(case), _heard_along(case, view.slot)
        if board and found:
            if kept_since(case, view.slot.key, board.id):
                return Answer(Advice("You like it so, buzz and all."))
            raised = raise_answer(case, view, found)
            return raised or Answer(Advice(_ENOUGH_RAISED))
        if case.spec.bridge.type is BridgeType.INDIVIDUAL and self.at_ease(case, view):
            return Answer(Advice(means_of(case, view.slot)))
        answer = height_answer(case, view.slot)
        turn = answer.advice.turn
        if turn is not None and turn.eighths < 0 and buzzed_before(case, view.slot.string):
            return Answer(
                Advice("It buzzed when it stood lower: leave it here. Touch by test makes your own targets.")
            )
        return answer

    def assess(self, case: Case) -> CheckState:
        level = [self.state(case, slot) for slot in self.slots(case) if slot.level]
        strings = [self.state(case, slot) for slot in self.slots(case) if not slot.level]
        step = self.next_step(level) or self.next_step(strings, posts_or_known(case))
        if step is None and current_board(case) is None:
            step = Step(Act.LISTEN, Check.HEIGHT, BUZZ, "Pluck every fret and mark what buzzes")
        if step is None and unexplained(case):
            step = Step(Act.ANSWER, Check.HEIGHT, CAUSE, "Find out why it still buzzes")
        return self.summed([*level, *strings], step, buzz_notes(case))

    def repairs(self, case: Case, state: CheckState) -> tuple[RepairItem, ...]:
        return (*super().repairs(case, state), *buzz_repairs(case))


_ON_THE_FRET = (
    "A height is more than 0. A string that lies on the fret cannot be measured: raise it until it clears "
    "the fret, then read it."
)


def _hands(way: Way, held: str, measured: str) -> tuple[str, str]:
    hold = way["hold"]
    first = f"Hold {held} down at fret {hold} ({HELD_BY})." if hold else f"Leave {held} open."
    return first, f"Measure from the top of fret {way['gap']} to the underside of {measured}."


_ENOUGH_RAISED = "It still buzzes, and more height is no answer: look for the cause."


def current_board(case: Case) -> Entry | None:
    """The last time every fret was plucked, unless a turn since made that a thing of the past."""
    board = buzz.newest_board(case.journal)
    return None if board is None or buzz.board_outdated(case.journal, board) else board


def _heard_along(case: Case, slot: Slot) -> buzz.StringBuzz | None:
    """What buzzes on this string at many frets, by the newest board that counts."""
    found = None if slot.string is None else buzz.buzz_of(current_board(case), slot.string)
    return found if found is not None and found.pattern is buzz.Pattern.MANY else None


def unexplained(case: Case) -> tuple[buzz.StringBuzz, ...]:
    """Strings that still buzz all along after all raising, while nobody has looked for the cause."""
    board = current_board(case)
    if board is None or not next_question(case):
        return ()
    return tuple(
        found
        for found in buzz.string_buzzes(board)
        if found.pattern is buzz.Pattern.MANY
        and not kept_since(case, height_slot(found.number).key, board.id)
    )


def buzz_notes(case: Case) -> tuple[str, ...]:
    """What the newest buzz board says, string by string."""
    return tuple(_note(case, found) for found in buzz.string_buzzes(current_board(case)))


def _note(case: Case, found: buzz.StringBuzz) -> str:
    name = string_label(case.spec, found.number)
    if found.pattern is buzz.Pattern.OPEN_ONLY:
        return f"{name}: buzzes open only. That points to the nut, which comes next."
    if found.pattern is buzz.Pattern.ONE_FRET:
        fret = next(f for f in found.frets if f)
        return f"{name}: buzzes only when fretted at {fret}. One uneven fret is a repairer’s job."
    return f"{name}: buzzes at several frets."


def buzz_repairs(case: Case) -> tuple[RepairItem, ...]:
    """Single buzzing frets, for the repairer, and what still buzzes after all raising."""
    board = current_board(case)
    return tuple(
        RepairItem(
            Check.HEIGHT,
            f"{string_label(case.spec, found.number)}: buzzes only when fretted at "
            f"{next(f for f in found.frets if f)}. Check the frets just above it for a high or worn one."
            if found.pattern is buzz.Pattern.ONE_FRET
            else f"{string_label(case.spec, found.number)}: still buzzes at frets "
            f"{', '.join(str(f) for f in found.frets)}, though it stands high enough.",
        )
        for found in buzz.string_buzzes(board)
        if found.pattern is buzz.Pattern.ONE_FRET
        or (found.pattern is buzz.Pattern.MANY and case.journal.observations(CAUSE))
    )


def open_buzzes(case: Case, number: int) -> bool:
    """Whether the open string was heard to rattle, the last time every fret was plucked."""
    found = buzz.buzz_of(buzz.newest_board(case.journal), number)
    return found is not None and found.open
