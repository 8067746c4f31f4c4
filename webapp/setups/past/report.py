"""The report of a setup: before and after of every reading, what was turned, what is left to do. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from webapp.setups import buzz_marks as buzz
from webapp.setups.case import Case
from webapp.setups.checks import CHECKS, start
from webapp.setups.journal import Entry, EntryKind, Part
from webapp.setups.past.ending import Ending, ending
from webapp.setups.past.history import Taken, readings_taken, stands
from webapp.setups.past.turn_sums import what_was_turned
from webapp.setups.states import Assessment, CheckState, SlotState
from webapp.setups.verdicts import Verdict, Word, said
from webapp.trade.cautions import Caution
from webapp.trade.ranges import Bands
from webapp.trade.words import Check, label

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
    def by_bands(self) -> tuple[tuple[Bands, tuple[ReportRow, ...]], ...]:
        """The rows, those judged by the same bands together."""
        groups: dict[tuple[float, ...], list[ReportRow]] = {}
        for row in self.rows:
            target, usual = row.bands.target, row.bands.usual
            groups.setdefault((target.low, target.high, usual.low, usual.high), []).append(row)
        return tuple((rows[0].bands, tuple(rows)) for rows in groups.values())

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
    guidance: tuple[Caution, ...]
    cautions: tuple[Caution, ...]
    buzz: BuzzMarks | None
    notes: tuple[Entry, ...]
    next_at: datetime | None

    @property
    def finished(self) -> bool:
        return self.finished_at is not None


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
