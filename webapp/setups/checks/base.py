"""What a check is, and what all checks that read places share: verdicts, and what a place waits for."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from webapp.setups.belief.fold import Belief
from webapp.setups.case import Case
from webapp.setups.checks.deciding import Answer, View, view_of
from webapp.setups.journal import Entry
from webapp.setups.lesson import BandRow
from webapp.setups.slots import Slot, slot_label, slots_of
from webapp.setups.states import (
    Act,
    Advice,
    CheckState,
    RepairItem,
    SlotState,
    Step,
    Verdict,
    Word,
    said,
    word_of,
    worst,
)
from webapp.trade.content import Trade
from webapp.trade.ranges import Band, Bands, TargetUsual
from webapp.trade.spec import InstrumentSpec, Kind
from webapp.trade.words import Check, label

# A verdict is near an edge while the chance of it is below this.
SURE = 0.8
NEARLY = "Nearly right: a little more makes it surer."
# How often a place is read again before it is said that the tool cannot tell.
READS_TO_TELL = 2

Way = Mapping[str, int]
# What holds a string down, where nobody said what there is.
HELD_BY = "a capo, or a helper’s finger"


class BenchCheck(ABC):
    """One of the ordered checks: everything that the bench knows of it, in one place."""

    check: Check
    # Where it is on the picture of an instrument; empty where it is nowhere.
    drawn_at = ""
    # The places of its questions' answers with their titles in the journal, the main one first.
    questions: Mapping[str, str] = {}
    # What a link to answer the main one again says.
    ask_again = ""
    # Whether the report draws what its notes say.
    notes_drawn = False

    @abstractmethod
    def assess(self, case: Case) -> CheckState:
        """How this check stands, and the one step that it waits for."""

    def repairs(self, case: Case, state: CheckState) -> Iterable[RepairItem]:
        """What of it is to be taken to a repairer."""
        texts = (s.advice.repairer for s in state.slots if s.advice is not None)
        return (RepairItem(self.check, text) for text in dict.fromkeys(texts) if text)

    def place(self, spec: InstrumentSpec) -> str:
        """Where it is on the picture of this instrument."""
        return self.drawn_at

    def is_here(self, spec: InstrumentSpec) -> bool:
        """Whether an instrument has anything for it."""
        return True

    @property
    def asked(self) -> str:
        """Where the answers to its main question are kept; empty where it asks none."""
        return next(iter(self.questions), "")

    def answered(self, case: Case, entry: Entry) -> str:
        """What was answered to one of its questions, in words."""
        return ""

    def points_to(self, case: Case) -> tuple[Check, ...]:
        """The checks that its answers lead back to."""
        return ()

    def way_taken(self, case: Case, entry: Entry) -> str:
        """The frets of a reading, where the reading itself tells them."""
        return ""

    def band_rows(self, trade: Trade, kind: Kind) -> Iterable[BandRow]:
        """The bands that a teacher may set for a kind."""
        return ()

    def handed_in(self, word: Word) -> str:
        """A verdict as a teacher reads it."""
        return said(self.check, word)

    @abstractmethod
    def undone(self, count: int, amiss: bool) -> str:
        """What `count` of a class have not done, or found `amiss`: follows '3 of 8'."""


class Looking:
    """The answer for one place, looked for when it is first asked for: of most places nobody does."""

    __slots__ = ("_answer", "_case", "_check", "_view", "wants")

    def __init__(self, check: ReadCheck, case: Case, view: View) -> None:
        self._check, self._case, self._view = check, case, view
        self._answer: Answer | None = None
        self.wants: Act | None = None

    def answer(self) -> Answer:
        if self._answer is None:
            view, enough = self._view, self._case.trade.belief.enough
            unread = view.reading is None and view.usual < enough.settled
            self._answer = Answer(Advice("")) if unread else self._check.advised(self._case, view)
        return self._answer

    def advice(self) -> Advice | None:
        """What to do at a place that was read."""
        view = self._view
        if view.reading is None:
            return None
        answer = self.answer()
        nearly = self.wants is Act.DECIDE and not answer.heard
        if nearly and word_of(view.mean, view.bands) is Word.GOOD:
            return replace(answer.advice, means=NEARLY)
        return answer.advice


class ReadCheck(BenchCheck):
    """A check whose places are read. `widest` is what a form takes at all, mm or cents."""

    widest: Band
    plausible: str
    # What a reading's form asks beside the value: names of its extra fields.
    asks: tuple[str, ...] = ()
    # A correction is no other kind of reading; relief and heights may lie below nought or not.
    is_signed = False

    @property
    def is_cents(self) -> bool:
        return self.check.is_cents

    @property
    def readings(self) -> str:
        """All its readings within a sentence."""
        return f"the {label(self.check)}"

    @abstractmethod
    def heading(self, case: Case, slot: Slot) -> str:
        """The page's heading: what is read."""

    @abstractmethod
    def lines(self, case: Case, slot: Slot, method: str, way: Way) -> tuple[str, str]:
        """What to do with the hands, in two lines."""

    def lines_together(self, case: Case, slots: Sequence[Slot], method: str, way: Way) -> tuple[str, str]:
        """The same where several places are read in one go."""
        return self.lines(case, slots[0], method, way)

    def widest_of(self, slot: Slot) -> Band:
        """What a form takes at all at this place, mm or cents."""
        return self.widest

    def refused(self, slot: Slot, value: float) -> str:
        """Why a value within the widest band is no reading of this place all the same; empty where it is
        one."""
        return ""

    def likely_of(self, case: Case, slot: Slot) -> Band:
        """Outside this, a form asks whether another unit was meant."""
        band: Band = getattr(case.trade.ranges.plausible, self.plausible)
        return band

    def way(self, case: Case, slot: Slot, last: Entry | None) -> Way:
        """How this place is read: as last time, else the usual way."""
        return {}

    def only_way(self, case: Case) -> str:
        """How every place is read where there is only one way; else empty."""
        return ""

    def standard(self, belief: Belief, slot: Slot, reading: Entry) -> Entry:
        """The same reading, a range as a range, as it would have read taken the standard way."""
        return reading

    def undone(self, count: int, amiss: bool) -> str:
        have = "has" if count == 1 else "have"
        return f"{have} readings of {label(self.check)} missing or in doubt"

    def band_row(self, key: str, words: str, bands: Bands) -> BandRow:
        """A row of its bands for a lesson."""
        stated = TargetUsual(target=bands.target, usual=bands.usual)
        return BandRow(key, self.check, words, stated, bands.plausible)

    def wants_reading(self, case: Case, slot: Slot) -> bool:
        """Whether a place is read in this setup, however sure the belief."""
        return False

    @abstractmethod
    def advised(self, case: Case, view: View) -> Answer:
        """What to turn at a place that stands so, and what that gains."""

    def heard(self, case: Case, view: View) -> bool:
        """Whether the ear, and not the gauge alone, has something to say of a place."""
        return False

    def state(self, case: Case, slot: Slot) -> SlotState:
        """One place, judged; its answer is looked for where somebody asks for it."""
        view = view_of(case, slot)
        looking = Looking(self, case, view)
        looking.wants = self.wants(case, view, looking.answer)
        return SlotState(
            slot,
            slot_label(case.spec, slot),
            case.bands(slot),
            self.verdict(case, view, looking.wants),
            standing=view.standing,
            reading=view.reading,
            accepted=view.accepted,
            moved_by=view.moved_by,
            wants=looking.wants,
            advised=looking.advice,
        )

    def wants(self, case: Case, view: View, answer: Callable[[], Answer]) -> Act | None:
        """What a place waits for: a reading, a turn, or nothing."""
        enough = case.trade.belief.enough
        if view.doubted:
            return Act.MEASURE
        if view.accepted:
            return None
        settled = view.usual >= enough.settled
        if view.reading is None and self.wants_reading(case, view.slot):
            return Act.MEASURE
        may_read = view.reads < enough.most_reads
        if not view.fresh:
            quiet = not may_read or (settled and answer().gain <= enough.turn_settled)
            return None if quiet else Act.MEASURE
        heard = self.heard(case, view) and answer().heard
        if view.passed and not view.is_off and not heard:
            return None
        worth = enough.turn_settled if settled and not self.is_cents else enough.turn
        if (heard or not self.stands_well(case, view)) and answer().turn_worth(worth):
            return Act.DECIDE
        is_sure = not 1 - enough.again < view.usual < enough.again
        if is_sure or not may_read or view.reads_since >= READS_TO_TELL:
            return None
        return Act.MEASURE if view.could_tell else None

    def stands_well(self, case: Case, view: View) -> bool:
        """Whether a place that is said to be good is left so, whatever a turn might still gain."""
        enough = case.trade.belief.enough
        surely = view.target >= enough.in_tune if self.is_cents else view.usual >= enough.again
        return surely and view.bands.target.contains(view.mean)

    def at_ease(self, case: Case, view: View) -> bool:
        """Whether it was read just so: then no turn is looked for, since none would be advised."""
        return view.fresh and not view.doubted and self.stands_well(case, view)

    def verdict(self, case: Case, view: View, wants: Act | None) -> Verdict:
        """The word for a place."""
        if view.doubted:
            return Verdict(Word.MEASURE_AGAIN, why=self.doubt(case, view))
        bands = case.bands(view.slot)
        word = word_of(view.mean, bands)
        if not view.fresh and wants is None and view.is_off and view.reading is not None:
            return Verdict(word)
        if wants is Act.DECIDE and word is Word.GOOD:
            # Good as far as one can tell, and a turn still makes it surer.
            word = Word.TOUCH_HIGH if view.mean > bands.target.middle else Word.TOUCH_LOW
        if not view.fresh:
            known = view.reading is not None or view.usual >= case.trade.belief.enough.settled
            return Verdict(Word.EXPECTED if known else Word.NOT_MEASURED)
        if wants is None and not view.accepted and 1 - SURE < view.usual < SURE:
            return Verdict(Word.CANNOT_TELL)
        sure = view.target if word is Word.GOOD else 1 - view.target
        return Verdict(word, near_edge=sure < SURE)

    def doubt(self, case: Case, view: View) -> str:
        """Why a reading is asked for once more."""
        say = case.say
        about = say.cents(view.mean) if self.is_cents else say.length(view.mean)
        return (
            f"It does not fit what was read and turned before: about {about} was expected. Once more, please."
        )

    def summed(
        self, states: Iterable[SlotState], step: Step | None, notes: tuple[str, ...] = ()
    ) -> CheckState:
        """The check in one word: its most needy place; what is settled or kept counts as good."""
        slots = tuple(states)
        words = [Word.GOOD if s.settled or (s.accepted and s.measured) else s.verdict.word for s in slots]
        return CheckState(self.check, worst(words), slots, step, notes)

    def next_step(self, states: Sequence[SlotState], known: bool = True) -> Step | None:
        """What must be read comes before what must be turned; places of one kind are done in one go.

        While the screws' thread is not known, the place that is turned furthest comes alone: it teaches
        the rest.
        """
        for act, verb in ((Act.MEASURE, "Measure"), (Act.DECIDE, "Adjust")):
            waiting = [s for s in states if s.wants is act]
            if act is Act.DECIDE and not known:
                waiting = sorted(waiting, key=_far, reverse=True)[:1]
            if waiting:
                first = waiting[0]
                again = " again" if act is Act.MEASURE and first.reading is not None else ""
                places = tuple(s.slot.key for s in waiting)
                return Step(act, self.check, places[0], f"{verb}{again}: {first.label}", places)
        return None

    def slots(self, case: Case) -> tuple[Slot, ...]:
        """Every place of this check, in the order of the bench."""
        return slots_of(case.spec, self.check)


def _far(state: SlotState) -> int:
    turn = state.advice.turn if state.advice else None
    return abs(turn.eighths) if turn else 0


def not_here(check: Check) -> CheckState:
    """A check that this instrument has nothing for."""
    return CheckState(check, Word.NOT_HERE, here=False)
