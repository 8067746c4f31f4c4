"""The clearance map of a string: its places, what a touch leaves, and what it rests on."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.setups.journals import ACOUSTIC, BASS, Bench, all_kinds
from webapp.physics.clearance import touching
from webapp.setups.clearance_map import (
    BEFORE_A_TURN,
    MEASURED,
    OWN,
    STAND_IN,
    ClearanceMap,
    Room,
    clearance_map,
    default_touch,
    named_swing,
    named_swings,
    rests_on,
)
from webapp.setups.journal import Part
from webapp.setups.setting import setting_of
from webapp.setups.touch import Swing
from webapp.trade.spec import OwnSwing


def map_of(bench: Bench, number: int, swing_mm: float) -> ClearanceMap:
    swing = Swing(swing_mm, 0.0, "typed")
    return clearance_map(setting_of(bench.case(), number), swing, bench.trade.swing.close_times)


def test_every_pair_of_frets_is_there_once() -> None:
    found = map_of(Bench(BASS), 4, 0.9)
    pairs = {(p.fretted, p.over) for p in found.places()}
    assert pairs == {(n, m) for n in range(1, 20) for m in range(n + 1, 21)}
    assert sum(len(found.of_room(room)) for room in Room) == len(pairs) == 190


@given(
    kind=st.sampled_from(all_kinds()),
    relief=st.floats(0.0, 0.6),
    height=st.floats(1.0, 4.0),
    swing=st.floats(0.05, 2.0),
)
def test_a_place_touches_where_the_physics_says_so(
    kind: str, relief: float, height: float, swing: float
) -> None:
    bench = Bench(kind)
    bench.reading("relief", relief)
    bench.reading("height.1", height)
    found = map_of(bench, 1, swing)
    setting = found.setting
    truth = touching(setting.neck, setting.saddle_mm, setting.pluck_mm, swing)
    assert all((p.room is Room.TOUCHES) == truth[p.fretted, p.over] for p in found.places())


@given(relief=st.floats(0.0, 0.5), height=st.floats(1.5, 3.5))
def test_the_first_touch_is_the_tightest_place(relief: float, height: float) -> None:
    bench = Bench(BASS)
    bench.reading("relief", relief)
    bench.reading("height.4", height)
    clean = setting_of(bench.case(), 4).clean
    just = map_of(bench, 4, clean.swing_mm)
    # On a dead straight neck several places are met at once, so the room is compared and not the fret.
    tightest = min((just.tightest(n) for n in just.starts), key=lambda p: p.gap_mm / p.swing_mm)
    for place in (tightest, just.place(clean.fretted, clean.over)):
        assert place.left_mm == pytest.approx(0, abs=1e-9)
    assert just.left_mm == pytest.approx(0, abs=1e-9)


def test_close_is_what_a_harder_pluck_would_touch() -> None:
    bench = Bench(BASS)
    now, harder = map_of(bench, 4, 0.9), map_of(bench, 4, 0.9 * bench.trade.swing.close_times)
    close = {(p.fretted, p.over) for p in now.of_room(Room.CLOSE)}
    touched = {(p.fretted, p.over) for p in now.of_room(Room.TOUCHES)}
    assert close
    assert close | touched == {(p.fretted, p.over) for p in harder.of_room(Room.TOUCHES)}


@pytest.mark.parametrize(("fretted", "over"), [(0, 3), (5, 5), (7, 4), (19, 21)])
def test_a_place_off_the_map_is_refused(fretted: int, over: int) -> None:
    with pytest.raises(ValueError):
        map_of(Bench(BASS), 4, 0.9).place(fretted, over)


def test_a_firmer_touch_swings_further() -> None:
    swings = {s.key: s.swing.mm for s in named_swings(Bench(BASS).case(), 4)}
    assert swings["light"] < swings["medium"] < swings["firm"]
    assert OWN not in swings


def test_the_own_touch_comes_first_where_it_was_found() -> None:
    case = Bench(BASS, own_swing=OwnSwing(string=4, swing_mm=0.7, error_mm=0.05)).case()
    assert default_touch(case) == OWN
    assert named_swings(case, 4)[0].key == OWN
    assert named_swing(case, 4, OWN).swing.mm == pytest.approx(0.7)


def test_a_touch_that_was_not_found_is_refused() -> None:
    with pytest.raises(ValueError):
        named_swing(Bench(BASS).case(), 4, OWN)


def test_what_it_rests_on_is_named() -> None:
    bench = Bench(ACOUSTIC)
    assert [r.source for r in rests_on(bench.case(), setting_of(bench.case(), 6))] == [STAND_IN, STAND_IN]
    bench.reading("relief", 0.2)
    bench.reading("height.6", 2.6)
    assert [r.source for r in rests_on(bench.case(), setting_of(bench.case(), 6))] == [MEASURED, MEASURED]
    bench.turn(Part.ROD, 1)
    assert [r.source for r in rests_on(bench.case(), setting_of(bench.case(), 6))] == [BEFORE_A_TURN] * 2
