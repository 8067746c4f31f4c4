"""What to turn so that the strings stand right over the board: each saddle, two posts, or a saddle to be
worked on."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product

import numpy as np

from webapp.physics.mixture import Floats
from webapp.setups import buzz_marks as buzz
from webapp.setups.belief.neck import PITCH, THREAD_CLASS
from webapp.setups.belief.standing import uses_of
from webapp.setups.case import Case
from webapp.setups.checks.deciding import (
    MOST_EIGHTHS,
    Answer,
    View,
    best_eighths,
    no_room,
    now_words,
    rows_turned,
    screw_basis,
    thread_chance,
    view_of,
)
from webapp.setups.geometry import FILED_MM
from webapp.setups.journal import NO_ROOM, Entry, Part, Turn
from webapp.setups.slots import Slot, string_label, string_numbers
from webapp.setups.states import Advice, Forecast, Word, word_of
from webapp.setups.turn_rotation import rotation_of
from webapp.trade.spec import UNKNOWN
from webapp.trade.words import BridgeType, Check, Side

_MEANS = {
    Word.TOO_LOW: "Too low: it will buzz or choke.",
    Word.TOUCH_LOW: "A little lower than suits your touch; listen for buzz.",
    Word.GOOD: "Good height for your touch.",
    Word.TOUCH_HIGH: "A little higher than suits your touch.",
    Word.TOO_HIGH: "Too high: stiff to play, and notes go sharp.",
}
# Posts are tried so many eighths about the straight answer.
ABOUT = (-2, -1, 0, 1, 2)


def height_answer(case: Case, slot: Slot) -> Answer:
    """The answer for one string; where all hang together they are worked out once a case."""
    bridge = case.spec.bridge.type
    if bridge is BridgeType.INDIVIDUAL:
        return _saddle(case, slot)
    kept: Mapping[str, Answer] | None = case.worked.get("height")
    if kept is None:
        kept = case.worked["height"] = _one_piece(case) if bridge is BridgeType.ONE_PIECE else _posts(case)
    return kept[slot.key]


def _slots(case: Case) -> tuple[Slot, ...]:
    return tuple(Slot(Check.HEIGHT, string=n) for n in string_numbers(case.spec))


def means_of(case: Case, slot: Slot) -> str:
    """What a string's height means."""
    return _MEANS[word_of(case.standing(slot).mean, case.bands(slot))]


def thread_known(case: Case) -> bool:
    """Whether the height screws' thread is sure enough to go the whole way at once."""
    neck = case.belief.neck
    chance = thread_chance(neck.mixture, neck.threads, THREAD_CLASS, neck.thread_split)
    return chance >= case.trade.belief.enough.thread_known


def posts_or_known(case: Case) -> bool:
    """Whether all strings may be turned in one go: two posts are one turn, and a known thread teaches
    nothing."""
    return case.spec.bridge.type is not BridgeType.INDIVIDUAL or thread_known(case)


def _pitch_mm(case: Case) -> float:
    mixture = case.belief.neck.mixture
    return mixture.moments(mixture.unit(PITCH))[0]


def screws_dead(case: Case) -> bool:
    """Whether the screws were turned, and the readings say that they carry no string."""
    return _pitch_mm(case) < case.trade.belief.thread.dead_mm


_DEAD = "The screws were turned, and the string did not follow. Is the key seated, and does each screw carry?"


def _dead_answer(case: Case, slot: Slot) -> Answer:
    means = means_of(case, slot)
    if case.bands(slot).target.contains(case.standing(slot).mean):
        return Answer(Advice(means))
    means = f"{means} {_DEAD}"
    if not view_of(case, slot).is_off:
        return Answer(Advice(means))
    assert slot.string is not None
    name = string_label(case.spec, slot.string)
    return Answer(Advice(means, repairer=f"{name}: it does not follow the screws of the bridge."))


