"""Where a place stands: about so much, give or take, and how surely inside a band."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, GUITAR, POSTS, Bench, the_trade
from webapp.physics.mixture import Mixture
from webapp.setups.belief.standing import Standing, standing, uses_of
from webapp.setups.journal import Part
from webapp.setups.slots import Slot, all_slots
from webapp.trade.ranges import Band, Bands
from webapp.trade.words import Check

calm = settings(deadline=None, max_examples=25)
BANDS = Bands(target=Band(low=2, high=3), usual=Band(low=1.5, high=3.6), plausible=Band(low=0.3, high=8))
ENOUGH = the_trade().belief.enough


def at(mean: float, sd: float = 0.05) -> Mixture:
    return Mixture.single(np.array([mean]), np.array([sd]))


def use(mean: float, sd: float = 0.05) -> float:
    return float(uses_of(at(mean, sd), np.ones((1, 1)), BANDS, ENOUGH)[0])


@calm
@given(st.sampled_from([BASS, GUITAR, POSTS]), st.data())
def test_the_usual_band_is_never_less_likely_than_the_target(kind: str, draw: st.DataObject) -> None:
    bench = Bench(kind).start()
    for slot in draw.draw(st.lists(st.sampled_from(all_slots(bench.spec)), max_size=5)):
        usual = bench.case().bands(slot).usual
        far = usual.middle + draw.draw(st.floats(-0.8, 0.8)) * usual.width
        bench.reading(slot.key, far)
    case = bench.case()
    for slot in all_slots(bench.spec):
        stands, bands = case.standing(slot), case.bands(slot)
        in_target, in_usual = stands.chance(bands.target), stands.chance(bands.usual)
        assert 0 <= in_target <= in_usual + 1e-9 <= 1 + 2e-9, slot.key
        assert stands.give > 0
        assert stands.chance(Band(low=-1e4, high=1e4)) == pytest.approx(1.0)


def test_a_turn_that_nobody_read_after_may_have_gone_the_wrong_way_round() -> None:
    sure = Standing(at(2.5), np.ones(1))
    doubtful = Standing(at(2.5), np.ones(1), unread=-1.2, wrong_way=0.017)
    # The wrong way round it stands at 2.5 + 2 * 1.2, far outside.
    assert doubtful.chance(BANDS.usual) == pytest.approx(sure.chance(BANDS.usual) - 0.017, abs=1e-3)
    assert doubtful.mean == sure.mean and doubtful.give == sure.give
    little = Standing(at(2.5), np.ones(1), unread=-0.1, wrong_way=0.017)
    assert little.chance(BANDS.usual) == pytest.approx(sure.chance(BANDS.usual), abs=1e-3)
    # It then stands twice as far back as it was turned.
    often_wrong = Standing(at(2.5), np.ones(1), -1.2, 0.4)
    assert often_wrong.chance(Band(low=4.5, high=5.3)) == pytest.approx(0.4, abs=1e-3)


def test_what_was_turned_is_unread_until_it_is_read() -> None:
    bench = Bench(BASS).start()
    bench.reading("height.4", 4.0)
    bench.turn(Part.SADDLE_HEIGHT, -24, string=4)
    slot = Slot(Check.HEIGHT, string=4)
    unread = standing(bench.case().belief, slot)
    assert unread.unread == pytest.approx(-3 * 0.5 / 2.126, rel=0.1)
    assert unread.wrong_way == the_trade().belief.hand.wrong_way
    assert standing(bench.case().belief, Slot(Check.HEIGHT, string=3)).unread == 0
    bench.reading("height.4", 3.3)
    assert standing(bench.case().belief, slot).unread == 0


def test_a_high_fret_stands_where_both_its_readings_put_it() -> None:
    bench = Bench(BASS).start()
    slot = Slot(Check.INTONATION, string=4, high=True)
    for _ in range(3):
        bench.reading("intonation.4.12", 5)
        bench.reading("intonation.4.high", 9)
    assert bench.case().standing(slot).mean == pytest.approx(9, abs=0.5)
    at_17 = standing(bench.case().belief, slot, 17)
    assert 5 < at_17.mean < 9


@given(mean=st.floats(0.5, 4.5), sd=st.floats(0.01, 0.4))
def test_nothing_is_of_more_use_than_the_middle_of_the_target(mean: float, sd: float) -> None:
    assert use(mean, sd) <= use(2.5, sd) + 1e-9
    assert use(2.5, sd) <= 1.0


def test_use_falls_with_the_distance_also_where_no_chance_is_left() -> None:
    """Else a neck far off is never turned: no single turn brings it into the band."""
    far = [use(mean) for mean in (2.5, 3.3, 3.8, 5.0, 9.0, 20.0)]
    assert far == sorted(far, reverse=True) and len(set(far)) == len(far)
    assert use(2.5, 0.02) > use(2.5, 0.5)


def test_several_states_at_once_are_of_the_use_that_each_has_alone() -> None:
    mixture = Mixture.single(np.array([2.2, 1.0]), np.array([0.1, 0.2]))
    rows = np.array([[1.0, 0.0], [1.0, 0.5], [1.0, 3.0]])
    together = uses_of(mixture, rows, BANDS, ENOUGH)
    alone = [float(uses_of(mixture, row[None], BANDS, ENOUGH)[0]) for row in rows]
    assert together == pytest.approx(alone)
    assert np.all(np.isfinite(together)) and together.max() < inf
