"""The player's own touch: what a swing means, how a test finds it, and the targets made from it."""

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, CLASSICAL, GUITAR, Bench, all_kinds
from webapp.setups.case import Case
from webapp.setups.convert import HeightWay, read_at
from webapp.setups.journal import Part
from webapp.setups.own_touch import (
    Found,
    HeightTest,
    NotFound,
    boards_say,
    found_by_heights,
    rooms_mm,
    target_pairs,
    with_own,
)
from webapp.setups.setting import setting_of, with_action
from webapp.setups.slots import Slot
from webapp.setups.touch import lowest_for, swing_for, table_swing_mm
from webapp.trade.spec import OwnSwing
from webapp.trade.words import Check, Touch


def case_with(bench: Bench, found: Found) -> Case:
    return replace(bench.case(), spec=with_own(bench.spec, found.own))


@pytest.mark.parametrize("kind", all_kinds())
def test_a_medium_touch_is_the_clean_swing_of_the_middle_of_the_targets(kind: str) -> None:
    bench = Bench(kind)
    case = bench.case()
    for number in bench.numbers:
        assert setting_of(case, number).clean.swing_mm == pytest.approx(
            table_swing_mm(case, number, case.spec.touch)
        )


@pytest.mark.parametrize("kind", all_kinds())
@pytest.mark.parametrize("number", [1, 3])
def test_a_firmer_touch_swings_further(kind: str, number: int) -> None:
    case = Bench(kind).case()
    swings = [table_swing_mm(case, number, touch) for touch in (Touch.LIGHT, Touch.MEDIUM, Touch.FIRM)]
    assert swings == sorted(swings) and swings[0] < swings[2]


@settings(max_examples=40, deadline=None)
@given(
    kind=st.sampled_from([BASS, GUITAR, CLASSICAL]),
    relief=st.floats(0.05, 0.5),
    height=st.floats(1.8, 4.0),
    way=st.sampled_from([HeightWay(1, 12), HeightWay(0, 12), HeightWay(1, 19)]),
)
def test_the_test_finds_the_swing_whichever_way_the_height_is_read(
    kind: str, relief: float, height: float, way: HeightWay
) -> None:
    bench = Bench(kind)
    bench.reading("relief", relief)
    case = bench.case()
    setting = with_action(setting_of(case, 3), height)
    assume(setting.clean.swing_mm > 0)
    typed = read_at(setting.neck, setting.saddle_mm, way, case.nut_gap_mm(3))
    found = found_by_heights(case, HeightTest(3, typed, way=way))
    assert found.swing_mm == pytest.approx(setting.clean.swing_mm)


def test_the_error_holds_the_tool_the_relief_and_the_step() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.3)
    case = bench.case()
    there, higher = (with_action(setting_of(case, 4), height).clean.swing_mm for height in (2.4, 2.5))
    by_height = higher - there
    one = found_by_heights(case, HeightTest(4, 2.4, error_mm=0.1))
    fine = found_by_heights(case, HeightTest(4, 2.4, error_mm=0.02))
    stepped = found_by_heights(case, HeightTest(4, 2.4, 2.1, error_mm=0.1))
    assert fine.error_mm < one.error_mm < stepped.error_mm
    assert one.error_mm == pytest.approx(by_height, rel=0.2)
    assert stepped.swing_mm == one.swing_mm
    assert stepped.error_mm >= stepped.between.uncertain_mm > 0


def test_a_relief_that_was_never_read_makes_it_less_sure() -> None:
    bench = Bench(BASS)
    guessed = found_by_heights(bench.case(), HeightTest(4, 2.4))
    bench.reading("relief")
    assert found_by_heights(bench.case(), HeightTest(4, 2.4)).error_mm < guessed.error_mm


@pytest.mark.parametrize("buzzed", [2.4, 2.6])
def test_a_buzz_above_the_clean_height_is_a_contradiction(buzzed: float) -> None:
    with pytest.raises(NotFound, match="must be lower"):
        found_by_heights(Bench(BASS).case(), HeightTest(4, 2.4, buzzed))


