"""What the player says of the buzz: where it is heard, its pattern, and answers that narrow its cause."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from webapp.setups.case import Case
from webapp.setups.journal import Entry, Journal, Part


class Pattern(StrEnum):
    """The shape of the buzz on one string."""

    OPEN_ONLY = "open only"
    ONE_FRET = "one fret"
    MANY = "many frets"


@dataclass(frozen=True)
class StringBuzz:
    """Where one string buzzes: sorted frets, 0 = open."""

    number: int
    frets: tuple[int, ...]

    @property
    def pattern(self) -> Pattern:
        fretted = [fret for fret in self.frets if fret > 0]
        if not fretted:
            return Pattern.OPEN_ONLY
        return Pattern.ONE_FRET if len(fretted) == 1 else Pattern.MANY

    @property
    def open(self) -> bool:
        return 0 in self.frets


# Where the board's answers are kept.
BOARD = "height.buzz"


def newest_board(journal: Journal) -> Entry | None:
    """The last time every fret was plucked."""
    boards = journal.observations(BOARD)
    return boards[-1] if boards else None


def board_outdated(journal: Journal, board: Entry) -> bool:
    """Whether something that changes the clearance was adjusted since."""
    parts = (Part.ROD, Part.SADDLE_HEIGHT, Part.NUT, Part.STRINGS)
    return any(turn.id > board.id and turn.turn.part in parts for turn in journal.turns)


def string_buzzes(board: Entry | None) -> tuple[StringBuzz, ...]:
    """The buzz of each string that buzzes at all, thickest string first."""
    if board is None:
        return ()
    taps: Iterable[tuple[int, int]] = [(int(s), int(f)) for s, f in board.detail.get("taps", [])]
    by_string: dict[int, set[int]] = {}
    for number, fret in taps:
        by_string.setdefault(number, set()).add(fret)
    return tuple(StringBuzz(n, tuple(sorted(by_string[n]))) for n in sorted(by_string, reverse=True))


def buzz_of(board: Entry | None, number: int) -> StringBuzz | None:
    """The buzz of one string, if any."""
    return next((buzz for buzz in string_buzzes(board) if buzz.number == number), None)


CAUSE = "height.cause"
ASKED = ("yes", "no", "unsure")


def answers_since(case: Case, board: Entry | None) -> dict[str, str]:
    """What was answered since the newest board, by the question's key."""
    told = (o for o in case.journal.observations(CAUSE) if board is not None and o.id > board.id)
    return {str(o.detail.get("asked")): str(o.detail.get("answer")) for o in told}


def next_question(case: Case) -> str:
    """The key of the question that is still to be answered; empty where all are."""
    told = answers_since(case, newest_board(case.journal))
    return next((q.key for q in case.trade.buzz.question if q.key not in told), "")
