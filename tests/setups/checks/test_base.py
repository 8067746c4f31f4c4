"""What all checks that read places share: what a place waits for, its word, and one step for many places."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, GUITAR, POSTS, Bench, all_kinds
from webapp.setups.checks import CHECKS, READ_CHECKS
from webapp.setups.checks.deciding import Answer
from webapp.setups.journal import Part
from webapp.setups.slots import all_slots
from webapp.setups.states import Act, Word, word_of
from webapp.trade.words import Check, RodType

READ = (Check.RELIEF, Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS)
OFF = [("relief", 0.9), ("height.4", 4.0), ("intonation.4.12", 14.0), ("pickups.1.bass", 4.6)]


def test_there_is_one_object_for_every_check_in_the_order_of_the_bench() -> None:
    assert tuple(CHECKS) == tuple(Check)
    assert tuple(READ_CHECKS) == READ
    assert all(one.check is check for check, one in CHECKS.items())


@pytest.mark.parametrize("kind", all_kinds())
def test_every_place_is_asked_for_in_words(kind: str) -> None:
    bench = Bench(kind).start()
    case = bench.case()
    for slot in all_slots(bench.spec):
        check = READ_CHECKS[slot.check]
        way = check.way(case, slot, None)
        assert check.heading(case, slot)
        for method in case.trade.methods_for(slot.check):
            lines = check.lines(case, slot, method.key, way)
            assert all(lines), slot.key
            if not slot.level:  # the bridge is looked at alone
                assert all(check.lines_together(case, [slot], method.key, way))
        plausible = check.likely_of(case, slot)
        widest = check.widest_of(slot)
        assert widest.low <= plausible.low < plausible.high <= widest.high
        # Whatever a form takes first, the middle of the target is believable.
        assert plausible.contains(case.bands(slot).target.middle)


@pytest.mark.parametrize(("key", "value"), OFF)
def test_i_like_it_so_ends_the_asking_until_it_is_read_again(key: str, value: float) -> None:
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    for _ in range(2):
        bench.reading(key, value)
    assert bench.state(key).open
    kept = bench.keep(key)
    state = bench.state(key)
    assert state.accepted and state.wants is None
    assert bench.assess().checks[state.slot.check].word in (Word.GOOD, Word.EXPECTED)
    bench.void(kept)
    assert bench.state(key).open
    bench.keep(key)
    bench.reading(key, value)
    assert not bench.state(key).accepted


@pytest.mark.parametrize(
    ("key", "value"),
    [("relief", 1.9), ("height.4", 4.6), ("nut.4", 1.6), ("intonation.4.12", 40.0), ("pickups.1.bass", 9.0)],
)
def test_nothing_is_turned_for_a_reading_that_is_doubted(key: str, value: float) -> None:
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    bench.reading(key, value)
    state = bench.state(key)
    assert state.verdict.word is Word.MEASURE_AGAIN and "expected" in state.verdict.why
    assert state.wants is Act.MEASURE
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, key)


@settings(max_examples=20, deadline=None, database=None)
@given(kind=st.sampled_from([BASS, GUITAR, POSTS]), draw=st.data())
def test_the_word_says_where_the_belief_lies(kind: str, draw: st.DataObject) -> None:
    """Good, a touch or too: of the mean. Expected, measure again, cannot tell, not measured: why not."""
    bench = Bench(kind).start()
    for slot in draw.draw(st.lists(st.sampled_from(all_slots(bench.spec)), min_size=1, max_size=6)):
        usual = bench.case().bands(slot).usual
        bench.reading(slot.key, usual.middle + draw.draw(st.floats(-0.9, 0.9)) * usual.width)
    if draw.draw(st.booleans()):
        bench.turn(Part.ROD, draw.draw(st.sampled_from([-2, 2])))
    for check in READ:
        for state in bench.assess().checks[check].slots:
            word, read = state.verdict.word, state.reading is not None
            doubted = state.slot.key in bench.case().belief.doubted
            assert (word is Word.MEASURE_AGAIN) is doubted
            assert bool(state.verdict.why) is doubted
            if doubted:
                assert state.wants is Act.MEASURE
            elif word is Word.NOT_MEASURED:
                assert not read and state.usual < 0.99
            elif word is Word.CANNOT_TELL:
                assert 0.2 < state.usual < 0.8 and state.wants is None
            elif word is Word.EXPECTED:
                assert not state.measured
            elif state.wants is Act.DECIDE and word_of(state.value, state.bands) is Word.GOOD:
                assert word in (Word.TOUCH_LOW, Word.TOUCH_HIGH)  # nothing good is still to be turned
            else:
                assert word is word_of(state.value, state.bands)
            assert state.wants in (None, Act.MEASURE, Act.DECIDE)
            if state.wants is Act.DECIDE:
                assert state.measured and state.advice is not None and state.advice.turn is not None


def test_a_word_near_an_edge_says_so() -> None:
    """A gauge does not tell 2.98 mm from the edge at 3.00; it does tell 2.6."""
    bench = Bench(BASS).up_to(Check.HEIGHT)
    edge = bench.state("height.4").bands.target.high
    for value, near in ((edge - 0.02, True), (edge - 0.4, False), (edge + 0.02, True), (edge + 0.35, False)):
        bench = Bench(BASS).up_to(Check.HEIGHT)
        bench.reading("height.4", value)
        state = bench.state("height.4")
        assert state.verdict.near_edge is near, value
        assert state.verdict.word is (Word.GOOD if value < edge else Word.TOUCH_HIGH)


def test_a_tool_that_cannot_tell_is_said_to_be_one_after_a_few_readings() -> None:
    """One card under a guitar's neck: between its usual band's edges or past the upper one."""
    bench = Bench(GUITAR, rod={"type": RodType.NONE}).up_to(Check.RELIEF)
    asked = 0
    while bench.next.check is Check.RELIEF:
        bench.said("relief", "card", "one")
        asked += 1
        assert asked < 5
    assert asked == 2
    assert bench.state("relief").verdict.word is Word.CANNOT_TELL


@pytest.mark.parametrize("key", ["relief", "height.4", "nut.4", "intonation.4.12", "pickups.1.bass"])
def test_no_place_is_read_for_ever(key: str) -> None:
    """However the readings jump, there is an end to the asking."""
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    usual = bench.state(key).bands.usual
    asked = 0
    while bench.next.act is Act.MEASURE and key in bench.next.places:
        bench.reading(key, usual.high + usual.width * (0.1 if asked % 2 else 1.6))
        asked += 1
        assert asked <= 12
    bench.reading(key, usual.high + 0.05 * usual.width)
    assert asked <= 12


def test_what_must_be_read_comes_before_what_must_be_turned_and_all_of_it_in_one_go() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    for number in (4, 1):
        for _ in range(2):
            bench.reading(f"height.{number}", 4.2)
    step = bench.next
    assert (step.act, step.places) == (Act.MEASURE, ("height.3", "height.2"))
    for number in (3, 2):
        for _ in range(2):
            bench.reading(f"height.{number}", 4.2)
    step = bench.next
    assert step.act is Act.DECIDE and set(step.places) == {f"height.{n}" for n in bench.numbers}
    assert step.place == step.places[0] and step.sentence == "Adjust: E string"


def test_a_settled_place_is_not_asked_for_though_it_was_never_read() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    for number in (4, 1):
        bench.reading(f"height.{number}")
    inner = bench.state("height.3")
    assert inner.reading is None and inner.settled and inner.verdict.word is Word.EXPECTED
    assert bench.next.place == "height.buzz"


@pytest.mark.parametrize("kind", [BASS, GUITAR])
def test_a_check_speaks_with_the_word_of_its_neediest_place(kind: str) -> None:
    bench = Bench(kind).up_to(Check.NUT)
    assert bench.assess().checks[Check.HEIGHT].word is Word.GOOD
    outer = f"height.{bench.numbers[0]}"
    high = bench.state(outer).bands.usual.high + 0.3
    for _ in range(2):
        bench.reading(outer, high)
    assert bench.assess().checks[Check.HEIGHT].word is Word.TOO_HIGH
    bench.keep(outer)
    assert bench.assess().checks[Check.HEIGHT].word is Word.GOOD


def test_a_turn_is_worth_it_where_there_is_one_that_gains_enough() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.9)
    advice = bench.state("relief").advice
    assert advice is not None and advice.turn is not None
    assert Answer(advice, 0.05).turn_worth(0.03) and not Answer(advice, 0.02).turn_worth(0.03)
    nothing = bench.state("height.4").advice
    assert nothing is None or not Answer(nothing, 0.5).turn_worth(0.03)
