"""The report of a setup: before and after of every reading, what was turned, and how it ends. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from webapp.setups import buzz_marks as buzz
from webapp.setups.case import Case
from webapp.setups.checks import CHECKS, start
from webapp.setups.journal import Entry, EntryKind, Part
from webapp.setups.past.history import Taken, readings_taken, stands
from webapp.setups.past.narrate import what_was_turned
from webapp.setups.states import Assessment, CheckState, RepairItem, SlotState, Verdict, Word, said
from webapp.trade.pages import Caution
from webapp.trade.ranges import Bands
from webapp.trade.words import Check, label

RIGHT = (Word.GOOD, Word.EXPECTED)
FINE = (*RIGHT, Word.TOUCH_LOW, Word.TOUCH_HIGH)


class Who(StrEnum):
    """Who sees to what is not right."""

    PLAYER = "you, in this setup"
    REPAIRER = "a repairer"
    KEPT = "nobody: you like it so"
    TOOL = "a finer tool could tell"
    NOBODY = "nobody: nothing more can be turned here"


@dataclass(frozen=True)
class Left:
    """One thing that is not right: a place or a note, or the whole check where `what` is empty."""

    check: Check
    what: str
    who: Who
    slot: str = ""
    said: str = ""
    word: Word | None = None


@dataclass(frozen=True)
class Ending:
    """What is to be said before the journal is closed.

    `done` tells whether no step is left; `relief_at` when the turned rod is to be read again.
    """

    right: tuple[CheckState, ...]
    left: tuple[Left, ...]
    repairer: tuple[RepairItem, ...]
    relief_at: datetime | None
    done: bool = True

    @property
    def player_left(self) -> bool:
        """Whether something waits for the player's own hands."""
        return any(one.who is Who.PLAYER for one in self.left)

    @property
    def is_right(self) -> bool:
        """Whether nothing at all is amiss, but for what the player likes so."""
        return not self.repairer and all(one.who is Who.KEPT for one in self.left)

    @property
    def plays(self) -> bool:
        """Whether it was played, and nothing was heard or felt in it, a buzz say, that is still there."""
        return any(state.check.is_play for state in self.right) and all(one.slot for one in self.left)

    @property
    def open(self) -> tuple[Left, ...]:
        """What is not right and no repairer's: the player's own, or what stays as it is."""
        return tuple(one for one in self.left if one.who not in (Who.REPAIRER, Who.KEPT))

    @property
    def sentence(self) -> str:
        """The whole in a line."""
        if not self.done:
            return "Not everything is done."
        if self.player_left:
            return "Not everything is right yet."
        if self.is_right and self.relief_at is not None:
            return "Everything is right as it stands; the neck has still to settle."
        opening = "Plays well." if self.plays else ""
        if self.is_right:
            rest = "It is as you want it." if self.left else "Everything is right."
        elif self.repairer:
            rest = f"{_things(len(self.repairer))} left for a repairer."
        else:
            rest = f"{_things(len(self.open))} as near as your hands can bring it."
        return f"{opening} {rest}".strip()


def _things(count: int) -> str:
    return "One thing is" if count == 1 else f"{count} things are"


def ending(assessment: Assessment) -> Ending:
    """Every check of this instrument, and lesson, put to one side or the other."""
    right: list[CheckState] = []
    left: list[Left] = []
    for state in assessment.checks.values():
        if not state.here:
            continue
        amiss = tuple(_left(assessment, state))
        left += amiss
        if not amiss and not state.check.is_preparation:
            right.append(state)
    done = all(state.done for state in assessment.checks.values() if state.here)
    return Ending(tuple(right), tuple(left), assessment.repairer, assessment.read_relief_at, done)


def _left(assessment: Assessment, state: CheckState) -> Iterable[Left]:
    """What of one check is not right."""
    if not state.done and not state.notes and all(slot.reading is None for slot in state.slots):
        yield Left(state.check, "", Who.PLAYER, said=state.said, word=state.word)
        return
    by_repairer = any(item.check is state.check for item in assessment.repairer)
    found = [one for slot in state.slots if (one := _place(slot, by_repairer)) is not None]
    found += [Left(state.check, note, Who.REPAIRER if by_repairer else Who.PLAYER) for note in state.notes]
    if not found and state.step is not None:
        found = [Left(state.check, state.step.sentence, Who.PLAYER)]
    elif not found and by_repairer:
        found = [Left(state.check, "", Who.REPAIRER)]
    yield from found


def _place(state: SlotState, by_repairer: bool) -> Left | None:
    """One place, if it is not right; `by_repairer` where a repairer sees to something of its check."""
    word = state.verdict.word
    repairer = state.advice is not None and bool(state.advice.repairer)
    if not repairer and (word in RIGHT or (word in FINE and not state.open)):
        return None
    check, key = state.slot.check, state.slot.key
    return Left(check, state.label, _who(state, by_repairer), key, state.said, word)


def _who(state: SlotState, by_repairer: bool) -> Who:
    if state.open:
        return Who.PLAYER
    if state.accepted:
        return Who.KEPT
    # What a repairer does at one string (a saddle that is filed, say) is done for all that are off.
    if by_repairer:
        return Who.REPAIRER
    return Who.TOOL if state.verdict.word is Word.CANNOT_TELL else Who.NOBODY


REPORT_ONLY = ("report",)