def _saddle(case: Case, slot: Slot) -> Answer:
    assert slot.string is not None
    means = means_of(case, slot)
    per_mm = float(case.frame.height_gains(slot.string, None)[case.spec.index_of(slot.string)])
    bands, stands, enough = case.bands(slot), case.standing(slot), case.trade.belief.enough

    def uses(eighths: Floats) -> Floats:
        return uses_of(stands.mixture, rows_turned(stands.row, PITCH, per_mm, eighths), bands, enough)

    straight = (bands.target.middle - stands.mean) / (per_mm * _pitch_mm(case) / 8)
    eighths, gain = best_eighths(uses, straight)
    if screws_dead(case):
        return _dead_answer(case, slot)
    if gain <= enough.turn:
        return Answer(Advice(means))
    if no_room(case, slot, eighths):
        return Answer(Advice(means, repairer=_no_room_words(case, slot)))
    return Answer(saddle_advice(case, slot, eighths, means), gain)


def _no_room_words(case: Case, slot: Slot) -> str:
    view = view_of(case, slot)
    target = case.bands(slot).target
    if not view.is_off:
        return ""
    assert slot.string is not None
    name = string_label(case.spec, slot.string)
    return (
        f"{name}: {case.say.about(view.mean, view.give)} at the 12th, and its saddle has no room left; "
        f"{case.say.band(target.low, target.high)} would suit. A shim under the neck may help."
    )


def saddle_advice(case: Case, slot: Slot, eighths: int, means: str) -> Advice:
    """One string's own saddle, both its screws alike."""
    assert slot.string is not None
    known, told = thread_known(case), case.spec.bridge.height_thread != UNKNOWN
    verb = "Raise" if eighths > 0 else "Lower"
    turn = Turn(Part.SADDLE_HEIGHT, eighths=eighths, string=slot.string)
    clock = rotation_of(case.spec, turn).value
    name = string_label(case.spec, slot.string)
    do = (
        f"{verb} the saddle of the {name} {now_words(case.say, eighths, known)}: {clock}, seen from above.",
        "Turn both its screws alike.",
    )
    return Advice(
        means, do, turn, expected(case, slot, turn, screw_basis(known, told)), "Retune.", outcomes=(NO_ROOM,)
    )


def expected(case: Case, slot: Slot, turn: Turn, basis: str) -> Forecast:
    """What a string's height should read after a turn."""
    after = case.belief.neck.saddles_turned(turn.eighths, case.frame.height_gains(turn.string, turn.side))
    row = after.row(case.belief.neck_column(slot))
    return Forecast(after.mixture.moments(row)[0], after.mixture.half_width(row), basis)


# Two posts under one bar


def _posts(case: Case) -> dict[str, Answer]:
    slots = _slots(case)
    if screws_dead(case):
        return {slot.key: _dead_answer(case, slot) for slot in slots}
    ends = {Side.BASS: slots[0], Side.TREBLE: slots[-1]}
    answers = {slot.key: Answer(Advice(means_of(case, slot))) for slot in slots}
    turns, together = best_posts(case)
    for side, slot in ends.items():
        eighths = turns.get(side, 0)
        if eighths and not no_room(case, slot, eighths):
            answers[slot.key] = Answer(_post_advice(case, slot, side, eighths), together)
    done = together <= case.trade.belief.enough.turn_settled
    for slot in slots[1:-1]:
        told = _off_the_bar(case, slot) if done else ""
        answers[slot.key] = Answer(Advice(means_of(case, slot), repairer=told))
    return answers