def test_a_height_that_lies_on_the_frets_says_so() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 1.5)
    with pytest.raises(NotFound, match="lie on a fret"):
        found_by_heights(bench.case(), HeightTest(4, 0.3))


@settings(max_examples=30, deadline=None)
@given(kind=st.sampled_from([BASS, GUITAR, CLASSICAL]), share=st.floats(0.6, 1.2))
def test_the_target_is_the_lowest_clean_height_and_the_stated_margin(kind: str, share: float) -> None:
    bench = Bench(kind)
    table = bench.case()
    own = OwnSwing(string=1, swing_mm=share * table_swing_mm(table, 1, Touch.MEDIUM), error_mm=0.02)
    case = replace(table, spec=with_own(bench.spec, own))
    margins = bench.trade.swing
    for number in bench.numbers:
        target = case.bands(Slot(Check.HEIGHT, string=number)).target
        lowest = lowest_for(case, number, swing_for(case, number).mm, case.own_relief_mm)
        assert target.low == pytest.approx(lowest.action_mm + margins.margin_mm)
        assert target.width == pytest.approx(margins.width_mm)
    assert case.bands_relief.target.middle == pytest.approx(case.own_relief_mm, abs=0.06)


def test_other_strings_swing_in_proportion() -> None:
    bench = Bench(BASS)
    table = bench.case()
    own = OwnSwing(string=4, swing_mm=0.5 * table_swing_mm(table, 4, Touch.MEDIUM), error_mm=0.01)
    case = replace(table, spec=with_own(bench.spec, own))
    for number in bench.numbers:
        assert swing_for(case, number).mm == pytest.approx(0.5 * table_swing_mm(table, number, Touch.MEDIUM))


def test_targets_are_shown_beside_the_tables_and_gone_when_forgotten() -> None:
    bench = Bench(BASS)
    assert target_pairs(bench.case()) == ()
    found = found_by_heights(bench.case(), HeightTest(4, 1.9))
    pairs = target_pairs(case_with(bench, found))
    assert [pair.slot.key for pair in pairs] == ["relief", "height.4", "height.3", "height.2", "height.1"]
    for pair in pairs:
        assert pair.table == bench.case().bands(pair.slot)
    assert pairs[1].own.target.middle < pairs[1].table.target.middle


def buzzing(bench: Bench, number: int, swing_mm: float) -> list[tuple[int, int]]:
    """The notes that a player of this swing hears buzz."""
    return [(number, fret) for fret, room in rooms_mm(bench.case(), number).items() if room < swing_mm]


@settings(max_examples=30, deadline=None)
@given(relief=st.floats(0.1, 0.5), height=st.floats(1.7, 2.6), harder=st.floats(1.02, 1.3))
def test_a_board_of_buzzing_notes_brackets_the_swing(relief: float, height: float, harder: float) -> None:
    bench = Bench(BASS)
    bench.reading("relief", relief)
    bench.reading("height.4", height)
    swing = setting_of(bench.case(), 4).clean.swing_mm * harder
    taps = buzzing(bench, 4, swing)
    assume(swing > 0 and 0 < len(taps) < 19)
    bench.buzz(*taps)
    (says,) = boards_say(bench.case())
    assert says.found is not None
    between = says.found.between
    assert between.buzzing_mm <= swing <= between.clean_mm + 1e-9


def test_notes_that_fit_no_single_touch_are_not_taken() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.3)
    bench.reading("height.4", 2.5, error=0.02)
    room = rooms_mm(bench.case(), 4)
    bench.buzz((4, max(room, key=lambda f: room[f])))
    (says,) = boards_say(bench.case())
    assert says.found is None and "one touch" in says.why


def test_a_board_says_nothing_without_heights_or_after_a_turn() -> None:
    bench = Bench(BASS)
    bench.buzz((4, 5), (3, 0))
    unread = boards_say(bench.case())
    assert [s.found for s in unread] == [None, None] and "height" in unread[0].why
    bench.reading("height.3", 2.0)
    assert "nut" in boards_say(bench.case())[1].why
    bench.turn(Part.ROD, 1)
    assert boards_say(bench.case()) == ()
