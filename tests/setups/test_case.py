"""One touch, one truth: what a swing means, how a test finds it, and the targets, maps and plans of it."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, GUITAR, Bench, all_kinds
from webapp.physics.clearance import clean_swing
from webapp.physics.neck import Neck
from webapp.setups.case import Case, own_relief_mm, swing_for, table_swing_mm
from webapp.setups.geometry import HeightWay, read_at
from webapp.setups.journal import Part
from webapp.setups.slots import Slot
from webapp.setups.states import Word, word_of
from webapp.setups.strings.string_setting import setting_of, with_action
from webapp.setups.tryout.clearance_map import ClearanceMap, Room, clearance_map, default_touch, named_swing
from webapp.setups.tryout.how_low import how_low
from webapp.setups.tryout.touch_test import (
    Found,
    HeightTest,
    TouchNotFound,
    boards_say,
    found_by_heights,
    rooms_mm,
    target_pairs,
    with_own,
)
from webapp.setups.tryout.what_if import Change, what_if
from webapp.trade.ranges import Bands
from webapp.trade.spec import OwnSwing
from webapp.trade.words import Check, Touch

TOOL_MM = 0.1
FAN = st.sampled_from([0.0, -25.4])
# A height target follows the relief in steps of 0.005 mm, which is up to so much at the 12th.
STEP_MM = 0.01


def case_with(bench: Bench, found: Found) -> Case:
    return replace(bench.case(), spec=with_own(bench.spec, found.own))


def bent(kind: str, relief_mm: float, **changes: Any) -> Bench:
    """An instrument whose relief was read."""
    bench = Bench(kind, **changes)
    bench.reading("relief", relief_mm, step=0.01)
    return bench


def bands_of(case: Case, number: int) -> Bands:
    return case.bands(Slot(Check.HEIGHT, string=number))


def map_at(case: Case, number: int, action_mm: float) -> ClearanceMap:
    """The map that the player sees of a string at a height, for their own or their named touch."""
    swing = named_swing(case, number, default_touch(case)).swing
    there = with_action(setting_of(case, number), action_mm)
    return clearance_map(there, swing, case.trade.swing.close_times)


def fan(kind: str, by_mm: float) -> dict[str, float]:
    return {"scale_treble_mm": Bench(kind).spec.scale_treble_mm + by_mm}


def test_a_medium_touch_on_the_worked_bass() -> None:
    """Design: the E string at relief 0.30 stays just clean at 1.85, and its target starts at 2.00."""
    case = bent(BASS, 0.30).case()
    neck = Neck.from_relief(863.6, 16, 20, 0.30)
    assert swing_for(case.frame, 4).mm == pytest.approx(
        clean_swing(neck, neck.saddle_for_action(1.85), 110).swing_mm, abs=1e-6
    )
    assert bands_of(case, 4).target.low == pytest.approx(2.0, abs=0.01)


@pytest.mark.parametrize("kind", all_kinds())
@pytest.mark.parametrize("touch", list(Touch))
def test_the_table_is_what_the_targets_are_at_mid_relief(kind: str, touch: Touch) -> None:
    bench = Bench(kind, touch=touch)
    ranges, family = bench.trade.ranges, bench.case().family
    bench.reading("relief", ranges.relief_bands(family, touch).target.middle, step=0.01)
    case = bench.case()
    for number in bench.numbers:
        table = ranges.height_bands(family, touch, bench.spec.across(number))
        assert bands_of(case, number).target.low == pytest.approx(table.target.low, abs=0.03)
        assert bands_of(case, number).target.high == table.target.high


@settings(max_examples=80, deadline=None)
@given(
    kind=st.sampled_from(all_kinds()),
    touch=st.sampled_from(list(Touch)),
    share=st.floats(0, 1),
    by_mm=FAN,
)
def test_the_low_edge_of_a_target_is_clean_by_the_margin_on_its_own_map(
    kind: str, touch: Touch, share: float, by_mm: float
) -> None:
    usual = Bench(kind).case().bands_relief.usual
    case = bent(kind, usual.low + share * usual.width, touch=touch, **fan(kind, by_mm)).case()
    assume(usual.contains(case.relief_mm))
    margin = case.trade.swing.margin_mm
    for number in range(1, case.spec.string_count + 1):
        bands = bands_of(case, number)
        assert not map_at(case, number, bands.target.low).of_room(Room.TOUCHES)
        assert map_at(case, number, bands.target.low - margin + STEP_MM).left_mm > 0
        if bands.target.low > bands.usual.low:
            assert map_at(case, number, bands.target.low - margin - STEP_MM).left_mm < 0


@settings(max_examples=80, deadline=None)
@given(
    kind=st.sampled_from(all_kinds()),
    touch=st.sampled_from(list(Touch)),
    relief=st.floats(-0.3, 1.0),
    height=st.floats(0.5, 6),
)
def test_nothing_that_is_called_good_touches_on_its_own_map(
    kind: str, touch: Touch, relief: float, height: float
) -> None:
    case = bent(kind, relief, touch=touch).case()
    for number in range(1, case.spec.string_count + 1):
        bands = bands_of(case, number)
        if word_of(height, bands) is Word.GOOD:
            assert map_at(case, number, height).left_mm >= 0
        # Where the neck is so bowed that nothing usual is clean, there is no target to be in.
        if bands.target.low < bands.usual.high:
            assert map_at(case, number, bands.target.low).left_mm >= 0


@settings(max_examples=40, deadline=None)
@given(
    kind=st.sampled_from([BASS, GUITAR, ACOUSTIC, CLASSICAL]),
    share=st.floats(0.5, 1.6),
    relief=st.floats(-0.2, 0.6),
)
def test_targets_of_an_own_touch_are_clean_by_the_margin_too(kind: str, share: float, relief: float) -> None:
    medium = table_swing_mm(Bench(kind).case().frame, 1, Touch.MEDIUM)
    own = OwnSwing(string=1, swing_mm=share * medium, error_mm=0.02)
    case = bent(kind, relief, own_swing=own).case()
    margins = case.trade.swing
    for number in range(1, case.spec.string_count + 1):
        target = bands_of(case, number).target
        assert target.width == pytest.approx(margins.width_mm)
        assert map_at(case, number, target.low - margins.margin_mm + STEP_MM).left_mm > 0
        assert map_at(case, number, target.low - margins.margin_mm - STEP_MM).left_mm < 0


@settings(max_examples=25, deadline=None)
@given(
    kind=st.sampled_from([BASS, GUITAR, ACOUSTIC, CLASSICAL]),
    touch=st.sampled_from(list(Touch)),
    relief=st.floats(0.1, 0.4),
)
def test_how_low_what_if_the_map_and_the_targets_say_the_same(kind: str, touch: Touch, relief: float) -> None:
    plan = how_low(bent(kind, relief).case(), touch.value)
    # An instrument that stands as the plan ends, in the hands of that touch.
    case = bent(kind, plan.end.relief.value, touch=touch).case()
    aims = [low.aim_mm for low in plan.strings]
    for low in plan.strings:
        assert bands_of(case, low.number).target.low == pytest.approx(low.aim_mm, abs=0.04)
        assert low.aim_mm >= low.lowest.action_mm + case.trade.swing.margin_mm - STEP_MM
    answer = what_if(case, Change(bass_mm=aims[0], treble_mm=aims[-1]))
    for string in (answer.after.strings[0], answer.after.strings[-1]):
        left = map_at(case, string.number, string.action_mm).left_mm
        assert string.left_mm == pytest.approx(left) and left > 0


@pytest.mark.parametrize("kind", all_kinds())
@pytest.mark.parametrize("number", [1, 3])
def test_a_firmer_touch_swings_further(kind: str, number: int) -> None:
    frame = Bench(kind).case().frame
    swings = [table_swing_mm(frame, number, touch) for touch in (Touch.LIGHT, Touch.MEDIUM, Touch.FIRM)]
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
    found = found_by_heights(case, HeightTest(3, typed, TOOL_MM, way=way))
    assert found.swing_mm == pytest.approx(setting.clean.swing_mm)


def test_the_error_holds_the_tool_the_relief_and_the_step() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 0.3, step=0.01)
    case = bench.case()
    there, higher = (with_action(setting_of(case, 4), height).clean.swing_mm for height in (2.4, 2.5))
    by_height = higher - there
    one = found_by_heights(case, HeightTest(4, 2.4, 0.1))
    fine = found_by_heights(case, HeightTest(4, 2.4, 0.02))
    stepped = found_by_heights(case, HeightTest(4, 2.4, 0.1, buzzed_mm=2.1))
    assert fine.error_mm < one.error_mm < stepped.error_mm
    assert one.error_mm == pytest.approx(by_height, rel=0.2)
    assert stepped.swing_mm == one.swing_mm
    assert stepped.error_mm >= stepped.between.uncertain_mm > 0


def test_a_relief_that_was_never_read_makes_it_less_sure() -> None:
    bench = Bench(BASS)
    guessed = found_by_heights(bench.case(), HeightTest(4, 2.4, TOOL_MM))
    bench.reading("relief")
    assert found_by_heights(bench.case(), HeightTest(4, 2.4, TOOL_MM)).error_mm < guessed.error_mm


@pytest.mark.parametrize("buzzed", [2.4, 2.6])
def test_a_buzz_above_the_clean_height_is_a_contradiction(buzzed: float) -> None:
    with pytest.raises(TouchNotFound, match="must be lower"):
        found_by_heights(Bench(BASS).case(), HeightTest(4, 2.4, TOOL_MM, buzzed))


def test_a_height_that_lies_on_the_frets_says_so() -> None:
    bench = Bench(BASS)
    bench.reading("relief", 1.5)
    with pytest.raises(TouchNotFound, match="lie on a fret"):
        found_by_heights(bench.case(), HeightTest(4, 0.3, TOOL_MM))


@settings(max_examples=60, deadline=None)
@given(
    relief=st.floats(-1, 2),
    height=st.floats(0.3, 8),
    buzzed=st.one_of(st.none(), st.floats(0.3, 8)),
    way=st.sampled_from([HeightWay(1, 12), HeightWay(0, 12), HeightWay(1, 20)]),
)
def test_whatever_is_plausible_is_answered(
    relief: float, height: float, buzzed: float | None, way: HeightWay
) -> None:
    bench = bent(BASS, relief)
    try:
        found = found_by_heights(bench.case(), HeightTest(4, height, TOOL_MM, buzzed, way))
    except TouchNotFound as said:
        assert str(said).endswith(".")
        return
    case = case_with(bench, found)
    for pair in target_pairs(case):
        assert pair.own.usual.holds(pair.own.target)


def test_a_low_string_over_a_back_bow_is_told_from_the_notes_that_buzz() -> None:
    bench = bent(BASS, -0.2)
    bench.reading("relief", -0.2, step=0.01)
    for _ in range(2):  # once is taken for a slip
        bench.reading("height.4", 0.3)
    bench.buzz((4, 1), (4, 2))
    (says,) = boards_say(bench.case())
    assert says.found is None and "lies on a fret" in says.why


def test_the_relief_of_an_own_touch_is_in_the_middle_of_its_target() -> None:
    own = OwnSwing(string=4, swing_mm=0.7, error_mm=0.02)
    case = Bench(BASS, own_swing=own).case()
    assert case.bands_relief.target.middle == pytest.approx(own_relief_mm(case.frame))
    assert case.bands_relief.target.width == pytest.approx(case.trade.swing.relief_width_mm)


def test_other_strings_swing_in_proportion() -> None:
    bench = Bench(BASS)
    table = bench.case()
    own = OwnSwing(string=4, swing_mm=0.5 * table_swing_mm(table.frame, 4, Touch.MEDIUM), error_mm=0.01)
    frame = replace(table, spec=with_own(bench.spec, own)).frame
    for number in bench.numbers:
        medium = table_swing_mm(table.frame, number, Touch.MEDIUM)
        assert swing_for(frame, number).mm == pytest.approx(0.5 * medium)


def test_targets_are_shown_beside_the_tables_and_gone_when_forgotten() -> None:
    bench = Bench(BASS)
    assert target_pairs(bench.case()) == ()
    found = found_by_heights(bench.case(), HeightTest(4, 1.7, TOOL_MM))
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
    assert [s.found for s in unread] == [None, None] and "height was not read" in unread[0].why
    bench.reading("height.3", 2.0)
    assert "nut" in boards_say(bench.case())[1].why
    bench.turn(Part.ROD, 1)
    assert boards_say(bench.case()) == ()
