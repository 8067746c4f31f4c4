"""The verdict words at, just inside and just outside every edge of the bands."""

from __future__ import annotations

import pytest

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, GUITAR, Bench, all_kinds
from webapp.setups.assess import ORDER
from webapp.setups.slots import all_slots
from webapp.setups.states import Act
from webapp.setups.verdicts import Verdict, Word, judge, worst
from webapp.trade.ranges import Band, Bands
from webapp.trade.words import Check, Touch

BANDS = Bands(target=Band(low=2, high=3), usual=Band(low=1.5, high=3.6), plausible=Band(low=0.3, high=8))
HAIR = 0.001

EDGES = [
    (0.3 - HAIR, Word.MEASURE_AGAIN),
    (0.3, Word.TOO_LOW),
    (0.3 + HAIR, Word.TOO_LOW),
    (1.5 - HAIR, Word.TOO_LOW),
    (1.5, Word.TOUCH_LOW),
    (1.5 + HAIR, Word.TOUCH_LOW),
    (2.0 - HAIR, Word.TOUCH_LOW),
    (2.0, Word.GOOD),
    (2.5, Word.GOOD),
    (3.0, Word.GOOD),
    (3.0 + HAIR, Word.TOUCH_HIGH),
    (3.6 - HAIR, Word.TOUCH_HIGH),
    (3.6, Word.TOUCH_HIGH),
    (3.6 + HAIR, Word.TOO_HIGH),
    (8.0, Word.TOO_HIGH),
    (8.0 + HAIR, Word.MEASURE_AGAIN),
    (-4.0, Word.MEASURE_AGAIN),
]


@pytest.mark.parametrize(("value", "word"), EDGES)
def test_the_word_at_every_edge(value: float, word: Word) -> None:
    assert judge(value, 0.0, BANDS).word is word


def test_an_edge_typed_in_inches_belongs_to_the_band() -> None:
    bands = Bands(
        target=Band(low=3 * 0.1, high=2.4), usual=Band(low=0.1, high=3), plausible=Band(low=0, high=8)
    )
    assert judge(0.3, 0.0, bands).word is Word.GOOD  # 3 * 0.1 is 0.30000000000000004


@pytest.mark.parametrize(
    ("value", "error", "near"),
    [
        (2.5, 0.25, False),
        (2.5, 0.51, True),
        (2.9, 0.09, False),
        (2.9, 0.11, True),
        (3.1, 0.11, True),
        (3.3, 0.1, False),
        (3.55, 0.1, True),
        (1.45, 0.1, True),
        (1.2, 0.25, False),
        (5.0, 0.25, False),
        (2.0, 0.0, False),
    ],
)
def test_near_an_edge_when_the_tool_could_be_across_it(value: float, error: float, near: bool) -> None:
    assert judge(value, error, BANDS).near_edge is near


def test_a_doubted_reading_says_why_and_not_that_it_is_near() -> None:
    verdict = judge(9.0, 2.0, BANDS)
    assert verdict.why and not verdict.near_edge and not verdict.settled


@pytest.mark.parametrize("touch", list(Touch))
@pytest.mark.parametrize("kind", all_kinds())
def test_every_slot_of_every_kind_is_judged_by_its_own_bands(kind: str, touch: Touch) -> None:
    plain = Bench(kind, touch=touch).start()
    judge_check = dict(ORDER)
    for slot in all_slots(plain.spec):
        bands = plain.case().bands(slot)
        tries = {
            bands.target.middle: Word.GOOD,
            bands.target.low: Word.GOOD,
            bands.target.high: Word.GOOD,
            bands.usual.low - 1e-4: Word.TOO_LOW,
            bands.usual.high + 1e-4: Word.TOO_HIGH,
            bands.plausible.high + 1e-4: Word.MEASURE_AGAIN,
            bands.plausible.low - 1e-4: Word.MEASURE_AGAIN,
        }
        if bands.target.high < bands.usual.high:
            tries[bands.target.high + 1e-4] = Word.TOUCH_HIGH
        for value, word in tries.items():
            if word is Word.TOO_LOW and value < bands.plausible.low:
                continue
            bench = Bench(plain.spec).start()
            bench.reading(slot.key, value, error=0.0)
            states = judge_check[slot.check](bench.case()).slots
            found = next(state.verdict.word for state in states if state.slot == slot)
            assert found is word, (slot.key, value)


def test_the_tool_decides_how_near_is_near() -> None:
    for error, near in ((0.02, False), (0.25, True)):
        bench = Bench(BASS).up_to(Check.HEIGHT)
        bench.reading("height.4", 2.9, error=error)
        assert bench.state("height.4").verdict == Verdict(Word.GOOD, near_edge=near)


def test_an_implausible_reading_is_measured_again_before_anything_is_turned() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    bench.reading("height.4", 24.0)
    bench.reading("height.1", 2.0)
    state = bench.state("height.4")
    assert state.verdict.word is Word.MEASURE_AGAIN
    assert state.advice is not None and state.advice.turn is None
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "height.4")
    bench.reading("height.4", 2.4)
    assert bench.next.place == "height.3"


