"""The whole judgement against the trade: what a repairer would say, in what order, and which way to turn."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.setups.journals import ACOUSTIC, BASS, GUITAR, POSTS, Bench
from webapp.setups.journal import Part
from webapp.setups.states import Act, Advice, SlotState, Word
from webapp.trade.words import Check

INCH = 25.4


def carded(answer: str) -> SlotState:
    """A bass whose relief is judged with a card."""
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.said("relief", "card", answer)
    return bench.state("relief")


def advice_of(state: SlotState) -> Advice:
    assert state.advice is not None
    return state.advice


@pytest.mark.practice
@pytest.mark.parametrize(
    ("answer", "words", "tighten"),
    [
        ("none", {Word.TOO_LOW, Word.TOUCH_LOW}, False),  # too straight: let the strings pull more bow in
        ("one", {Word.GOOD}, None),
        ("two", {Word.TOUCH_HIGH, Word.TOO_HIGH}, True),
        ("more", {Word.TOO_HIGH}, True),  # too much bow: pull it straight
    ],
)
def test_a_card_under_the_string_of_a_bass(answer: str, words: set[Word], tighten: bool | None) -> None:
    state = carded(answer)
    assert state.verdict.word in words
    turn = advice_of(state).turn
    if tighten is not None:
        assert turn is not None and (turn.eighths > 0) is tighten


@pytest.mark.practice
def test_the_order_of_the_bench() -> None:
    order = [check for check in Bench(BASS).assess().checks if check not in (Check.START, Check.PLAYTEST)]
    assert order == [Check.RELIEF, Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS]
    # Everything reads badly at once: the rod is turned first, then what hangs on it is read again.
    bench = Bench(BASS).start()
    bench.reading("relief", 0.9)
    bench.reading("height.4", 4.0)
    bench.reading("intonation.4.12", 9)
    bench.reading("intonation.4.high", 18)
    for _ in range(2):
        bench.reading("relief", 0.9)
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "relief")
    bench.turn(Part.ROD, 6)
    bench.reading("relief", 0.35)
    assert bench.next.check is Check.HEIGHT


@pytest.mark.practice
def test_never_more_than_a_quarter_turn_at_a_time() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    sizes = []
    for relief_mm in (1.3, 1.2, 1.05, 0.9, 0.8):
        bench.reading("relief", relief_mm)
        turn = advice_of(bench.state("relief")).turn
        if turn is not None:
            sizes.append(turn.eighths)
            bench.log(turn)
    assert len(sizes) >= 3 and set(sizes) <= {1, 2}


@pytest.mark.practice
def test_a_rod_is_eased_off_first_then_tightened_clockwise_and_the_strings_retuned() -> None:
    advice = advice_of(carded("more"))
    eased = next(i for i, line in enumerate(advice.do) if "Ease the rod off an eighth" in line)
    tightened = next(i for i, line in enumerate(advice.do) if "Tighten a quarter turn: clockwise" in line)
    assert eased < tightened
    assert advice.then.startswith("Retune") and "measure again" in advice.then


@pytest.mark.practice
def test_a_rod_takes_hours_to_settle() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.7)
    bench.turn(Part.ROD, 2)
    bench.wait(minutes=10)
    bench.reading("relief", 0.4)
    assert bench.state("relief").provisional
    again = bench.assess().read_relief_at
    assert again is not None and timedelta(hours=4) <= again - bench.now <= timedelta(hours=24)
    bench.wait(days=1)
    bench.reading("relief", 0.35)
    assert not bench.state("relief").provisional


@pytest.mark.practice
@pytest.mark.parametrize("kind", [BASS, GUITAR])
def test_both_screws_of_a_saddle_are_turned_alike(kind: str) -> None:
    bench = Bench(kind).up_to(Check.NUT)
    for _ in range(2):
        bench.reading("height.3", bench.state("height.3").bands.usual.high + 0.2)
    advice = advice_of(bench.state("height.3"))
    assert any("both its screws alike" in line for line in advice.do)
    assert "Retune" in advice.then


@pytest.mark.practice
def test_too_low_is_raised_and_a_grub_screw_raises_clockwise() -> None:
    bench = Bench(BASS).up_to(Check.NUT)
    for _ in range(2):
        bench.reading("height.4", 1.4)
    lines = advice_of(bench.state("height.4")).do
    assert lines[0].startswith("Raise the saddle") and ": clockwise" in lines[0]


@pytest.mark.practice
@pytest.mark.parametrize(("cents", "back"), [(-9, False), (9, True)])
def test_flat_shortens_the_string_and_sharp_lengthens_it(cents: float, back: bool) -> None:
    bench = Bench(GUITAR).up_to(Check.INTONATION)
    bench.reading("intonation.6.12", cents)
    bench.reading("intonation.6.high", 2 * cents)
    advice = advice_of(bench.state("intonation.6.12"))
    assert advice.turn is not None and advice.turn.part is Part.SADDLE_POSITION
    assert (advice.turn.eighths > 0) is back  # plus is back, away from the nut: a longer string
    assert ("away from the nut" if back else "toward the nut") in advice.do[1]
    assert advice.do[0].startswith("Slacken") and "Tune the open string again" in advice.then


@pytest.mark.practice
def test_intonation_is_read_at_12_and_19_against_the_open_string() -> None:
    for kind in (BASS, GUITAR):
        case = Bench(kind).case()
        assert case.high_fret == 19


@pytest.mark.practice
@pytest.mark.parametrize("rattles", [False, True])
def test_a_low_nut_matters_only_if_the_open_string_rattles(rattles: bool) -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT).read(Check.HEIGHT)
    bench.buzz(*([(1, 0)] if rattles else []))
    for number in bench.numbers:
        bench.said(f"nut.{number}", "card", "one" if number > 1 else "none")
    bench.said("nut.1", "card", "none")
    state = bench.state("nut.1")
    assert state.verdict.word.is_low or state.verdict.word is Word.CANNOT_TELL
    assert bool(advice_of(state).repairer) is rattles


@pytest.mark.practice
def test_a_card_that_slides_under_the_open_string_is_a_good_nut() -> None:
    bench = Bench(BASS).up_to(Check.NUT)
    for number in bench.numbers:
        bench.said(f"nut.{number}", "card", "one")
        assert bench.state(f"nut.{number}").verdict.word is Word.GOOD


@pytest.mark.practice
def test_a_medium_bass_action_of_three_thirty_seconds_is_good_and_the_treble_side_lies_lower() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    bench.reading("height.4", 3 / 32 * INCH)
    bench.reading("height.1", 5 / 64 * INCH)
    assert [bench.state(f"height.{n}").verdict.word for n in (4, 1)] == [Word.GOOD, Word.GOOD]
    middles = [bench.state(f"height.{n}").bands.target.middle for n in bench.numbers]
    assert middles == sorted(middles, reverse=True) and middles[0] > middles[-1]
    # The gaps run evenly across, so by the radius the inner strings stand higher than the outer ones.
    assert 5 / 64 * INCH < bench.state("height.2").value < 3 / 32 * INCH


@pytest.mark.practice
def test_pickups_of_a_bass_at_six_and_five_sixty_fourths_are_left_alone() -> None:
    bench = Bench("bass_4_35").up_to(Check.PICKUPS)
    for pickup in (1, 2):
        bench.reading(f"pickups.{pickup}.bass", 6 / 64 * INCH)
        bench.reading(f"pickups.{pickup}.treble", 5 / 64 * INCH)
    assert bench.next.place == "pickups.ear"
    assert bench.assess().checks[Check.PICKUPS].word is Word.GOOD


@pytest.mark.practice
def test_what_needs_files_glue_or_a_plane_is_not_for_the_player() -> None:
    bench = Bench(ACOUSTIC).up_to(Check.HEIGHT)
    for _ in range(2):
        for number in bench.numbers:
            bench.reading(f"height.{number}", 3.6 - 0.1 * (6 - number))
    bench.buzz((5, 9))
    for _ in range(2):
        for number in bench.numbers:
            bench.reading(f"nut.{number}", 1.0 if number == 5 else 0.35)
    assessment = bench.assess()
    assert {item.check for item in assessment.repairer} == {Check.HEIGHT, Check.NUT}
    hands = (Check.HEIGHT, Check.NUT, Check.INTONATION)
    turns = [s.advice.turn for check in hands for s in assessment.checks[check].slots if s.advice]
    assert turns and all(turn is None for turn in turns)


@pytest.mark.practice
def test_the_start_asks_for_tuning_fresh_strings_and_playing_position() -> None:
    asked = " ".join(f"{item.label} {item.hint}".lower() for item in Bench().trade.start.items)
    for word in ("tuned", "strings", "playing position", "clean"):
        assert word in asked
    ended = " ".join(f"{stopper.label}".lower() for stopper in Bench().trade.start.stoppers)
    for word in ("loose", "crack", "bridge is lifting", "stuck"):
        assert word in ended


@pytest.mark.practice
def test_new_strings_mean_reading_everything_anew() -> None:
    bench = Bench(POSTS).up_to(Check.PLAYTEST)
    bench.turn(Part.STRINGS)
    assert bench.moved == bench.keys(*Check)
