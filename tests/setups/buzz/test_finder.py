"""The buzz finder: one planted fault is found again, and what is said about it can be acted on."""

from __future__ import annotations

from typing import Any

import pytest

from tests.setups.journals import BASS, CLASSICAL, GUITAR, Bench
from webapp.setups.buzz.evidence import Source, ranges
from webapp.setups.buzz.finder import Cause, findings, rocker_fret
from webapp.setups.buzz.weigh import Suspect
from webapp.setups.journal import Part
from webapp.trade.buzz import CauseKey


def board(kind: str, *taps: tuple[int, int], age: str = "weeks", touch: str = "medium", **read: Any) -> Bench:
    """A bench with everything read in the middle of its target, but for `read`; then the marks."""
    bench = Bench(kind)
    bench.observe("start", stoppers=[], age=age)
    slots = ["relief", *(f"height.{n}" for n in bench.numbers), *(f"nut.{n}" for n in bench.numbers)]
    for slot in slots:
        bench.reading(slot, read.get(slot.replace(".", "_")))
    bench.observe("height.buzz", taps=[list(tap) for tap in taps], touch=touch)
    return bench


def first(bench: Bench) -> Cause:
    return findings(bench.case()).causes[0]


def test_without_a_board_or_without_marks_there_is_nothing_to_find() -> None:
    assert findings(Bench().case()).causes == ()
    assert findings(board(BASS).case()).causes == ()


def test_every_cause_is_weighed_and_the_shares_add_up() -> None:
    causes = findings(board(BASS, (4, 3), (4, 4)).case()).causes
    assert {cause.key for cause in causes} == set(CauseKey)
    assert sum(cause.score for cause in causes) == pytest.approx(1)
    assert [c.score for c in causes] == sorted((c.score for c in causes), reverse=True)


def test_buzz_on_the_low_frets_of_a_straight_neck() -> None:
    low = [(4, 1), (4, 2), (4, 3), (3, 1), (3, 2), (2, 1)]
    cause = first(board(BASS, *low, touch="firm", relief=0.02))
    assert cause.key is CauseKey.TOO_STRAIGHT and cause.player
    sentences = " ".join(e.sentence for e in cause.evidence)
    assert "The relief is about 0.02 mm, give or take 0.03; for this touch 0.23 to 0.53 mm." in sentences
    assert "At a firm touch the map leaves −0." in sentences
    assert {Source.MEASURED, Source.FORECAST, Source.HEARD} == {e.source for e in cause.evidence}


def test_open_only_over_a_low_slot() -> None:
    cause = first(board(BASS, (4, 0), nut_4=0.08))
    assert cause.key is CauseKey.NUT_LOW and not cause.player
    assert "E string" in cause.test
    assert any("over fret 1" in e.sentence for e in cause.evidence)


def test_open_only_over_good_slots_is_not_the_nut() -> None:
    high = {f"height_{n}": 3.2 for n in range(1, 5)} | {f"nut_{n}": 0.48 for n in range(1, 5)}
    assert first(board(BASS, (4, 0), (3, 0), (2, 0), **high)).key is CauseKey.LOOSE


def test_low_saddles_buzz_all_over() -> None:
    heights = {f"height_{n}": 1.3 for n in range(1, 5)}
    taps = [(n, fret) for n in range(1, 5) for fret in range(1, 16)]
    assert first(board(BASS, *taps, relief=0.3, **heights)).key is CauseKey.TOO_LOW


def test_one_note_across_all_strings_is_the_fret_ahead_or_the_one_pressed() -> None:
    heights = {f"height_{n}": 2.3 for n in range(1, 7)}
    cause = first(board(GUITAR, *((n, 8) for n in range(1, 7)), **heights))
    assert cause.key is CauseKey.UNEVEN_FRET and not cause.player
    assert {(s.fret, s.high) for s in cause.suspects} == {(8, False), (9, True)}
    assert "frets 8 to 10" in cause.test and "fret 9 is the suspect" in cause.test


def test_a_pitch_that_rattles_on_every_string() -> None:
    heights = {f"height_{n}": 2.5 for n in range(1, 7)}
    same = [(6, 20), (5, 15), (4, 10), (3, 5), (2, 1)]  # C4
    cause = first(board(GUITAR, *same, **heights))
    assert cause.key is CauseKey.LOOSE
    assert any("same pitch" in e.sentence for e in cause.evidence)


def test_old_strings_by_age() -> None:
    heights = {f"height_{n}": 3.2 for n in range(1, 5)}
    here_and_there = [(4, 2), (4, 9), (3, 5), (3, 14), (2, 7), (2, 17), (1, 3), (1, 11)]
    old, fresh = (
        findings(board(BASS, *here_and_there, age=age, **heights).case()).causes for age in ("old", "fresh")
    )
    was = {cause.key: cause for cause in old}
    assert CauseKey.OLD_STRING in [cause.key for cause in old[:2]]
    assert any("half a year or more" in e.sentence for e in was[CauseKey.OLD_STRING].evidence)
    score = {cause.key: cause.score for cause in fresh}
    assert score[CauseKey.OLD_STRING] < was[CauseKey.OLD_STRING].score


def shares(bench: Bench) -> dict[CauseKey, float]:
    return {cause.key: cause.score for cause in findings(bench.case()).causes}


