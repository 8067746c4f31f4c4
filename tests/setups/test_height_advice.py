"""Heights that pull two ways: buzz against target, inner strings against outer ones, one bar under all."""

from __future__ import annotations

import pytest

from tests.setups.journals import BASS, GUITAR, POSTS, Bench
from webapp.setups.journal import Part
from webapp.setups.slots import slots_of
from webapp.trade.words import Check


def heights(bench: Bench, **values: float) -> Bench:
    """Relief at target, and every string at the middle of its target unless told (s4=2.2)."""
    bench.start()
    bench.reading("relief")
    for slot in slots_of(bench.spec, Check.HEIGHT):
        bench.reading(slot.key, values.get(f"s{slot.string}"))
    return bench


def test_an_inner_string_aims_for_what_its_neighbours_expect() -> None:
    bench = heights(Bench(BASS), s4=2.9, s1=2.4, s3=3.2)
    state = bench.state("height.3")
    assert state.expected == pytest.approx(2.9 - 0.5 / 3, abs=0.01)
    assert state.advice is not None and state.advice.forecast is not None
    aim = state.expected
    assert abs(state.advice.forecast.value - aim) < abs(3.2 - aim)
    assert state.advice.forecast.value >= aim - 0.05


def test_a_string_that_buzzed_lower_is_left_a_touch_high() -> None:
    bench = heights(Bench(BASS), s4=2.9)
    bench.buzz((4, 3), (4, 5), (4, 7))
    assert bench.state("height.4").open
    bench.turn(Part.SADDLE_HEIGHT, 4, string=4)
    bench.reading("height.4", 3.1)
    state = bench.state("height.4")
    assert not state.open
    assert state.advice is not None and "lower it buzzed" in state.advice.means


def test_without_that_buzz_the_same_height_is_brought_down() -> None:
    state = heights(Bench(BASS), s4=3.1).state("height.4")
    assert state.open and state.advice is not None and state.advice.turn is not None
    assert state.advice.turn.eighths < 0


def test_on_two_posts_an_inner_buzz_takes_the_whole_bridge_up() -> None:
    bench = heights(Bench(POSTS), s6=1.6, s1=1.2)
    bench.buzz((3, 4), (3, 6))
    advice = bench.state("height.3").advice
    assert advice is not None and advice.turn is not None
    assert (advice.turn.eighths, advice.turn.string, advice.turn.side) == (2, None, None)
    bench.log(advice.turn)
    assert all(bench.state(slot.key).outdated_by for slot in slots_of(bench.spec, Check.HEIGHT))


def test_with_the_outer_strings_high_enough_the_bridge_itself_is_to_blame() -> None:
    bench = heights(Bench(POSTS), s6=2.0, s1=1.6)
    bench.buzz((3, 4), (3, 6))
    advice = bench.state("height.3").advice
    assert advice is not None and advice.turn is None and "bridge" in advice.repairer


def test_a_board_of_twelve_frets_has_one_intonation_reading_a_string() -> None:
    bench = Bench(GUITAR, fret_count=12, joint_fret=12)
    keys = [slot.key for slot in slots_of(bench.spec, Check.INTONATION)]
    assert keys == [f"intonation.{n}.12" for n in (6, 5, 4, 3, 2, 1)]
    bench.reading("intonation.6.12", 9)
    state = bench.state("intonation.6.12")
    assert state.advice is not None and state.advice.turn is not None


def test_liking_one_fret_of_a_string_answers_both() -> None:
    bench = Bench(BASS)
    bench.reading("intonation.4.12", 5)
    bench.reading("intonation.4.high", 10)
    assert bench.state("intonation.4.high").open
    bench.keep("intonation.4.12")
    assert not bench.state("intonation.4.high").open
    assert not bench.state("intonation.4.12").open
