"""How long a whole what-if answer takes: all strings at once, against one string after the other.

Run as a script it prints the times: ``python tests/benchmarks/test_what_if_speed.py``. The aim is a whole
answer in less than 15 ms of server time; the clock of a busy machine is no test, so only the sums are.
"""

from __future__ import annotations

import math
import sys
import timeit
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.setups.journals import GUITAR, Bench
from webapp.setups.case import Case
from webapp.setups.strings.string_setting import settings_of
from webapp.setups.tryout.clearance_map import OWN
from webapp.setups.tryout.what_if import Change, WhatIf, clean_swings, what_if
from webapp.trade.spec import OwnSwing

AIM_MS = 15.0
CHANGE = Change(relief_mm=0.12, bass_mm=1.6, treble_mm=1.2, touch=OWN)


def six_strings() -> Case:
    """A six-string guitar with 24 frets, every string read, a touch found by test."""
    own = OwnSwing(string=6, swing_mm=0.6, error_mm=0.05)
    bench = Bench(GUITAR, fret_count=24, joint_fret=17, own_swing=own)
    bench.reading("relief", 0.2)
    for number in bench.numbers:
        bench.reading(f"height.{number}", 1.2 + 0.1 * number)
    return bench.case()


def fresh(case: Case) -> Case:
    """The same case with nothing worked out yet, as every request has it."""
    return Case(case.spec, case.trade, case.journal, case.now, case.say)


def answer(case: Case) -> WhatIf:
    return what_if(fresh(case), CHANGE)


def best_ms(work: Callable[[], object], runs: int) -> float:
    return min(timeit.repeat(work, number=1, repeat=runs)) * 1000


def times(runs: int = 20) -> tuple[float, float, float]:
    """Best ms of (a whole answer, the clean swings of all strings at once, one by one)."""
    case = six_strings()
    found = settings_of(case)
    return (
        best_ms(lambda: answer(case), runs),
        best_ms(lambda: clean_swings(found), runs),
        best_ms(lambda: [setting.clean for setting in found], runs),
    )


def report(runs: int = 20) -> None:
    whole, together, apart = times(runs)
    print(f"What-if, 6 strings, 24 frets, best of {runs}:")
    print(f"  whole answer                  {whole:6.2f} ms (the aim is {AIM_MS:g} ms)")
    print(f"  clean swings, all at once     {together:6.2f} ms")
    print(f"  clean swings, one by one      {apart:6.2f} ms ({apart / together:.1f} times as long)")


def test_an_answer_is_whole_and_its_time_is_told() -> None:
    found = answer(six_strings())
    assert len(found.after.strings) == 6
    assert all(math.isfinite(s.left_mm) for s in (*found.before.strings, *found.after.strings))
    assert [s.action_mm for s in found.after.strings][::5] == [1.6, 1.2]
    report(3)


if __name__ == "__main__":
    report(200)
