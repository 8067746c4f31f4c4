"""The heart: instrument, targets and entries so far in; every verdict and the one next thing to do out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime

from webapp.physics.numbers import Unit
from webapp.setups.case import Case
from webapp.setups.checks import CHECKS
from webapp.setups.checks.relief import read_again_at
from webapp.setups.checks.start import stoppers
from webapp.setups.journal import Entry, Journal
from webapp.setups.say import Say
from webapp.setups.states import Assessment, CheckState, RepairItem, Word
from webapp.trade.content import Trade
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check


def assess(
    spec: InstrumentSpec,
    trade: Trade,
    entries: Iterable[Entry],
    now: datetime,
    unit: Unit = Unit.mm,
    past: tuple[Journal, ...] = (),
) -> Assessment:
    """Judge a setup as it stands at `now` (UTC, with zone); sentences use the player's `unit`.

    `past` are the journals of the instrument's earlier setups, oldest first.

    Pure: the same journal gives the same answer, whatever order independent readings came in.
    """
    return assess_case(Case(spec, trade, Journal.of(entries), now, Say(unit), past))


def assess_case(case: Case) -> Assessment:
    """The same for a case that is already made."""
    checks = _Judged(case)
    stopped = stoppers(case)
    return Assessment(
        checks=checks,
        repairs=lambda: tuple(_repairs(case, checks)),
        stopped_by=" ".join(item.text for item in stopped),
        read_relief_at=read_again_at(case),
    )


class _Judged(Mapping[Check, CheckState]):
    """Every check in its order, each judged when it is first looked at."""

    def __init__(self, case: Case) -> None:
        self._case = case
        self._states: dict[Check, CheckState] = {}

    def __getitem__(self, check: Check) -> CheckState:
        state = self._states.get(check)
        if state is None:
            state = self._states[check] = _taught(self._case, CHECKS[check].assess(self._case))
        return state

    def __iter__(self) -> Iterator[Check]:
        return iter(CHECKS)

    def __len__(self) -> int:
        return len(CHECKS)


def _taught(case: Case, state: CheckState) -> CheckState:
    """A check that the lesson leaves out waits for nothing; what was read there all the same stays."""
    if case.lesson is None or not state.here or state.check in case.lesson.checks:
        return state
    return replace(state, word=Word.NOT_TAUGHT, step=None, here=False)


def _repairs(case: Case, checks: Mapping[Check, CheckState]) -> Iterable[RepairItem]:
    seen: set[str] = set()
    for check, state in checks.items():
        for item in CHECKS[check].repairs(case, state):
            # Both intonation readings of a string carry the same words.
            if item.text not in seen:
                seen.add(item.text)
                yield item