@dataclass(frozen=True)
class ReportRow:
    """One place: its first and its last valid reading, which are the same entry where it was read once.

    Where a turn moved it after that, or it was never read, what is believed of it stands for the last
    reading.
    """

    state: SlotState
    before: Taken | None
    after: Taken | None
    bands: Bands

    @property
    def label(self) -> str:
        return self.state.label

    @property
    def was_off(self) -> bool:
        """Whether its first reading was outside the target."""
        return self.before is not None and self.before.verdict.word.is_off

    @property
    def read_once(self) -> bool:
        return self.before is not None and self.before == self.after and not self.expected

    @property
    def expected(self) -> bool:
        """Whether how it stands now is believed and not read."""
        return not self.state.measured and self.verdict.word is not Word.NOT_MEASURED

    @property
    def verdict(self) -> Verdict:
        """How it stands."""
        return stands(self.state)

    @property
    def said(self) -> str:
        """The same in the words of its check."""
        return said(self.state.slot.check, self.verdict.word)

    @property
    def kept(self) -> bool:
        """The player likes it so."""
        return self.state.accepted and self.state.measured


@dataclass(frozen=True)
class CheckReport:
    """One check: its rows, and how they were read where all of them were read alike."""

    check: Check
    title: str
    word: Word
    here: bool
    done: bool
    rows: tuple[ReportRow, ...]
    how: str
    notes: tuple[str, ...]

    @property
    def is_length(self) -> bool:
        """Whether its readings are lengths; the others are cents."""
        return not self.check.is_cents

    @property
    def untouched(self) -> bool:
        """Nothing was read here at all, and nothing is known of it."""
        return not any(row.after or row.expected for row in self.rows)


@dataclass(frozen=True)
class BuzzMarks:
    """Where it buzzed when every fret was last plucked, and whether something was turned since."""

    at: datetime
    strings: tuple[buzz.StringBuzz, ...]
    turned_since: bool


@dataclass(frozen=True)
class Report:
    """Everything the printed page says."""

    started_at: datetime
    finished_at: datetime | None
    stopped_by: str
    next_sentence: str
    ending: Ending
    ready: tuple[str, ...]
    checks: tuple[CheckReport, ...]
    turned: tuple[str, ...]
    turns: int
    guidance: tuple[Caution, ...]
    cautions: tuple[Caution, ...]
    buzz: BuzzMarks | None
    notes: tuple[Entry, ...]
    next_at: datetime | None

    @property
    def finished(self) -> bool:
        return self.finished_at is not None

    @property
    def rows(self) -> tuple[ReportRow, ...]:
        """Every place that was read."""
        return tuple(row for check in self.checks for row in check.rows if row.before is not None)

    @property
    def tools(self) -> tuple[str, ...]:
        """What it was read with, each once."""
        taken = (one for row in self.rows for one in (row.before, row.after) if one is not None)
        return tuple(dict.fromkeys(one.tool for one in taken if one.tool))


def build_report(
    case: Case, assessment: Assessment, started_at: datetime, finished_at: datetime | None
) -> Report:
    """Sum a setup up; times are UTC with zone, `finished_at` is None while it goes on."""
    told = case.trade.cautions_for(case.spec, "report")
    return Report(
        started_at=started_at,
        finished_at=finished_at,
        stopped_by=assessment.stopped_by,
        next_sentence=assessment.next.sentence,
        ending=ending(assessment),
        ready=_ready(case),
        checks=tuple(_check(case, state) for state in assessment.checks.values() if _is_read(state)),
        turned=what_was_turned(case),
        turns=len(case.journal.turns),
        guidance=tuple(c for c in told if c.beside == REPORT_ONLY),
        cautions=tuple(c for c in told if c.beside != REPORT_ONLY),
        buzz=_buzz(case),
        notes=tuple(e for e in case.journal.live if e.kind is EntryKind.NOTE),
        next_at=finished_at + timedelta(days=case.trade.due.review_days) if finished_at else None,
    )


def _is_read(state: CheckState) -> bool:
    """Whether this check has readings at all, or would have on another instrument."""
    return bool(state.slots) or not state.here


def _check(case: Case, state: CheckState) -> CheckReport:
    rows = tuple(_row(case, slot) for slot in state.slots)
    readings = [taken for row in rows for taken in (row.before, row.after) if taken is not None]
    # The rows of intonation name their frets themselves.
    ways = {taken.tool if state.check.is_cents else taken.how for taken in readings}
    title = label(state.check)
    return CheckReport(
        check=state.check,
        title=title[0].upper() + title[1:],
        word=state.word,
        here=state.here,
        done=state.done,
        rows=rows,
        how=ways.pop() if len(ways) == 1 else "",
        notes=() if CHECKS[state.check].notes_drawn else state.notes,
    )


def _row(case: Case, state: SlotState) -> ReportRow:
    taken = readings_taken(case, state.slot)
    if not taken:
        return ReportRow(state, None, None, state.bands)
    return ReportRow(state, taken[0], taken[-1], state.bands)


def _buzz(case: Case) -> BuzzMarks | None:
    board = buzz.newest_board(case.journal)
    if board is None:
        return None
    return BuzzMarks(board.at, buzz.string_buzzes(board), buzz.board_outdated(case.journal, board))


def _ready(case: Case) -> tuple[str, ...]:
    """What was said at the start that later readings lean on: the strings' age above all."""
    answer = start.newest(case)
    key = answer.detail.get("age") if answer else None
    age = next((a.label for a in case.trade.start.ages if a.key == key), "")
    changed = any(t.turn.part is Part.STRINGS for t in case.journal.turns)
    lines = [f"At the start: {age[0].lower()}{age[1:]}."] if age else []
    return (*lines, "Changed in this setup.") if changed else tuple(lines)
