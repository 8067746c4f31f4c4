"""What before/after pairs teach, and how the advice uses it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.setups.journals import BASS, Bench
from webapp.setups.case import Case
from webapp.setups.convert import STANDARD_HEIGHT, saddle_per_action
from webapp.setups.expect import expected_reading
from webapp.setups.journal import Journal, Part
from webapp.setups.learning import (
    action_pull,
    learnt_height_thread,
    relief_pairs,
    rod_response,
    rod_warning,
    rod_without_effect,
)


def turned(moves: list[tuple[int, float]], start: float = 0.70) -> Bench:
    """Relief read before and after each (eighths, mm moved per eighth)."""
    bench = Bench(BASS)
    relief = start
    bench.reading("relief", relief)
    for eighths, per_eighth in moves:
        bench.turn(Part.ROD, eighths)
        relief -= eighths * per_eighth
        bench.reading("relief", relief)
    return bench


def test_without_a_pair_the_prior_stands() -> None:
    response = rod_response(Bench(BASS).case())
    assert (response.mean_mm_per_eighth, response.spread_mm, response.pairs) == (0.06, 0.04, 0)


def test_pairs_pull_the_response_to_what_was_seen_and_narrow_it() -> None:
    one = rod_response(turned([(1, 0.03)]).case())
    three = rod_response(turned([(1, 0.03), (1, 0.03), (2, 0.03)]).case())
    assert 0.03 < three.mean_mm_per_eighth < one.mean_mm_per_eighth < 0.06
    assert three.spread_mm < one.spread_mm < 0.04
    assert (one.pairs, three.pairs) == (1, 3)


@given(st.floats(0.02, 0.12), st.lists(st.sampled_from([-2, -1, 1, 2]), min_size=4, max_size=8))
def test_a_steady_rod_is_learnt(per_eighth: float, eighths: list[int]) -> None:
    response = rod_response(turned([(n, per_eighth) for n in eighths]).case())
    assert response.mean_mm_per_eighth == pytest.approx(per_eighth, abs=0.015)


def test_an_earlier_setup_teaches_too() -> None:
    earlier = Journal.of(turned([(1, 0.02), (1, 0.02)]).entries)
    case = replace(Bench(BASS).case(), past=(earlier,))
    assert rod_response(case).pairs == 2


def test_new_strings_between_break_the_pair() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.6)
    bench.turn(Part.ROD, 1)
    bench.turn(Part.STRINGS)
    bench.reading("relief", 0.3)
    assert relief_pairs(bench.case()) == ()


def test_the_last_reading_before_the_next_turn_counts() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.60)
    bench.turn(Part.ROD, 1)
    bench.reading("relief", 0.56)
    bench.wait(hours=13)
    bench.reading("relief", 0.52)
    (pair,) = relief_pairs(bench.case())
    assert pair.moved_mm == pytest.approx(0.08)


def test_a_corrected_reading_teaches_nothing() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.60)
    bench.turn(Part.ROD, 1)
    wrong = bench.reading("relief", 0.10)
    bench.correct(wrong, 0.55)
    (pair,) = relief_pairs(bench.case())
    assert pair.moved_mm == pytest.approx(0.05)


def test_the_advice_says_what_this_neck_did() -> None:
    bench = turned([(1, 0.03), (1, 0.03)], start=0.75)
    advice = bench.state("relief").advice
    assert advice is not None and advice.forecast is not None
    assert "on this neck, from 2 turns" in advice.forecast.basis
    assert advice.turn is not None and advice.turn.eighths == 2


@pytest.mark.parametrize(
    ("moved", "words"),
    [(0.0, "no effect"), (-0.10, "the wrong way"), (0.08, "")],
)
def test_a_turn_without_effect_or_the_wrong_way_is_told(moved: float, words: str) -> None:
    warning = rod_warning(turned([(1, moved)]).case())
    assert words in warning if words else warning == ""


def test_two_turns_for_nothing_end_the_turning() -> None:
    bench = turned([(1, 0.0), (1, 0.0)])
    assert rod_without_effect(bench.case())
    advice = bench.state("relief").advice
    assert advice is not None and advice.turn is None and "repairer" in advice.repairer


def screws(pitch_mm: float, eighths: int, error: float = 0.02) -> Case:
    """The E string's saddle turned on a bass of unknown thread, read with a fine tool."""
    bench = Bench(BASS, bridge={"height_thread": "unknown"})
    bench.reading("relief", 0.3)
    bench.reading("height.4", 3.4, error=error)
    bench.turn(Part.SADDLE_HEIGHT, eighths, string=4)
    per_action = saddle_per_action(bench.spec, 4, STANDARD_HEIGHT)
    bench.reading("height.4", 3.4 + eighths / 8 * pitch_mm / per_action, error=error)
    return bench.case()


@pytest.mark.parametrize(("pitch", "key"), [(0.5, "M3"), (0.7, "M4")])
def test_one_pair_proposes_the_thread(pitch: float, key: str) -> None:
    learnt = learnt_height_thread(screws(pitch, -8))
    assert learnt is not None and learnt.thread is not None
    assert learnt.thread.key == key
    assert learnt.pitch.pitch_mm == pytest.approx(pitch, abs=1e-6)


def test_a_ruler_and_a_small_turn_propose_nothing() -> None:
    assert learnt_height_thread(screws(0.5, -2, error=0.25)) is None


def test_the_pull_on_the_action_starts_from_geometry_and_follows_the_readings() -> None:
    bench = Bench(BASS)
    before = action_pull(bench.case())
    assert before.mean == pytest.approx(2.74, abs=0.01)
    bench.reading("relief", 0.70)
    bench.reading("height.4", 3.2, error=0.02)
    bench.turn(Part.ROD, 2)
    bench.reading("relief", 0.50)
    bench.reading("height.4", 2.9, error=0.02)
    after = action_pull(bench.case())
    assert after.count == 1
    assert 1.5 < after.mean < before.mean


def test_a_height_after_a_turn_of_the_rod_is_foreseen() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.70)
    bench.reading("height.4", 3.2)
    bench.turn(Part.ROD, 1)
    bench.reading("relief", 0.60)
    forecast = expected_reading(bench.case(), bench.state("height.4"))
    assert forecast is not None
    assert forecast.value == pytest.approx(3.2 - 0.1 * 2.74, abs=0.01)
    assert "geometry" in forecast.basis


def test_without_a_turn_nothing_is_foreseen() -> None:
    bench = Bench(BASS)
    bench.reading("height.4", 3.2)
    assert expected_reading(bench.case(), bench.state("height.4")) is None