def best_posts(case: Case) -> tuple[dict[Side, int], float]:
    """Signed eighths for each post with the best use of all strings together, and what they gain a string."""
    slots = _slots(case)
    aims = np.array([case.bands(s).target.middle - case.standing(s).mean for s in slots])
    gains = np.stack([case.frame.height_gains(None, side) for side in Side], axis=1)
    straight = np.linalg.lstsq(gains * _pitch_mm(case) / 8, aims, rcond=None)[0]
    tried = {(0, 0)}
    for part in (0.5, 0.8, 1.0):
        for bass, treble in product(ABOUT, ABOUT):
            counts = np.clip(np.round(part * straight) + (bass, treble), -MOST_EIGHTHS, MOST_EIGHTHS)
            tried.add((int(counts[0]), int(counts[1])))
    counts = sorted(tried, key=lambda pair: abs(pair[0]) + abs(pair[1]))
    moved = np.array(counts) / 8 @ gains.T
    uses = np.zeros(len(counts))
    for index, slot in enumerate(slots):
        stands = case.standing(slot)
        rows = rows_turned(stands.row, PITCH, 1.0, 8 * moved[:, index])
        uses += uses_of(stands.mixture, rows, case.bands(slot), case.trade.belief.enough)
    best = int(np.argmax(uses > uses.max() - 1e-9))
    return dict(zip(Side, counts[best], strict=True)), float(uses[best] - uses[0])


def _post_advice(case: Case, slot: Slot, side: Side, eighths: int) -> Advice:
    known, told = thread_known(case), case.spec.bridge.height_thread != UNKNOWN
    verb = "Raise" if eighths > 0 else "Lower"
    turn = Turn(Part.SADDLE_HEIGHT, eighths=eighths, side=side)
    clock = rotation_of(case.spec, turn).value
    lines = [
        "Slacken the strings first: a post under load wears." if eighths > 0 or _floats(case) else "",
        f"{verb} the {side.value}-side post {now_words(case.say, eighths, known)}: {clock}, seen from above.",
        "Tune every string, twice, and see that the bridge sits level." if _floats(case) else "",
    ]
    forecast = expected(case, slot, turn, screw_basis(known, told))
    do = tuple(line for line in lines if line)
    return Advice(means_of(case, slot), do, turn, forecast, "Retune.", outcomes=(NO_ROOM,))


def _floats(case: Case) -> bool:
    return case.spec.bridge.type is BridgeType.FLOATING


def _off_the_bar(case: Case, slot: Slot) -> str:
    """An inner string that the bar leaves outside its usual band where no post is worth turning any more."""
    view = view_of(case, slot)
    if not view.is_off or not view.fresh:
        return ""
    assert slot.string is not None
    far = case.bands(slot).target.middle - view.mean
    move = f"{case.say.length(abs(far))} {'up' if far > 0 else 'down'}"
    name = string_label(case.spec, slot.string)
    return f"{name}: the bridge does not follow the board here; this string should move {move} at the 12th."


# A saddle without screws


def _one_piece(case: Case) -> dict[str, Answer]:
    slots = _slots(case)
    answers = {slot.key: Answer(Advice(means_of(case, slot))) for slot in slots}
    views = [view_of(case, slot) for slot in slots]
    off = any(v.fresh and v.is_off for v in views)
    if off and all(v.reading is not None for v in views):
        first = slots[0]
        answers[first.key] = Answer(Advice(means_of(case, first), repairer=filed_words(case)))
    return answers


def filed_ends(case: Case) -> tuple[float, float]:
    """What the saddle should lose (plus) or gain (minus) under its bass and its treble end, mm: the
    straight line that brings every string nearest to the middle of its target."""
    slots = _slots(case)
    over = (
        np.array([case.standing(s).mean - case.bands(s).target.middle for s in slots]) * case.frame.per_action
    )
    across = np.array([case.spec.across(n) for n in string_numbers(case.spec)])
    slope, at_bass = np.polyfit(across, over, 1)
    return float(at_bass), float(at_bass + slope)


def filed_words(case: Case) -> str:
    """One line for the repairer: the saddle at both ends, and single strings only where a line cannot do
    it."""
    say, slots = case.say, _slots(case)
    bass, treble = filed_ends(case)
    ends = ", ".join(
        f"{say.length(abs(far))} {'off' if far > 0 else 'more'} at the {side} end"
        for far, side in ((bass, "bass"), (treble, "treble"))
        if abs(far) >= FILED_MM
    )
    left = []
    for slot in slots:
        assert slot.string is not None
        share = case.spec.across(slot.string)
        per = case.frame.per_action[case.spec.index_of(slot.string)]
        then = case.standing(slot).mean - (bass + share * (treble - bass)) / per
        usual = case.bands(slot).usual
        if not usual.contains(then):
            far = say.length(abs(then - case.bands(slot).target.middle) * per)
            left.append(
                f"{string_label(case.spec, slot.string)} {far} {'lower' if then > usual.high else 'higher'}"
            )
    text = f"Saddle: {ends}" if ends else "Saddle: straight as it is"
    return f"{text}{'; then by itself: ' + ', '.join(left) if left else ''}. Take off little at a time."


