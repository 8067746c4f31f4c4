"""What is asked before a cause of buzz is named: one question each, answered by hand and ear."""

from __future__ import annotations

from webapp.setups import buzz_marks as buzz
from webapp.setups.case import Case
from webapp.setups.journal import Entry

CAUSE = "height.cause"
ASKED = ("yes", "no", "unsure")


def answers_since(case: Case, board: Entry | None) -> dict[str, str]:
    """What was answered since the newest board, by the question's key."""
    told = (o for o in case.journal.observations(CAUSE) if board is not None and o.id > board.id)
    return {str(o.detail.get("asked")): str(o.detail.get("answer")) for o in told}


def next_question(case: Case) -> str:
    """The key of the question that is still to be answered; empty where all are."""
    told = answers_since(case, buzz.newest_board(case.journal))
    return next((q.key for q in case.trade.buzz.question if q.key not in told), "")
