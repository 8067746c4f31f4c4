"""Readings said another way, and what the next reading should show after a turn that is advised."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, GUITAR, POSTS, Bench, all_kinds, spec_of
from webapp.setups.geometry import (
    STANDARD_HEIGHT,
    HeightWay,
    ReliefWay,
    height_between,
    relief_factor,
    saddle_per_action,
)
from webapp.setups.states import Advice, Forecast, Word
from webapp.trade.words import Check, Side

QUICK = settings(max_examples=60, deadline=None, database=None)


def relief_ways(fret_count: int, joint: int) -> st.SearchStrategy[ReliefWay]:
    """Any three frets in order, held before the joint."""
    return (
        st.lists(st.integers(0, fret_count), min_size=3, max_size=3, unique=True)
        .map(sorted)
        .filter(lambda frets: frets[0] < joint - 1)
        .map(lambda frets: ReliefWay(frets[0], frets[2], frets[1]))
    )


def test_the_same_bow_reads_more_when_pressed_higher_up() -> None:
    # The design's worked example: 0.30 held 1, pressed 13, gap 7 is about 0.53 held 1, pressed 20, gap 8.
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.53, step=0.01, hold=1, press=20, gap=8)
    state = bench.state("relief")
    assert state.value == pytest.approx(0.30, abs=0.005)
    assert state.verdict.word is Word.GOOD
    usual = Bench(BASS).up_to(Check.RELIEF)
    usual.reading("relief", 0.53, step=0.01)
    assert usual.state("relief").value == pytest.approx(0.53, abs=0.005)
    assert usual.state("relief").verdict.word is Word.TOUCH_HIGH
    # The blade's error counts for as much less as the reading does.
    assert state.give < usual.state("relief").give


@QUICK
@given(data=st.data())
def test_relief_goes_round_trip_between_any_two_ways(data: st.DataObject) -> None:
    spec = spec_of(data.draw(st.sampled_from(all_kinds())))
    ways = relief_ways(spec.fret_count, spec.joint_fret)
    here, there, between = data.draw(ways), data.draw(ways), data.draw(ways)
    factor = relief_factor(spec, here, there)
    assert factor > 0
    assert factor * relief_factor(spec, there, here) == pytest.approx(1, rel=1e-9)
    assert relief_factor(spec, here, between) * relief_factor(spec, between, there) == pytest.approx(factor)


@QUICK
@given(data=st.data())
def test_height_goes_round_trip_between_any_two_ways(data: st.DataObject) -> None:
    spec = spec_of(data.draw(st.sampled_from(all_kinds())))
    frets = st.tuples(st.integers(0, 5), st.integers(6, spec.fret_count))
    here, there = (HeightWay(*data.draw(frets)) for _ in range(2))
    number = data.draw(st.integers(1, len(spec.strings)))
    value, bow = data.draw(st.floats(0.5, 6)), data.draw(st.floats(-1e-5, 3e-5))
    nut_gap = data.draw(st.floats(0, 1))
    assume(here != there)
    said = height_between(spec, number, value, here, there, bow, nut_gap)
    back = height_between(spec, number, said, there, here, bow, nut_gap)
    assert back == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("kind", [BASS, GUITAR, CLASSICAL])
def test_open_reads_higher_than_held(kind: str) -> None:
    # On a straight neck a string held at 1 leaves the 12th lower by about half the gap over fret 1.
    spec = spec_of(kind)
    for gap in (0.0, 0.3, 0.6):
        held = height_between(spec, 1, 2.5, HeightWay(0, 12), STANDARD_HEIGHT, 0.0, gap)
        assert held == pytest.approx(2.5 - 0.53 * gap, abs=0.01)


def test_an_open_height_counts_the_nut_that_is_known() -> None:
    def said(nut_mm: float) -> float:
        bench = Bench(BASS).up_to(Check.HEIGHT)
        bench.reading("nut.4", nut_mm, step=0.01)
        bench.reading("height.4", 2.8, step=0.05, hold=0, gap=12)
        return bench.state("height.4").value

    assert said(0.2) - said(0.6) == pytest.approx(0.53 * 0.4, abs=0.03)


def test_the_last_fret_reads_higher_on_a_straight_neck_and_the_bow_counts() -> None:
    spec = spec_of(BASS)
    last = HeightWay(1, 20)
    straight = height_between(spec, 4, 2.5, STANDARD_HEIGHT, last, 0.0, 0.4)
    bowed = height_between(spec, 4, 2.5, STANDARD_HEIGHT, last, 7.44e-6, 0.4)
    assert straight == pytest.approx(
        2.5 * (2 ** (-1 / 12) - 2 ** (-20 / 12)) / (2 ** (-1 / 12) - 0.5), abs=1e-6
    )
    assert bowed < straight  # the held end stands higher, so the string at 12 clears less of the same angle


def advice_for(bench: Bench, key: str) -> tuple[Advice, Forecast]:
    advice = bench.state(key).advice
    assert advice is not None and advice.turn is not None and advice.forecast is not None
    return advice, advice.forecast


@pytest.mark.parametrize("way", [(1, 13, 7), (1, 20, 8), (2, 16, 9)])
def test_a_relief_forecast_is_the_same_whichever_way_it_was_read(way: tuple[int, int, int]) -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    hold, press, gap = way
    factor = relief_factor(bench.spec, bench.case().relief_standard, ReliefWay(hold, press, gap))
    bench.reading("relief", 0.9 * factor, step=0.01, hold=hold, press=press, gap=gap)
    advice, forecast = advice_for(bench, "relief")
    assert advice.turn is not None and advice.turn.eighths > 0
    # Practice: an eighth takes out some 0.06 mm, and hardly less than 0.02 or more than 0.2.
    for_an_eighth = (0.9 - forecast.value) / advice.turn.eighths
    assert 0.03 < for_an_eighth < 0.09
    assert forecast.give > 0.02 * advice.turn.eighths
    assert "ordinary neck" in forecast.basis


def test_a_coarse_tool_widens_the_forecast() -> None:
    gives = []
    for detail in ({"step": 0.01}, {"low": 0.6, "high": 1.2}):
        bench = Bench(BASS).up_to(Check.RELIEF)
        bench.reading("relief", 0.9, **detail)
        gives.append(advice_for(bench, "relief")[1].give)
    assert gives[0] < gives[1]


@pytest.mark.parametrize("way", [(1, 12), (0, 12), (1, 20)])
def test_a_height_forecast_is_what_the_thread_makes_of_the_turn(way: tuple[int, int]) -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    hold, gap = way
    case = bench.case()
    typed = height_between(
        bench.spec, 4, 3.6, STANDARD_HEIGHT, HeightWay(*way), case.neck.curvature_per_mm, case.nut_gap_mm(4)
    )
    bench.reading("height.4", typed, step=0.05, hold=hold, gap=gap)
    advice, forecast = advice_for(bench, "height.4")
    assert advice.turn is not None and advice.turn.eighths < 0
    # M3 is 0.5 mm a turn; held at 1, the string over the 12th moves by 1 / 2.126 of what its saddle moves.
    # That the thread is told wrongly is possible, so a little more is expected.
    moved = forecast.value - bench.state("height.4").value
    assert moved == pytest.approx(advice.turn.eighths / 8 * 0.5 / 2.126, rel=0.12)


def test_a_post_forecast_counts_how_far_the_string_stands_from_the_posts() -> None:
    bench = Bench(POSTS, bridge={"height_thread": "M4"}).up_to(Check.HEIGHT)
    for number in bench.numbers:
        bench.reading(f"height.{number}", 2.9 - 0.06 * (6 - number), step=0.05)
    advice, forecast = advice_for(bench, "height.6")
    assert advice.turn is not None and advice.turn.side is Side.BASS
    # Posts 74 mm apart, strings 51: the outer string stands 11.5 mm in, so it moves by 62.5/74 of the post.
    string = advice.turn.eighths / 8 * 0.7 * 62.5 / 74
    moved = forecast.value - bench.state("height.6").value
    assert moved == pytest.approx(string / 2.126, rel=0.1)


def test_an_intonation_forecast_at_the_twelfth() -> None:
    bench = Bench(BASS).up_to(Check.INTONATION)
    bench.reading("intonation.4.12", 9)
    bench.reading("intonation.4.high", 18)
    advice, forecast = advice_for(bench, "intonation.4.12")
    # Design: 2.00 cents for a millimetre at the 12th of this bass; M3 is 0.5 mm a turn.
    assert advice.turn is not None and advice.turn.eighths > 0
    moved = forecast.value - bench.state("intonation.4.12").value
    assert moved == pytest.approx(-advice.turn.eighths / 8 * 0.5 * 2.0, rel=0.12)
    assert "12th" in forecast.basis


@pytest.mark.parametrize("kind", [BASS, GUITAR, ACOUSTIC, CLASSICAL])
def test_saddle_travel_for_a_height(kind: str) -> None:
    spec = spec_of(kind)
    for number in range(1, len(spec.strings) + 1):
        # The scale length cancels: held at 1 it is 1 / (1 - 2^(-11/12)), open exactly 2.
        assert saddle_per_action(spec, number, STANDARD_HEIGHT) == pytest.approx(1 / (1 - 2 ** (-11 / 12)))
        assert saddle_per_action(spec, number, HeightWay(0, 12)) == pytest.approx(2)


@pytest.mark.parametrize("kind", all_kinds())
@pytest.mark.parametrize("far", [-0.4, 1.4])
def test_a_forecast_leads_nearer_to_the_target(kind: str, far: float) -> None:
    """Whatever is read outside its usual band, the turn that is advised is expected to help."""
    bench = Bench(kind).up_to(Check.PLAYTEST)
    for key in bench.keys(*Check):
        usual = bench.state(key).bands.usual
        fresh = Bench(bench.spec)
        fresh.entries, fresh.now = list(bench.entries), bench.now
        for _ in range(2):  # once may be taken for a slip
            fresh.reading(key, usual.low + far * usual.width)
        state = fresh.state(key)
        if state.advice is None or state.advice.forecast is None or key.endswith("high"):
            continue
        middle = state.bands.target.middle
        assert abs(state.advice.forecast.value - middle) < abs(state.value - middle), key


@pytest.mark.parametrize("joint", [5, 6, 7, 8, 12])
@pytest.mark.parametrize("kind", all_kinds())
def test_a_very_low_neck_joint_still_has_a_way_to_read_relief(kind: str, joint: int) -> None:
    bench = Bench(kind, joint_fret=joint).up_to(Check.RELIEF)
    way = bench.case().relief_standard
    assert way.hold < way.gap < way.press
    bench.reading("relief")
    bench.reading(f"height.{bench.numbers[0]}", hold=0, gap=12)
    assert bench.state("relief").verdict.word is Word.GOOD