# What buzzes


def raises(case: Case, number: int) -> int:
    """How often this string was raised since it was first heard to buzz in this setup."""
    boards = [b for b in case.journal.observations("height.buzz") if _many(b, number)]
    if not boards:
        return 0
    return sum(
        1
        for t in case.journal.turns
        if t.id > boards[0].id
        and t.turn.part is Part.SADDLE_HEIGHT
        and t.turn.eighths > 0
        and (t.turn.string in (None, number))
    )


def _many(board: Entry, number: int) -> bool:
    found = buzz.buzz_of(board, number)
    return found is not None and found.pattern is buzz.Pattern.MANY


def buzzed_before(case: Case, number: int) -> bool:
    """Whether this string was heard to buzz all along in this setup: then lower is no way to go."""
    return any(_many(b, number) for b in case.journal.observations("height.buzz"))


def raise_answer(case: Case, view: View, found: buzz.StringBuzz) -> Answer | None:
    """Up a little, twice at most and never past the usual band; None where raising is no answer any more."""
    slot, enough = view.slot, case.trade.belief.enough
    assert slot.string is not None
    step = case.trade.practice.turn.raise_for_buzz_mm
    if raises(case, slot.string) >= enough.raises or view.mean + step > case.bands(slot).usual.high:
        return None
    if screws_dead(case):
        return None
    frets = ", ".join(str(fret) for fret in found.frets)
    means = f"It buzzes at frets {frets}: try it a little higher, then listen again."
    numbers = string_numbers(case.spec)
    per_eighth = _pitch_mm(case) / 8
    if case.spec.bridge.type is BridgeType.INDIVIDUAL and not no_room(case, slot, 1):
        gain = case.frame.height_gains(slot.string, None)[case.spec.index_of(slot.string)]
        eighths = max(1, round(step / (gain * per_eighth)))
        return Answer(saddle_advice(case, slot, eighths, means), 1.0, heard=True)
    if case.spec.bridge.type in (BridgeType.TWO_POST, BridgeType.FLOATING):
        return _raised_post(case, slot, step / per_eighth, means, numbers)
    return None


def _raised_post(
    case: Case, slot: Slot, eighths_at_saddle: float, means: str, numbers: tuple[int, ...]
) -> Answer | None:
    assert slot.string is not None
    side = {numbers[0]: Side.BASS, numbers[-1]: Side.TREBLE}.get(slot.string)
    for other in _slots(case):
        state = case.standing(other)
        if side is None and state.mean + 0.15 > case.bands(other).usual.high:
            return None  # the whole bridge would take another string too high
    gain = case.frame.height_gains(None, side)[case.spec.index_of(slot.string)]
    eighths = max(1, round(eighths_at_saddle / gain))
    if side is not None:
        advice = _post_advice(case, slot, side, eighths)
        return Answer(
            Advice(means, advice.do, advice.turn, advice.forecast, advice.then, outcomes=(NO_ROOM,)),
            1.0,
            heard=True,
        )
    turn = Turn(Part.SADDLE_HEIGHT, eighths=eighths)
    do = (
        "Slacken the strings first: a post under load wears.",
        f"Raise both posts {case.say.turns(eighths)}, alike: "
        f"{rotation_of(case.spec, turn).value}, seen from above.",
    )
    return Answer(
        Advice(means, do, turn, expected(case, slot, turn, "the posts’ thread"), "Retune."), 1.0, heard=True
    )
