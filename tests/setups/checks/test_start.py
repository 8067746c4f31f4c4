"""The start: ready, or stopped before anything is turned."""

from __future__ import annotations

import pytest

from tests.setups.journals import BASS, Bench
from webapp.setups.states import Act, Word
from webapp.trade.words import Check

STOPPERS = Bench().trade.start.stoppers


def test_nothing_comes_before_it() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.9)
    assert (bench.next.act, bench.next.place) == (Act.ANSWER, "start")
    assert bench.assess().checks[Check.START].word is Word.NOT_MEASURED
    bench.start()
    assert bench.assess().checks[Check.START].word is Word.GOOD
    assert bench.next.check is Check.RELIEF


@pytest.mark.parametrize("stopper", STOPPERS, ids=lambda one: str(one.key))
def test_every_stopper_ends_the_setup_and_goes_to_the_repairer(stopper: object) -> None:
    one = next(s for s in STOPPERS if s == stopper)
    assessment = Bench(BASS).start(one.key).assess()
    assert assessment.next.act is Act.STOP
    assert one.label in assessment.stopped_by and one.says in assessment.stopped_by
    assert [item.check for item in assessment.repairer] == [Check.START]
    assert assessment.checks[Check.START].said == "stopped"


def test_a_stopper_holds_whatever_was_read_and_goes_when_it_is_mended() -> None:
    bench = Bench(BASS).up_to(Check.PLAYTEST).start("crack")
    assert bench.next.act is Act.STOP
    bench.start()
    assert bench.next.check is Check.PLAYTEST
    assert bench.assess().stopped_by == ""


def test_a_quick_check_does_not_make_a_stopped_instrument_sound() -> None:
    stopper = STOPPERS[0]
    bench = Bench().start(stopper.key)
    bench.observe("start", quick=True, age="weeks", stoppers=[])
    bench.reading("relief")
    assert stopper.label in bench.assess().stopped_by
    bench.start()
    assert bench.assess().stopped_by == ""
