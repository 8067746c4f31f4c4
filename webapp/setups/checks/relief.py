"""Relief: the bow of the neck, and the truss rod that sets it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from webapp.setups import buzz_marks as buzz
from webapp.setups.belief.fold import Belief
from webapp.setups.belief.neck import REVERSED, STUCK, NeckBelief
from webapp.setups.belief.standing import uses_of
from webapp.setups.case import Case
from webapp.setups.checks.base import HELD_BY, ReadCheck, Way
from webapp.setups.checks.deciding import TRIAL_GAIN, Answer, View, no_room
from webapp.setups.geometry import changed, relief_factor, relief_way, standard_relief
from webapp.setups.journal import CREAKS, NO_ROOM, WILL_NOT_MOVE, Entry, Part, Turn
from webapp.setups.lesson import BandRow
from webapp.setups.slots import RELIEF, Slot, string_label
from webapp.setups.states import Act, Advice, CheckState, Forecast, SlotState, Step, Word, word_of
from webapp.setups.turn_rotation import rotation_of
from webapp.trade.content import Trade
from webapp.trade.ranges import Band
from webapp.trade.spec import Kind
from webapp.trade.words import Check, RodAccess, RodType

# A night: after it, a second pass with the rod may begin.
NIGHT_HOURS = 10.0

_MEANS = {
    Word.TOO_LOW: "Too straight: the strings have no room to swing over the middle of the neck.",
    Word.TOUCH_LOW: "A little straighter than suits your touch.",
    Word.GOOD: "Good bow for your touch.",
    Word.TOUCH_HIGH: "A little more bow than suits your touch.",
    Word.TOO_HIGH: "Too much bow: the middle of the neck dips away, and the strings stand high over it.",
}
_ACCESS = {
    RodAccess.OPEN: "",
    RodAccess.COVER: "Take the cover off to reach the rod.",
    RodAccess.STRINGS_OFF: "Slacken the strings and move them aside to reach the rod.",
    RodAccess.NECK_OFF: "The neck must come off to reach the rod: slacken the strings first. "
    "If you have not done this before, leave it to a repairer.",
}


class Relief(ReadCheck):
    """One place: read, then turn the rod an eighth or two at a time, or keep."""

    check = Check.RELIEF
    drawn_at = "relief"
    widest = Band(low=-5, high=10)
    plausible = "relief"
    asks = ("hold", "press", "gap")
    is_signed = True

    def heading(self, case: Case, slot: Slot) -> str:
        return "Relief"

    def way(self, case: Case, slot: Slot, last: Entry | None) -> Way:
        found = relief_way(last, case.relief_standard) if last else case.relief_standard
        return {"hold": found.hold, "press": found.press, "gap": found.gap}

    def lines(self, case: Case, slot: Slot, method: str, way: Way) -> tuple[str, str]:
        name = string_label(case.spec, len(case.spec.strings))
        first = (
            f"Hold the {name} down at fret {way['hold']} ({HELD_BY}) "
            f"and press it down at fret {way['press']}."
        )
        over = f"over fret {way['gap']}"
        second = {
            "card": f"Slide a card under it {over}. How many fit without lifting it?",
            "ear": f"Tap the string {over}. How much does it move before it clicks?",
        }.get(method, f"Find the thickest blade that slides under it {over} without lifting it.")
        return first, second

    def way_taken(self, case: Case, entry: Entry) -> str:
        return relief_way(entry, case.relief_standard).text

    def standard(self, belief: Belief, slot: Slot, reading: Entry) -> Entry:
        frame = belief.frame
        taken = relief_way(reading, frame.relief_standard)
        factor = relief_factor(frame.spec, taken, frame.relief_standard)
        return reading if factor == 1.0 else changed(reading, lambda mm: mm * factor)

    def band_rows(self, trade: Trade, kind: Kind) -> Iterable[BandRow]:
        way = standard_relief(kind.spec, trade.ranges.families[kind.family])
        bands = trade.ranges.relief_bands(kind.family, kind.spec.touch)
        yield self.band_row(RELIEF.key, f"Relief, {way.text}", bands)

    def wants_reading(self, case: Case, slot: Slot) -> bool:
        return not case.relief_known

    def wants(self, case: Case, view: View, answer: Callable[[], Answer]) -> Act | None:
        """Where many strings buzz the neck is looked at first."""
        wants = super().wants(case, view, answer)
        heard = view.fresh and not view.accepted and _neck_is_heard(case, view)
        return Act.MEASURE if wants is None and heard else wants

    def stands_well(self, case: Case, view: View) -> bool:
        """Everything else hangs on the bow, so here it must be settled to be left alone."""
        return super().stands_well(case, view) and view.usual >= case.trade.belief.enough.settled

    def assess(self, case: Case) -> CheckState:
        state = self.state(case, RELIEF)
        settled = settles_at(case)
        reading = state.reading
        early = settled is not None and reading is not None and taken_at(case, reading) < settled
        state = replace(state, provisional=early)
        return self.summed([state], self.next_step([state]) or self._rest(case, state))

    def _rest(self, case: Case, state: SlotState) -> Step | None:
        """After a whole turn of the rod the neck rests a night; then a second pass goes on with what was
        learnt."""
        enough = case.trade.belief.enough
        passes = rod_passes(case)
        if state.accepted or state.usual >= enough.again or len(passes) != 1:
            return None
        if not self._is_spent(case, passes[-1]) or not self._within_reach(case):
            return None
        hours = NIGHT_HOURS + 2
        sentence = "Let the neck rest a night, in tune. Then read the relief again and go on."
        return Step(Act.REST, Check.RELIEF, RELIEF.key, sentence, hours=hours)

    @staticmethod
    def _is_spent(case: Case, turned: int) -> bool:
        return abs(turned) >= case.trade.belief.enough.rod_in_all

    def _within_reach(self, case: Case) -> bool:
        """Whether another whole turn could bring the relief into its usual band."""
        neck = case.belief.neck
        most = case.trade.belief.enough.rod_in_all
        usual = case.bands_relief.usual
        way = 1 if case.belief.relief_mm > usual.middle else -1
        there = neck.rod_turned(way * most).arrived()
        return there.mixture.chance(there.relief_row, usual.low, usual.high) > 0.2 or (
            _off(there, usual) < _off(neck, usual) / 2
        )

    # What to turn

    def advised(self, case: Case, view: View) -> Answer:
        word = word_of(view.mean, case.bands_relief)
        means = _MEANS[word]
        if view.mean < 0 and word.is_low:
            means = "Back bow: the middle of the neck stands above its ends."
        rod = case.spec.rod
        if rod.type is RodType.NONE:
            return Answer(Advice(means, repairer=_no_rod(case, view)))
        stop = self._stop(case, view, word)
        if stop:
            about = case.say.about(view.mean, view.give)
            return Answer(Advice(means, repairer=f"Relief: {about}. {stop}" if view.is_off else ""))
        eighths, gain, after = best_turn(case)
        if eighths and no_room(case, RELIEF, eighths):
            eighths = 0
        if not eighths:
            told = _out_of_room(case, view) if view.is_off else ""
            return Answer(Advice(means, repairer=told))
        if view.is_off and gain <= TRIAL_GAIN:
            return Answer(Advice(means, repairer=_out_of_room(case, view)))
        answer = Answer(self._turn(case, eighths, after, means), gain)
        return answer.tried_on(view, case.trade.belief.enough.turn)

    def _stop(self, case: Case, view: View, word: Word) -> str:
        """Why the rod is left alone now; empty where it may be turned."""
        enough, neck = case.trade.belief.enough, case.belief.neck
        answers = rod_answers(case)
        if WILL_NOT_MOVE in answers:
            return "The rod will not move. Force nothing: see a repairer."
        if answers.count(CREAKS) > 1:
            return "The rod creaks, also with the strings slack. Stop here and see a repairer."
        if neck.rod_chance(STUCK) >= enough.rod_named:
            fine = view.reading is not None and view.reading.tool == "feeler"
            if fine:
                return "The rod turns, but the neck does not answer. Stop here and see a repairer."
            weak = "The rod is weak or stuck, and this tool cannot tell which."
            return f"{weak} Take a feeler gauge, or see a repairer."
        passes = rod_passes(case)
        if self._is_spent(case, sum(passes[-1:])) and (len(passes) > 1 or word_of_turn(passes[-1], word)):
            had = case.say.turns(passes[-1])
            return f"The rod has had {had} in this pass. No further now."
        return ""

    def _turn(self, case: Case, eighths: int, after: NeckBelief, means: str) -> Advice:
        mean, _ = after.mixture.moments(after.relief_row)
        forecast = Forecast(mean, after.mixture.half_width(after.relief_row), rod_basis(case))
        return Advice(
            means,
            do=self._steps(case, eighths),
            turn=Turn(Part.ROD, eighths=eighths),
            forecast=forecast,
            then="Retune to pitch, then measure again.",
            outcomes=(WILL_NOT_MOVE, CREAKS, NO_ROOM),
        )

    def _steps(self, case: Case, eighths: int) -> tuple[str, ...]:
        rod, say = case.spec.rod, case.say
        tighten = eighths > 0
        clock = rotation_of(case.spec, Turn(Part.ROD, eighths))
        where = f"looking straight at its nut at the {case.spec.rod_nut_end}"
        slack = tighten and (rod.type is RodType.ONE_WAY or CREAKS in rod_answers(case))
        lines = [
            "Slacken the strings a few turns: they pull against the rod." if slack else "",
            _ACCESS[rod.access],
        ]
        if tighten:
            lines.append("Ease the rod off an eighth first, to feel that it moves freely, and come back.")
            lines.append(f"Tighten {say.turns(eighths)}: {clock.value}, {where}.")
        else:
            lines.append(f"Loosen {say.turns(eighths)}: {clock.value}, {where}.")
            if rod.type is RodType.ONE_WAY:
                lines.append(
                    "This rod pulls one way only. If it turns loosely, leave it: the strings bow the neck."
                )
        if case.belief.neck.rod_chance(REVERSED) >= case.trade.belief.enough.rod_named:
            lines.insert(0, "On this neck the rod works the other way round from its description.")
        return tuple(line for line in lines if line)


def _neck_is_heard(case: Case, view: View) -> bool:
    """Whether many strings were heard to buzz all along since the relief was last read: that is the neck more
    often than so many saddles, so its gauge comes out once more."""
    board = buzz.newest_board(case.journal)
    if board is None or view.reading is None or board.id < view.reading.id:
        return False
    many = [one for one in buzz.string_buzzes(board) if one.pattern is buzz.Pattern.MANY]
    return 2 * len(many) > case.spec.string_count and view.reads < case.trade.belief.enough.most_reads


def best_turn(case: Case) -> tuple[int, float, NeckBelief]:
    """The turn of the rod with the best use once it has settled: signed eighths, what it gains, and the
    belief right after it. Nothing (0) where no turn gains."""
    enough, neck, bands = case.trade.belief.enough, case.belief.neck, case.bands_relief

    def use(then: NeckBelief) -> float:
        there = then.arrived()
        return float(uses_of(there.mixture, there.relief_row[None, :], bands, enough)[0])

    now = use(neck)
    passes = rod_passes(case)
    done = passes[-1] if passes else 0
    best = (0, 0.0, neck)
    for eighths in range(-enough.rod_at_once, enough.rod_at_once + 1):
        if not eighths or abs(done + eighths) > enough.rod_in_all:
            continue
        then = neck.rod_turned(eighths)
        gain = use(then) - now
        if gain > best[1]:
            best = (eighths, gain, then)
    return best


def _off(neck: NeckBelief, usual: Band) -> float:
    """How far the relief is expected to lie outside its usual band, mm."""
    there = neck.arrived()
    mean, _ = there.mixture.moments(there.relief_row)
    return max(usual.low - mean, mean - usual.high, 0.0)


def rod_passes(case: Case) -> tuple[int, ...]:
    """Net signed eighths of the rod in each pass of this setup: a night's rest begins a new one.

    A turn of the future was made under a wrong clock: nobody waits until the clock is as wrong again.
    """
    found: list[int] = []
    last: datetime | None = None
    for entry in case.journal.turns:
        if entry.turn.part is not Part.ROD:
            continue
        if last is None or abs(entry.at - last) >= timedelta(hours=NIGHT_HOURS):
            found.append(0)
        found[-1] += entry.turn.eighths
        last = entry.at
    if last is not None and abs(case.now - last) >= timedelta(hours=NIGHT_HOURS):
        found.append(0)
    return tuple(found)


def word_of_turn(turned: int, word: Word) -> bool:
    """Whether the pass went the way that the relief still asks for."""
    return (turned > 0) == word.is_high


def rod_answers(case: Case) -> list[str]:
    """What the rod did instead of turning, in this setup and lately."""
    lately = timedelta(days=case.trade.belief.enough.rod_days)
    told = (o for o in case.journal.observations(RELIEF.key) if abs(case.now - o.at) <= lately)
    return [str(o.detail.get("answer")) for o in told]


def rod_basis(case: Case) -> str:
    """What a forecast of the rod rests on, in words."""
    neck = case.belief.neck
    mean, sd = neck.mixture.moments(neck.row(1))
    if not neck.rod_split or sd > 0.6 * abs(mean):
        return "an ordinary neck; yours may move more or less"
    return f"what this neck has shown: about {case.say.length(mean)} for an eighth"


def _no_rod(case: Case, view: View) -> str:
    if not view.is_off or view.reading is None:
        return ""
    return (
        f"Relief: {case.say.about(view.mean, view.give)}, and this neck has no rod. "
        "Nothing can be turned; ask a repairer whether it matters."
    )


def _out_of_room(case: Case, view: View) -> str:
    return f"Relief: {case.say.about(view.mean, view.give)}, and no turn of the rod is left that would help."


def taken_at(case: Case, reading: Entry) -> datetime:
    """When the gauge was there: a correction typed later does not move the reading in time."""
    return case.journal.stands_for(reading).at


def settles_at(case: Case) -> datetime | None:
    """When the rod will have settled after its last turn; None where it was not turned."""
    turned = case.journal.last_turn(Part.ROD)
    return turned.at + timedelta(hours=case.trade.belief.rod.settle_hours) if turned else None


def read_again_at(case: Case) -> datetime | None:
    """When relief should be read once more: the rod was turned, and not read since it settled."""
    settled = settles_at(case)
    reading = case.journal.newest_reading(RELIEF.key)
    if settled is None or (reading is not None and taken_at(case, reading) >= settled):
        return None
    return settled
