"""The clearance map of a string: its places, what a touch leaves, and what it rests on."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.setups.journals import ACOUSTIC, BASS, Bench, all_kinds
from webapp.physics.clearance import clearances, reach_map
from webapp.setups.case import TouchSwing
from webapp.setups.journal import Part
from webapp.setups.strings.string_setting import setting_of
from webapp.setups.tryout.clearance_map import (
    AFTER_A_CHANGE,
    FROM_THE_OTHERS,
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
from webapp.trade.spec import OwnSwing


def map_of(bench: Bench, number: int, swing_mm: float) -> ClearanceMap:
    swing = TouchSwing(swing_mm, 0.0, "typed")
    return clearance_map(setting_of(bench.case(), number), swing, bench.trade.swing.close_times)


def test_every_pair_of_frets_is_there_once() -> None:
    found = map_of(Bench(BASS), 4, 0.9)
    pairs = {(p.fretted, p.over) for p in found.places()}
    assert pairs == {(n, m) for n in range(1, 20) for m in range(n + 1, 21)}
    assert sum(len(found.of_room(room)) for room in Room) == len(pairs) == 190


def test_the_open_string_is_a_row_once_its_nut_was_read() -> None:
    bench = Bench(BASS)
    bench.reading("nut.4", 0.35)
    found = map_of(bench, 4, 0.9)
    opened = found.row(0)
    assert [p.over for p in opened] == list(range(1, 21))
    assert opened[0].gap_mm == pytest.approx(setting_of(bench.case(), 4).nut_gap_mm)
    # The open string lies higher over fret 12 than the same string held at 1.
    assert opened[11].gap_mm > found.setting.action_mm
    assert len({(p.fretted, p.over) for p in found.places()}) == 210
    assert map_of(bench, 3, 0.9).starts == range(1, 20)


def test_a_worn_nut_touches_open_and_nowhere_else() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.3)
    bench.reading("height.4", 2.6)
    bench.reading("nut.4", 0.05)
    found = map_of(bench, 4, 0.8)
    assert found.tightest(0).room is Room.TOUCHES and found.tightest(0).over <= 2
    assert {p.fretted for p in found.of_room(Room.TOUCHES)} == {0}
    assert found.left_mm > 0


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
    left = clearances(setting.neck, setting.saddle_mm) - swing * reach_map(setting.neck, setting.pluck_mm)
    assert all((p.room is Room.TOUCHES) == (left[p.fretted, p.over] < 0) for p in found.places())


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
    assert [r.source for r in rests_on(bench.case(), setting_of(bench.case(), 3))] == [
        MEASURED,
        FROM_THE_OTHERS,
    ]
    bench.turn(Part.ROD, 1)
    read = rests_on(bench.case(), setting_of(bench.case(), 6))
    assert [r.source for r in read] == [AFTER_A_CHANGE] * 2
    bench.reading("nut.6", 0.4)
    assert [r.name for r in rests_on(bench.case(), setting_of(bench.case(), 6))][2:] == ["Open, over fret 1"]


def test_what_was_never_read_is_said_without_a_give_or_take() -> None:
    bench = Bench(BASS)
    assert [r.give_mm for r in rests_on(bench.case(), setting_of(bench.case(), 4))] == [0.0, 0.0]
    bench.reading("relief", 0.3)
    bench.reading("height.4", 2.4)
    relief, height = rests_on(bench.case(), setting_of(bench.case(), 4))
    assert 0 < relief.give_mm < height.give_mm < 0.2