@pytest.mark.parametrize("key", ["relief", "height.4", "nut.4", "intonation.4.12", "pickups.1.bass"])
def test_no_advice_turns_anything_on_a_doubted_reading(key: str) -> None:
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    bench.reading(key, 90.0)
    state = bench.state(key)
    assert state.verdict.word is Word.MEASURE_AGAIN and state.open
    assert state.advice is None or (state.advice.turn is None and not state.advice.repairer)
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, key)


@pytest.mark.parametrize("way", [1, -1])
def test_an_inner_string_that_contradicts_its_outer_neighbours_is_doubted(way: int) -> None:
    bench = Bench(GUITAR).up_to(Check.HEIGHT)
    for number, value in ((6, 2.6), (1, 2.1)):
        bench.reading(f"height.{number}", value)
    expected = bench.state("height.3").expected
    assert expected is not None
    for off, doubted in ((1.15, False), (1.25, True)):
        bench.reading("height.3", expected + way * off, error=0.0)
        state = bench.state("height.3")
        assert (state.verdict.word is Word.MEASURE_AGAIN) is doubted
        assert bool(state.verdict.why) is doubted


def test_without_both_outer_strings_nothing_contradicts() -> None:
    bench = Bench(GUITAR).up_to(Check.HEIGHT)
    bench.reading("height.6", 1.8)
    bench.reading("height.3", 4.5)
    state = bench.state("height.3")
    assert state.expected is None
    assert state.verdict.word is Word.TOO_HIGH


@pytest.mark.parametrize(
    ("at_12", "at_19", "doubted"),
    [
        (6, 12, False),
        (6, 3, False),
        (6, 21, False),
        (6, 23, True),
        (6, 1, True),
        (0, 11, True),
        (-5, 5, True),
    ],
)
def test_the_high_fret_should_be_about_twice_as_far_off(at_12: float, at_19: float, doubted: bool) -> None:
    bench = Bench(BASS).up_to(Check.INTONATION)
    bench.reading("intonation.4.12", at_12)
    bench.reading("intonation.4.high", at_19)
    assert (bench.state("intonation.4.high").verdict.word is Word.MEASURE_AGAIN) is doubted
    assert bench.state("intonation.4.12").verdict.word is not Word.MEASURE_AGAIN
    if doubted:
        assert (bench.next.act, bench.next.place) == (Act.MEASURE, "intonation.4.high")
        assert bench.state("intonation.4.12").advice is None


def test_a_contradiction_that_the_player_stands_by_is_believed() -> None:
    bench = Bench(BASS).up_to(Check.INTONATION)
    bench.reading("intonation.4.12", 12)
    bench.reading("intonation.4.high", 12)
    bench.keep("intonation.4.high")
    low = bench.state("intonation.4.12")
    assert low.advice is not None and low.advice.turn is not None and low.open
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "intonation.4.12")


def test_relief_words_follow_the_bow() -> None:
    for value, words in ((-0.2, "Back bow"), (0.05, "Too straight"), (0.3, "Good"), (0.9, "Too much bow")):
        bench = Bench(BASS).up_to(Check.RELIEF)
        bench.reading("relief", value)
        advice = bench.state("relief").advice
        assert advice is not None and advice.means.startswith(words)


@pytest.mark.parametrize("kind", [BASS, GUITAR, ACOUSTIC, CLASSICAL])
def test_a_check_speaks_with_the_word_of_its_neediest_slot(kind: str) -> None:
    bench = Bench(kind).up_to(Check.NUT)
    assert bench.assess().checks[Check.HEIGHT].word is Word.GOOD
    outer = f"height.{bench.numbers[0]}"
    high = bench.state(outer).bands.usual.high + 0.1
    bench.reading(outer, high)
    assert bench.assess().checks[Check.HEIGHT].word is Word.TOO_HIGH
    bench.keep(outer)
    assert bench.assess().checks[Check.HEIGHT].word is Word.GOOD


def test_the_worst_word_of_several() -> None:
    assert worst([Word.GOOD, Word.TOUCH_LOW]) is Word.TOUCH_LOW
    assert worst([Word.TOO_HIGH, Word.OUT_OF_DATE]) is Word.OUT_OF_DATE
    assert worst([Word.TOO_HIGH, Word.MEASURE_AGAIN]) is Word.MEASURE_AGAIN
    assert worst([Word.TOUCH_HIGH, Word.NOT_MEASURED]) is Word.NOT_MEASURED
    assert worst([]) is Word.NOT_MEASURED


def test_a_check_that_the_instrument_has_nothing_for() -> None:
    state = Bench(ACOUSTIC).assess().checks[Check.PICKUPS]
    assert (state.word, state.here, state.done) == (Word.NOT_HERE, False, True)
