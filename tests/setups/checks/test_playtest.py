"""The play test: signed off, or back to where a symptom points; ticked faults are not good."""

from __future__ import annotations

from tests.setups.journals import BASS, Bench
from webapp.setups.journal import Part
from webapp.setups.states import Act, Word
from webapp.trade.words import Check


def played(*symptoms: str, signed: bool = True) -> Bench:
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    bench.observe("playtest", symptoms=list(symptoms), signed=signed)
    return bench


def test_it_is_done_when_it_is_signed_off() -> None:
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    assert (bench.next.act, bench.next.place) == (Act.ANSWER, "playtest")
    assert bench.assess().checks[Check.PLAYTEST].word is Word.NOT_MEASURED
    assert played(signed=False).next.act is Act.ANSWER
    assert played().next.act is Act.FINISH
    assert played().assess().checks[Check.PLAYTEST].word is Word.GOOD


def test_signed_with_faults_ticked_is_not_good() -> None:
    for signed in (True, False):
        bench = played("all_frets", signed=signed)
        state = bench.assess().checks[Check.PLAYTEST]
        assert state.word is Word.TOUCH_LOW and state.said == "not all is right"
        assert any("raise it a little" in note for note in state.notes)
        assert (bench.next.act is Act.FINISH) is signed


def test_a_symptom_without_a_check_goes_to_the_repairer() -> None:
    bench = played("crackle", "uneven")
    assert [(i.check, "wiring" in i.text) for i in bench.assess().repairer] == [(Check.PLAYTEST, True)]


def test_any_turn_asks_for_it_again() -> None:
    bench = played("crackle")
    bench.turn(Part.SADDLE_POSITION, 1, string=2)
    bench.read(Check.INTONATION)
    state = bench.assess().checks[Check.PLAYTEST]
    assert (state.word, state.notes) == (Word.NOT_MEASURED, ())
    assert bench.next.act is Act.ANSWER


def test_every_symptom_points_to_a_check_of_ours_or_to_a_repairer() -> None:
    pointed = {s.key: s.check for q in Bench().trade.playtest for s in q.symptoms}
    assert pointed["rattle_one"] is Check.NUT and pointed["low_frets"] is Check.RELIEF
    # Buzz up there alone is bow, or the board's upper end: a string that is low buzzes everywhere.
    assert pointed["high_frets"] is Check.RELIEF and pointed["all_frets"] is Check.HEIGHT
    assert pointed["out_of_tune"] is Check.INTONATION
    assert pointed["one_fret"] is None and pointed["crackle"] is None
