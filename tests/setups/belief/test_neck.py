"""The neck, its rod and the heights over it: how a turn moves them and what a reading teaches."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, GUITAR, POSTS, spec_of, the_trade
from webapp.physics.mixture import Floats, Seen
from webapp.setups.belief.frame import Frame
from webapp.setups.belief.neck import (
    HEIGHTS,
    KAPPA,
    PITCH,
    RELIEF,
    RESPONSE,
    REVERSED,
    STUCK,
    NeckBelief,
    rod_classes,
)
from webapp.trade.words import RodType

calm = settings(deadline=None, max_examples=25)
kinds = st.sampled_from([BASS, GUITAR, POSTS])
eighths = st.integers(-8, 8).filter(bool)
SLIP, ELSEWHERE = 0.015, 0.005


def neck_of(kind: str = BASS, *, play: bool = True, **changes: object) -> NeckBelief:
    """Nothing read yet; without play, a rod takes hold at once whichever way it is turned."""
    neck = Frame(spec_of(kind, **changes), the_trade()).neck()
    if play:
        return neck
    rod = neck.priors.rod.model_copy(update={"play_eighths": (0.0,), "play_shares": (1.0,)})
    return replace(neck, priors=neck.priors.model_copy(update={"rod": rod}))


def read(neck: NeckBelief, column: int, value: float, sigma: float = 0.02) -> NeckBelief:
    return neck.observed(column, Seen(value, value, sigma), SLIP, ELSEWHERE)[0]


def mean(neck: NeckBelief, column: int) -> float:
    return neck.mixture.moments(neck.row(column))[0]


def spread(neck: NeckBelief, column: int) -> float:
    return neck.mixture.moments(neck.row(column))[1]


def heights(neck: NeckBelief) -> Floats:
    return np.asarray(neck.mixture.weights @ neck.mixture.means[:, HEIGHTS:])


# The rod


@calm
@given(kind=kinds, turned=eighths)
def test_a_turn_of_the_rod_and_back_leaves_what_is_believed(kind: str, turned: int) -> None:
    before = neck_of(kind, play=False)
    after = before.rod_turned(turned).rod_turned(-turned).arrived()
    assert mean(after, RELIEF) == pytest.approx(mean(before, RELIEF), abs=1e-9)
    assert heights(after) == pytest.approx(heights(before), abs=1e-9)
    # Not that anybody would be as sure of it.
    assert spread(after, RELIEF) > spread(before, RELIEF)


@calm
@given(kind=kinds, turned=eighths)
def test_tightening_takes_relief_out_and_the_strings_down_with_it(kind: str, turned: int) -> None:
    before = neck_of(kind)
    after = before.rod_turned(turned).arrived()
    assert (mean(after, RELIEF) < mean(before, RELIEF)) is (turned > 0)
    assert np.all((heights(after) < heights(before)) == (turned > 0))


def test_heights_go_with_the_relief_by_kappa() -> None:
    before = neck_of(play=False)
    after = before.rod_turned(2).arrived()
    fallen = mean(before, RELIEF) - mean(after, RELIEF)
    assert heights(before) - heights(after) == pytest.approx(np.full(4, fallen * mean(before, KAPPA)))


def test_most_of_a_turn_comes_at_once_and_the_rest_over_hours() -> None:
    before = neck_of()
    turned = before.rod_turned(2)
    whole = mean(before, RELIEF) - mean(turned.arrived(), RELIEF)
    at_once = mean(before, RELIEF) - mean(turned, RELIEF)
    rod = before.priors.rod
    assert at_once / whole == pytest.approx(1 - rod.creep_share)
    # After one time constant 1 - 1/e of what is left has come; after two days all of it.
    later = mean(before, RELIEF) - mean(turned.waited(rod.creep_hours), RELIEF)
    assert (later - at_once) / (whole - at_once) == pytest.approx(1 - np.exp(-1), abs=1e-6)
    assert mean(turned.waited(48), RELIEF) == pytest.approx(mean(turned.arrived(), RELIEF), abs=1e-4)


@calm
@given(parts=st.lists(st.floats(0.1, 20), min_size=1, max_size=5))
def test_however_the_waiting_is_cut_the_same_of_a_turn_has_come(parts: list[float]) -> None:
    turned = neck_of().rod_turned(2)
    cut = turned
    for hours in parts:
        cut = cut.waited(hours)
    assert mean(cut, RELIEF) == pytest.approx(mean(turned.waited(sum(parts)), RELIEF), abs=1e-6)


def test_waiting_moves_nothing_that_was_not_turned_and_widens_it_a_little() -> None:
    read_once = read(neck_of(), RELIEF, 0.3)
    season = read_once.waited(24 * 400)
    assert mean(season, RELIEF) == pytest.approx(mean(read_once, RELIEF))
    most = read_once.priors.between.season_mm
    assert spread(season, RELIEF) == pytest.approx(np.hypot(spread(read_once, RELIEF), most), rel=0.01)
    assert read_once.waited(0) is read_once


def test_play_is_taken_up_before_the_neck_answers() -> None:
    """Turned on the same way a rod goes on at once; turned back, it may be idle first."""
    on = neck_of().rod_turned(4)
    further = mean(on.arrived(), RELIEF) - mean(on.rod_turned(1).arrived(), RELIEF)
    back = mean(on.rod_turned(-1).arrived(), RELIEF) - mean(on.arrived(), RELIEF)
    assert 0 < back < further
    # Once it is taken up, it is gone.
    again = mean(on.rod_turned(-2).arrived(), RELIEF) - mean(on.rod_turned(-1).arrived(), RELIEF)
    at_once = on.rod_turned(-1).rod_turned(-1).arrived()
    assert back < again == pytest.approx(further)
    assert mean(at_once, RELIEF) == pytest.approx(mean(on.rod_turned(-2).arrived(), RELIEF))


@pytest.mark.parametrize(("truth", "turns"), [(0.03, 1), (0.03, 2), (0.10, 2)])
def test_a_steady_rod_is_learnt(truth: float, turns: int) -> None:
    neck, relief = read(neck_of(play=False), RELIEF, 0.9), 0.9
    unsure = [spread(neck.rod_turned(1), RESPONSE)]
    for _ in range(3):
        neck = neck.rod_turned(turns)
        relief -= truth * turns * (1 - neck.priors.rod.creep_share)
        neck = read(neck, RELIEF, relief)
        unsure.append(spread(neck, RESPONSE))
    assert mean(neck, RESPONSE) == pytest.approx(truth, rel=0.3)
    assert unsure[-1] < unsure[1] < unsure[0]


def test_a_card_teaches_too() -> None:
    """Two cards fitted, now one does: the rod takes out more than nothing, and not more than two cards."""
    neck = neck_of().observed(RELIEF, Seen(0.6, 0.9, 0.03), SLIP, 0.1)[0].rod_turned(2)
    dead = neck.observed(RELIEF, Seen(0.6, 0.9, 0.03), SLIP, 0.1)[0]
    alive = neck.observed(RELIEF, Seen(0.3, 0.6, 0.03), SLIP, 0.1)[0]
    assert mean(dead, RESPONSE) < mean(neck, RESPONSE) < mean(alive, RESPONSE)


@pytest.mark.parametrize(
    ("turned", "felt", "works"), [(2, "less", True), (2, "more", False), (-2, "more", True)]
)
def test_more_or_less_room_than_before_says_whether_the_rod_works(
    turned: int, felt: str, works: bool
) -> None:
    low, high = {"less": (-inf, -0.03), "more": (0.03, inf)}[felt]
    neck = neck_of().rod_turned(turned)
    then = neck.compared(Seen(low, high, 0.03), SLIP, 1 / 3)
    assert (then.rod_chance(REVERSED) < neck.rod_chance(REVERSED)) is works
    assert (mean(then, RESPONSE) > mean(neck, RESPONSE)) is works


def test_the_same_room_as_before_speaks_for_a_weak_or_stuck_rod() -> None:
    neck = neck_of().rod_turned(2)
    same = neck.compared(Seen(-0.03, 0.03, 0.03), SLIP, 1 / 3)
    assert same.rod_chance(STUCK) > 3 * neck.rod_chance(STUCK)
    assert mean(same, RESPONSE) < mean(neck, RESPONSE)


def test_a_rod_that_never_answers_is_named_and_one_that_answers_is_not() -> None:
    for truth, stuck in ((0.0, True), (0.04, False)):
        neck, relief = read(neck_of(play=False), RELIEF, 0.9), 0.9
        for _ in range(4):
            neck, relief = neck.rod_turned(2), relief - 2 * truth
            neck = read(neck, RELIEF, relief, 0.015)
        assert (neck.rod_chance(STUCK) > 0.9) is stuck
        assert neck.rod_chance(STUCK) < 0.01 or stuck


def test_a_rod_that_works_the_other_way_round_is_named() -> None:
    neck = read(neck_of(), RELIEF, 0.5)
    for relief in (0.6, 0.7):
        neck = read(neck.rod_turned(2), RELIEF, relief)
    assert neck.rod_chance(REVERSED) > 0.9
    assert mean(neck, RESPONSE) < 0


def test_a_rod_that_will_not_move_is_likely_stuck() -> None:
    neck = neck_of()
    before = neck.rod_chance(STUCK)
    assert before == neck.priors.rod.stuck
    assert neck.will_not_turn().rod_chance(STUCK) > 10 * before


def test_the_rods_classes_are_chances() -> None:
    means, sds, chances = rod_classes(the_trade().belief.rod)
    assert chances.sum() == pytest.approx(1.0)
    assert means[STUCK] == 0 and means[REVERSED] < 0 and np.all(means[2:] > 0)
    assert np.all(sds > 0)


def test_without_a_rod_nothing_turns() -> None:
    neck = neck_of(rod={"type": RodType.NONE})
    assert neck.rod_turned(2) is neck


# The heights


@calm
@given(kind=kinds, turned=st.integers(-24, 24).filter(bool))
def test_a_turn_of_a_screw_and_back_leaves_what_is_believed(kind: str, turned: int) -> None:
    before = neck_of(kind)
    gains = Frame(spec_of(kind), the_trade()).height_gains(None, None)
    after = before.saddles_turned(turned, gains).saddles_turned(-turned, gains)
    assert heights(after) == pytest.approx(heights(before), abs=1e-9)
    assert mean(after, RELIEF) == pytest.approx(mean(before, RELIEF))


def test_a_saddle_moves_its_own_string_by_its_thread() -> None:
    frame = Frame(spec_of(BASS, bridge={"height_thread": "M3"}), the_trade())
    before = frame.neck()
    after = before.saddles_turned(8, frame.height_gains(3, None))
    gained = heights(after) - heights(before)
    # A turn of M3 is 0.5 mm at the saddle, and 2.126 mm there are one at the 12th; it may be another thread.
    assert gained[1] == pytest.approx(0.5 / 2.126, rel=0.1)
    assert np.delete(gained, 1) == pytest.approx(np.zeros(3))


@pytest.mark.parametrize("pitch", [0.45, 0.5, 0.7, 1.0])
def test_one_whole_turn_between_two_readings_shows_the_thread(pitch: float) -> None:
    frame = Frame(spec_of(BASS, bridge={"height_thread": "unknown"}), the_trade())
    gains = frame.height_gains(4, None)
    neck = read(frame.neck(), HEIGHTS, 3.0, 0.015).saddles_turned(-16, gains)
    neck = read(neck, HEIGHTS, 3.0 - 2 * pitch * gains[0], 0.015)
    assert mean(neck, PITCH) == pytest.approx(pitch, rel=0.1)
    # One bridge, one thread: the next string needs no trying.
    sure = neck.saddles_turned(8, frame.height_gains(1, None))
    assert heights(sure)[3] - heights(neck)[3] == pytest.approx(pitch * gains[0], rel=0.1)


def test_heights_of_one_board_lean_on_one_another() -> None:
    before = neck_of()
    high = heights(before)[0] + 1.0
    after = read(read(before, HEIGHTS, high), HEIGHTS + 3, heights(before)[3] + 1.0)
    risen = heights(after) - heights(before)
    assert np.all(risen > 0.5)
    assert spread(after, HEIGHTS + 1) < spread(before, HEIGHTS + 1)


def test_a_place_freed_forgets_and_no_other_does() -> None:
    neck = read(read(neck_of(), HEIGHTS, 2.5), HEIGHTS + 3, 2.0)
    freed = neck.freed(HEIGHTS, 0.8)
    assert spread(freed, HEIGHTS) == pytest.approx(0.8)
    assert spread(freed, HEIGHTS + 3) == pytest.approx(spread(neck, HEIGHTS + 3))
