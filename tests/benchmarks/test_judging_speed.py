"""How long a journal of sixty entries takes to be judged: with its prefix kept, and from nothing."""

from __future__ import annotations

from dataclasses import replace
from statistics import median
from time import perf_counter

from tests.trial.run import SEAT, Trial, hands_of
from tests.trial.seat import Seat
from webapp.setups.assess import assess_case
from webapp.setups.belief import fold
from webapp.setups.case import Case
from webapp.setups.journal import Journal
from webapp.trade.words import Check

ENTRIES, AIM_MS = 60, 5.0


def test_judging_sixty_entries() -> None:
    """Prints milliseconds and asserts nothing of them; that the two ways agree is asserted."""
    case = _sixty()
    warm = [_timed(case, forget=False) for _ in range(30)]
    cold = [_timed(case, forget=True) for _ in range(10)]
    print(f"\n{len(case.journal.live)} entries judged: the newest entry new {median(warm):.1f} ms ")
    print(f"(aim {AIM_MS:g}), nothing kept {median(cold):.1f} ms")


def _timed(case: Case, forget: bool) -> float:
    if forget:
        fold._FOLDED.clear()
    else:
        # What a page finds after a post: everything but the newest entry was folded before.
        before = Journal.of(case.journal.entries[:-1])
        _ = replace(case, journal=before).belief
    began = perf_counter()
    fresh = replace(case)
    assessment = assess_case(fresh)
    _ = assessment.next
    for check in (Check.RELIEF, Check.HEIGHT, Check.INTONATION):
        _ = assessment.checks[check].word
    took = 1000 * (perf_counter() - began)
    if not forget:
        fold._FOLDED.popitem()
    return took


def _sixty() -> Case:
    """A four-string bass whose player obeyed until there were sixty entries."""
    from tests.trial.player import _ACTS

    for index in range(20):
        hands = hands_of(Trial(seat=SEAT), index)
        seat = Seat(hands.instrument.kind.key, told=dict(hands.instrument.told))
        while len(seat.entries) < ENTRIES and (ask := seat.next())["do"] != "finish":
            _ACTS[ask["do"]](seat, hands, ask)
        if len(seat.entries) >= ENTRIES:
            return seat.case
    raise AssertionError("no setup was as long as that")
