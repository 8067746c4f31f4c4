"""Places that screws of one thread move: saddles along the string, pickups; and a nut that nothing moves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, spec_of, the_trade
from webapp.physics.mixture import Floats, Seen
from webapp.setups.belief.frame import Frame
from webapp.setups.belief.places import PITCH, VALUES, PlacesBelief

calm = settings(deadline=None, max_examples=25)
SLIP, ELSEWHERE = 0.015, 0.005
TUNED = Frame(spec_of(BASS, bridge={"intonation_thread": "unknown"}), the_trade())


def moved(string_index: int) -> Floats:
    """What a mm of one saddle's travel does to every place."""
    gains = np.zeros(8)
    gains[string_index] = TUNED.tuning_gains[string_index]
    return gains


def read(places: PlacesBelief, index: int, value: float, sigma: float = 1.0) -> PlacesBelief:
    return places.observed(places.row({index: 1.0}), Seen(value, value, sigma), SLIP, ELSEWHERE)[0]


def moments(places: PlacesBelief, index: int) -> tuple[float, float]:
    return places.mixture.moments(places.row({index: 1.0}))


@calm
@given(turned=st.integers(-40, 40).filter(bool), index=st.integers(0, 3))
def test_a_screw_turned_and_back_leaves_what_is_believed(turned: int, index: int) -> None:
    before = TUNED.tuning()
    after = before.turned(turned, moved(index)).turned(-turned, moved(index))
    for place in range(8):
        assert moments(after, place)[0] == pytest.approx(moments(before, place)[0], abs=1e-9)
        assert moments(after, place)[1] >= moments(before, place)[1] - 1e-9


@calm
@given(turned=st.integers(-40, 40).filter(bool))
def test_a_saddle_moved_back_flattens_its_own_string_and_no_other(turned: int) -> None:
    before = TUNED.tuning()
    after = before.turned(turned, moved(2))
    assert (moments(after, 2)[0] < moments(before, 2)[0]) is (turned > 0)
    for other in (0, 1, 3):
        assert moments(after, other) == pytest.approx(moments(before, other))


@calm
@given(first=st.floats(-20, 20), second=st.floats(-20, 20))
def test_until_a_screw_is_turned_one_string_says_nothing_of_another(first: float, second: float) -> None:
    """So their readings may come in any order."""
    before = TUNED.tuning()
    one, other = read(read(before, 0, first), 1, second), read(read(before, 1, second), 0, first)
    for place in range(8):
        assert moments(one, place) == pytest.approx(moments(other, place), abs=1e-6)
    assert moments(read(before, 0, first), 1) == pytest.approx(moments(before, 1))


@pytest.mark.parametrize("pitch", [0.5, 0.7])
def test_one_turned_saddle_shows_the_thread_of_all(pitch: float) -> None:
    cents = -4 * pitch * TUNED.tuning_gains[0]
    places = read(read(TUNED.tuning(), 0, cents, 0.3), 1, 20.0, 0.3)
    places = read(places.turned(32, moved(0)), 0, 0.0, 0.3)
    assert places.mixture.moments(places.mixture.unit(PITCH))[0] == pytest.approx(pitch, rel=0.08)
    # The other string, never turned yet, is foreseen by it.
    after = places.turned(16, moved(1))
    assert moments(after, 1)[0] == pytest.approx(20.0 + 2 * pitch * TUNED.tuning_gains[1], abs=0.6)


def test_a_short_turn_read_coarsely_shows_no_thread() -> None:
    before = read(TUNED.tuning(), 0, 6.0, 1.5).turned(2, moved(0))
    after = read(before, 0, 5.0, 1.5)
    spread = after.mixture.moments(after.mixture.unit(PITCH))[1]
    assert spread > 0.8 * before.mixture.moments(before.mixture.unit(PITCH))[1]


def test_what_springs_do_is_not_known_until_it_is_seen() -> None:
    prior = the_trade().belief.before
    level = Frame(spec_of("electric_6_floating"), the_trade()).level()
    turned = read(level, 0, 1.0, 0.01).turned(8, np.array([-1.0]))
    mean, sd = moments(turned, 0)
    assert mean == pytest.approx(1.0 - prior.springs_mm, abs=0.01)
    assert sd == pytest.approx(prior.springs_spread_mm, rel=0.1)
    seen = read(turned, 0, 0.6, 0.02)
    assert seen.mixture.moments(seen.mixture.unit(PITCH))[0] == pytest.approx(0.4, abs=0.1)
    assert moments(seen.turned(8, np.array([-1.0])), 0)[0] == pytest.approx(0.2, abs=0.1)


def test_the_high_fret_and_the_twelfth_add_up() -> None:
    places = TUNED.tuning()
    row = places.row({0: 2.0, 4: 1.0})
    assert places.mixture.moments(row)[0] == pytest.approx(2 * moments(places, 0)[0] + moments(places, 4)[0])


def test_something_else_that_moves_all_of_them() -> None:
    before = TUNED.tuning()
    by, noise = np.arange(8.0), np.full(8, 4.0)
    after = before.shifted(by, noise)
    for place in range(8):
        mean, sd = moments(before, place)
        assert moments(after, place) == pytest.approx((mean + by[place], np.hypot(sd, 2.0)))


def test_one_place_believed_anew() -> None:
    places = read(read(TUNED.tuning(), 0, 6.0), 1, 3.0)
    kept = places.freed(0, 9.0)
    assert moments(kept, 0) == pytest.approx((moments(places, 0)[0], 9.0))
    anew = places.freed(0, 9.0, -1.0)
    assert moments(anew, 0) == pytest.approx((-1.0, 9.0))
    assert moments(anew, 1) == pytest.approx(moments(places, 1))
    assert anew.mixture.means.shape[1] == VALUES + 8
