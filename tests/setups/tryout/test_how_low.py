"""How low can it go: the heights are clean and no lower ones are, and the steps lead there."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, GUITAR, POSTS, Bench
from webapp.physics.clearance import clean_swing
from webapp.setups.geometry import neck_under, neck_with_relief
from webapp.setups.journal import CREAKS, WILL_NOT_MOVE, Part
from webapp.setups.tryout.clearance_map import OWN
from webapp.setups.tryout.how_low import LowPlan, how_low, least_eighths, lowest_bar
from webapp.trade.spec import OwnSwing
from webapp.trade.words import Side, Touch

TOUCHES = st.sampled_from([touch.value for touch in Touch])


def read_bench(kind: str, relief: float, heights: float, **changes: Any) -> Bench:
    bench = Bench(kind, **changes)
    bench.reading("relief", relief, step=0.01)
    for number in bench.numbers:
        bench.reading(f"height.{number}", round(heights - 0.1 * (len(bench.numbers) - number), 2))
    return bench


def clean_at(bench: Bench, number: int, relief_mm: float, action_mm: float) -> float:
    """The clean swing of a string at a relief and a height, by the physics alone."""
    case = bench.case()
    way = case.relief_standard
    bow = neck_with_relief(bench.spec, relief_mm, way.hold, way.press, way.gap).curvature_per_mm
    neck = neck_under(bench.spec, number, bow)
    return clean_swing(neck, neck.saddle_for_action(action_mm), case.pluck_mm).swing_mm


def rod_turns(plan: LowPlan) -> list[int]:
    return [s.turn.eighths for s in plan.steps if s.turn.part is Part.ROD]


@settings(max_examples=30, deadline=None)
@given(
    kind=st.sampled_from([BASS, GUITAR, POSTS, ACOUSTIC, CLASSICAL]),
    relief=st.floats(0.02, 0.6),
    height=st.floats(1.8, 4.0),
    touch=TOUCHES,
)
def test_the_lowest_height_is_clean_and_a_little_lower_touches(
    kind: str, relief: float, height: float, touch: str
) -> None:
    bench = read_bench(kind, relief, height)
    plan = how_low(bench.case(), touch)
    rod = [s for s in plan.steps if s.turn.part is Part.ROD]
    end = (rod[-1].after if rod else plan.now).relief.value
    for low in plan.strings:
        swing = low.swing.swing.mm
        assert clean_at(bench, low.number, end, low.lowest.action_mm) >= swing - 1e-4
        assert clean_at(bench, low.number, end, low.lowest.action_mm - 0.02) < swing
        assert low.aim_mm > low.lowest.action_mm


@settings(max_examples=25, deadline=None)
@given(relief=st.floats(0.02, 0.8), height=st.floats(1.8, 4.0), touch=TOUCHES)
def test_the_last_forecast_is_the_aim_to_an_eighth_of_a_turn(
    relief: float, height: float, touch: str
) -> None:
    bench = read_bench(BASS, relief, height)
    plan = how_low(bench.case(), touch)
    eighth_mm = bench.trade.threads[bench.spec.bridge.height_thread].pitch_mm / 8
    for low, end in zip(plan.strings, plan.end.heights, strict=True):
        # Rounded up to the next eighth, never down: on this bridge 2.126 mm of travel make 1 mm at the 12th.
        assert -0.005 <= end.value - low.aim_mm <= 1.15 * eighth_mm / 2.126 + 0.005


@settings(max_examples=25, deadline=None)
@given(relief=st.floats(0.02, 1.0), touch=TOUCHES)
def test_the_rod_goes_one_way_a_quarter_at_most_and_a_whole_turn_in_all(relief: float, touch: str) -> None:
    plan = how_low(read_bench(BASS, relief, 2.5).case(), touch)
    eighths = rod_turns(plan)
    assert all(abs(one) <= 2 for one in eighths) and abs(sum(eighths)) <= 8
    assert len({one > 0 for one in eighths}) <= 1
    if eighths:
        assert (eighths[0] > 0) == (plan.now.relief.value > plan.relief_aim_mm)
        before, after = (abs(s.relief.value - plan.relief_aim_mm) for s in (plan.now, plan.end))
        assert after < before
    # An eighth of an ordinary rod is about 0.06 mm: nearer than that, or the limit is said.
    near = abs(plan.end.relief.value - plan.relief_aim_mm) <= 0.06
    assert near or "one pass" in plan.rod_words


def test_the_rod_comes_before_the_saddles_and_moves_every_height() -> None:
    plan = how_low(read_bench(BASS, 0.7, 3.4).case(), "medium")
    parts = [step.turn.part for step in plan.steps]
    assert parts == sorted(parts, key=[Part.ROD, Part.SADDLE_HEIGHT].index)
    first = plan.steps[0].after
    for before, after in zip(plan.now.heights, first.heights, strict=True):
        # Practice: on a bass heights go by about 2.3 mm for one of relief.
        moved = (after.value - before.value) / (first.relief.value - plan.now.relief.value)
        assert moved == pytest.approx(2.3, abs=0.5)


def test_what_a_rod_has_shown_is_planned_with() -> None:
    def turns(shown_mm: float) -> int:
        bench = Bench(BASS)
        bench.start()
        bench.reading("relief", 0.9, step=0.01)
        bench.turn(Part.ROD, 2)
        bench.wait(hours=14)
        bench.reading("relief", round(0.9 - shown_mm, 2), step=0.01)
        return sum(rod_turns(how_low(bench.case(), "medium")))

    assert turns(0.24) < turns(0.12)


def test_more_than_a_whole_turn_is_not_planned() -> None:
    bench = Bench(BASS)
    for relief in (1.4, 1.35, 1.3, 1.25):
        bench.reading("relief", relief, step=0.01)
        bench.turn(Part.ROD, 2)
    bench.reading("relief", 1.2, step=0.01)
    plan = how_low(bench.case(), "medium")
    assert not rod_turns(plan) and "1 turn in one pass" in plan.rod_words
    bench.wait(hours=12)
    assert rod_turns(how_low(bench.case(), "medium"))


@pytest.mark.parametrize("answers", [[WILL_NOT_MOVE], [CREAKS, CREAKS]])
def test_a_rod_that_does_not_do_as_it_should_is_left_alone(answers: list[str]) -> None:
    bench = read_bench(BASS, 0.7, 3.0)
    for answer in answers:
        bench.observe("relief", answer=answer)
    plan = how_low(bench.case(), "medium")
    assert not rod_turns(plan) and "repairer" in plan.rod_words


def test_without_a_rod_the_relief_stays() -> None:
    plan = how_low(read_bench(CLASSICAL, 0.2, 4.2).case(), "medium")
    assert plan.end.relief.value == pytest.approx(plan.now.relief.value)
    assert plan.now.relief.value == pytest.approx(0.2, abs=0.02)
    assert "no rod" in plan.rod_words


def test_a_one_piece_saddle_is_a_repairers_at_its_two_ends() -> None:
    plan = how_low(read_bench(ACOUSTIC, 0.25, 3.2).case(), "medium")
    assert all(step.turn.part is Part.ROD for step in plan.steps)
    assert "off at the bass end" in plan.repairer and "off at the treble end" in plan.repairer


@settings(max_examples=20, deadline=None)
@given(height=st.floats(1.6, 2.6))
def test_two_posts_leave_no_string_below_its_aim(height: float) -> None:
    plan = how_low(read_bench(POSTS, 0.2, height, bridge={"height_thread": "M4"}).case(), "medium")
    sides = [s.turn.side for s in plan.steps if s.turn.part is Part.SADDLE_HEIGHT]
    assert sides in ([Side.BASS, Side.TREBLE], [Side.BASS], [Side.TREBLE], [])
    over = [end.value - low.aim_mm for low, end in zip(plan.strings, plan.end.heights, strict=True)]
    assert min(over) >= -0.005


def test_an_unknown_thread_is_turned_once_and_read() -> None:
    bench = read_bench(BASS, 0.3, 3.6, bridge={"height_thread": "unknown"})
    saddles = [s for s in how_low(bench.case(), "medium").steps if s.turn.part is Part.SADDLE_HEIGHT]
    assert [s.turn.eighths for s in saddles] == [-8] * 4
    assert all("for now" in s.do and "not known yet" in s.note for s in saddles)


def test_a_softer_own_touch_goes_lower() -> None:
    def lowest(swing_mm: float) -> float:
        own = OwnSwing(string=4, swing_mm=swing_mm, error_mm=0.02)
        return how_low(read_bench(BASS, 0.3, 3.0, own_swing=own).case(), OWN).strings[0].aim_mm

    assert lowest(0.5) < lowest(0.8)


def test_an_instrument_that_was_never_read_starts_from_its_targets() -> None:
    bench = Bench(BASS)
    plan = how_low(bench.case(), "medium")
    assert plan.now.relief.value == bench.case().bands_relief.target.middle
    assert plan.now.relief.give > 0.3 and plan.strings


@given(st.floats(-3, 3), st.floats(0.02, 0.1))
def test_a_saddle_is_rounded_up_to_the_next_eighth(want: float, gain: float) -> None:
    count = least_eighths(want, gain)
    assert count * gain >= want - 1e-5 > (count - 1) * gain - 1e-5


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-2, 2), min_size=6, max_size=6), st.floats(40, 90))
def test_the_bar_is_the_optimisers_to_a_step(wants: list[float], posts_mm: float) -> None:
    gains = Bench(POSTS, bridge={"post_spacing_mm": posts_mm}).case().frame
    ends = 0.1 * np.stack([gains.height_gains(None, side) for side in Side])
    bass, treble = lowest_bar(np.array(wants), ends)
    gained = bass * ends[0] + treble * ends[1]
    assert np.all(gained >= np.array(wants) - 1e-5)
    best = linprog(ends.sum(axis=1), A_ub=-ends.T, b_ub=-np.array(wants), bounds=[(None, None)] * 2)
    assert best.success
    # Whole steps lose about a step at each end; posts within the strings tilt up further for it.
    assert gained.sum() <= best.fun + (1.05 if posts_mm > 60 else 6) * ends.sum()