@pytest.mark.parametrize("key", [CauseKey.LOOSE, CauseKey.TECHNIQUE])
def test_an_answer_moves_its_cause_and_is_said_beside_it(key: CauseKey) -> None:
    heights = {f"height_{n}": 2.8 for n in range(1, 5)}
    here_and_there = [(4, 3), (3, 12), (1, 8)]
    told = {}
    for answer in ("yes", "unsure", "no"):
        bench = board(BASS, *here_and_there, **heights)
        bench.observe("height.cause", asked=key.value, answer=answer)
        told[answer] = bench
    without = shares(board(BASS, *here_and_there, **heights))[key]
    assert shares(told["unsure"])[key] == pytest.approx(without, abs=1e-3)
    assert shares(told["no"])[key] < without < shares(told["yes"])[key]
    [cause] = [cause for cause in findings(told["yes"].case()).causes if cause.key is key]
    assert any(e.source is Source.SAID and e.sentence.endswith("? Yes.") for e in cause.evidence)


def test_what_was_answered_about_an_older_board_is_not_asked_of_this_one() -> None:
    taps = [(4, 3), (3, 12), (1, 8)]
    bench = board(BASS, *taps)
    bench.observe("height.cause", asked="technique", answer="yes")
    bench.observe("height.buzz", taps=[list(tap) for tap in taps], touch="medium")
    assert shares(bench) == pytest.approx(shares(board(BASS, *taps)), abs=1e-3)


def test_one_open_string_alone_is_its_slot_even_where_no_slot_was_read() -> None:
    bench = Bench(BASS)
    bench.reading("relief")
    for number in bench.numbers:
        bench.reading(f"height.{number}")
    bench.buzz((1, 0))
    assert first(bench).key is CauseKey.NUT_LOW


def test_notes_that_share_no_fret_are_the_finger_sooner_than_a_fret() -> None:
    heights = {f"height_{n}": 2.8 for n in range(1, 5)}
    apart = shares(board(BASS, (4, 3), (3, 12), (1, 8), **heights))
    beside = shares(board(BASS, (4, 8), (3, 8), (2, 8), **heights))
    assert apart[CauseKey.TECHNIQUE] > apart[CauseKey.UNEVEN_FRET]
    assert beside[CauseKey.UNEVEN_FRET] > 0.8


def test_a_swelling_past_the_joint_is_not_laid_on_one_fret() -> None:
    heights = {f"height_{n}": 2.3 for n in range(1, 5)}
    taps = [(n, fret) for n in range(1, 5) for fret in range(10, 20)]
    cause = first(board(BASS, *taps, **heights))
    assert cause.key is CauseKey.UPPER_BOARD and not cause.player


def test_a_neck_without_a_rod_and_a_saddle_without_screws_go_to_a_repairer() -> None:
    bench = board(CLASSICAL, *((n, f) for n in (6, 5, 4) for f in (1, 2, 3)), touch="firm", relief=-0.1)
    causes = {cause.key: cause for cause in findings(bench.case()).causes}
    for key in (CauseKey.TOO_STRAIGHT, CauseKey.TOO_BOWED, CauseKey.TOO_LOW):
        assert not causes[key].player
        assert "repairer" in causes[key].fix
        assert "rod an eighth" not in causes[key].test and "quarter turn" not in causes[key].test


def test_what_was_turned_since_does_not_change_what_was_heard() -> None:
    bench = board(BASS, (4, 0), nut_4=0.08)
    before = findings(bench.case()).causes
    bench.turn(Part.SADDLE_HEIGHT, 8, string=4)
    bench.reading("height.4", 3.4)
    after = findings(bench.case())
    assert after.outdated
    assert [c.score for c in after.causes] == pytest.approx([c.score for c in before])


def test_nothing_measured_still_answers_and_says_so() -> None:
    bench = Bench(BASS)
    bench.buzz((4, 1), (4, 2), (4, 3), (3, 2))
    found = findings(bench.case())
    assert len(found.causes) == len(CauseKey)
    assert found.missing == ("relief", "every string height", "every gap at the nut")


def test_marks_off_this_board_are_left_out() -> None:
    bench = board(BASS, (4, 0), (9, 3), (4, 35), nut_4=0.08)
    assert first(bench).key is CauseKey.NUT_LOW


@pytest.mark.parametrize(
    ("suspects", "fret"),
    [
        ((Suspect(5, True, 0.1), Suspect(4, False, 0.1)), 5),
        ((Suspect(4, False, 0.1), Suspect(5, True, 0.1)), 5),
        ((Suspect(4, False, 0.1), Suspect(9, False, 0.1)), 5),
        ((Suspect(20, False, 0.1),), 20),
    ],
)
def test_the_rocker_goes_to_the_fret_that_would_stand_proud(suspects: tuple[Suspect, ...], fret: int) -> None:
    assert rocker_fret(suspects, 20) == fret


@pytest.mark.parametrize(
    ("frets", "words"),
    [
        ([0], "open"),
        ([3], "3"),
        ([0, 1, 2, 3], "open and 1 to 3"),
        ([4, 5], "4, 5"),
        ([1, 2, 3, 7, 9, 10, 11], "1 to 3, 7 and 9 to 11"),
    ],
)
def test_frets_are_said_in_runs(frets: list[int], words: str) -> None:
    assert ranges(frets) == words
