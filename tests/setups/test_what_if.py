"""What if: nothing changed is the present; what is changed shows, and only there."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, GUITAR, Bench, all_kinds
from webapp.setups.clearance_map import default_touch, named_swing
from webapp.setups.learning import action_pull
from webapp.setups.load import sets_for, tunings_for
from webapp.setups.setting import settings_of
from webapp.setups.what_if import Change, clean_swings, relieved, what_if


def read_bench(kind: str = BASS, relief: float = 0.3, heights: float = 2.4) -> Bench:
    bench = Bench(kind)
    bench.reading("relief", relief)
    for number in bench.numbers:
        bench.reading(f"height.{number}", heights)
    return bench


@settings(max_examples=30, deadline=None)
@given(kind=st.sampled_from(all_kinds()), relief=st.floats(0, 0.6), heights=st.floats(1.2, 4))
def test_nothing_changed_is_the_present(kind: str, relief: float, heights: float) -> None:
    case = read_bench(kind, relief, heights).case()
    answer = what_if(case, Change())
    assert answer.after == answer.before
    for string, setting in zip(answer.before.strings, settings_of(case), strict=True):
        assert string.action_mm == setting.action_mm
        assert string.clean == pytest.approx(setting.clean)
        assert string.swing_mm == named_swing(case, string.number, default_touch(case)).swing.mm


@settings(max_examples=30, deadline=None)
@given(relief=st.floats(0, 0.6), heights=st.floats(1.2, 4))
def test_typing_the_present_changes_nothing(relief: float, heights: float) -> None:
    case = read_bench(BASS, relief, heights).case()
    now = what_if(case, Change()).before
    typed = Change(now.relief_mm, now.strings[0].action_mm, now.strings[-1].action_mm, default_touch(case))
    after = what_if(case, typed).after
    for string, same in zip(after.strings, now.strings, strict=True):
        assert string.action_mm == pytest.approx(same.action_mm)
        assert string.clean.swing_mm == pytest.approx(same.clean.swing_mm)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(1.0, 4.0), min_size=6, max_size=6), st.floats(-0.2, 0.8))
def test_all_strings_at_once_equal_one_by_one(heights: list[float], relief: float) -> None:
    bench = Bench(GUITAR, scale_treble_mm=635.0)
    bench.reading("relief", relief)
    for number, height in zip(bench.numbers, heights, strict=True):
        bench.reading(f"height.{number}", height)
    found = settings_of(bench.case())
    for together, setting in zip(clean_swings(found), found, strict=True):
        assert together == pytest.approx(setting.clean, abs=1e-9)


def test_relief_alone_moves_the_heights_with_it() -> None:
    case = read_bench().case()
    answer = what_if(case, Change(relief_mm=0.1))
    pull = action_pull(case).mean
    for before, after in zip(answer.before.strings, answer.after.strings, strict=True):
        assert after.action_mm - before.action_mm == pytest.approx(pull * (0.1 - 0.3))
    assert answer.after.relief_mm == 0.1


def test_the_geometry_keeps_the_saddles_where_they_are() -> None:
    case = read_bench().case()
    now = settings_of(case)
    for before, after in zip(now, relieved(case, now, 0.1), strict=True):
        assert after.saddle_mm == pytest.approx(before.saddle_mm)


def test_the_outer_heights_are_as_typed_and_the_inner_ones_follow() -> None:
    answer = what_if(read_bench().case(), Change(relief_mm=0.2, bass_mm=2.2, treble_mm=1.9))
    heights = [s.action_mm for s in answer.after.strings]
    assert heights == pytest.approx([2.2, 2.1, 2.0, 1.9])


def test_a_firmer_touch_leaves_less_and_touches_nothing_else() -> None:
    answer = what_if(read_bench().case(), Change(touch="firm"))
    for before, after in zip(answer.before.strings, answer.after.strings, strict=True):
        assert after.left_mm < before.left_mm
        assert (after.action_mm, after.clean) == (before.action_mm, before.clean)


def test_tuned_down_a_whole_tone_the_same_pluck_swings_further_by_the_lost_tension() -> None:
    case = read_bench().case()
    down = next(t for t in tunings_for(case.spec, case.trade) if t.semitones(4) == (-2, -2, -2, -2))
    answer = what_if(case, Change(tuning=down))
    for before, after in zip(answer.before.strings, answer.after.strings, strict=True):
        assert after.swing_mm / before.swing_mm == pytest.approx(2 ** (4 / 12))
    assert answer.after.load_n / answer.before.load_n == pytest.approx(2 ** (-4 / 12))
    assert "less" in answer.relief.words.lower()


def test_heavier_strings_pull_more_and_swing_less() -> None:
    case = read_bench().case()
    heavy = max(sets_for(case.spec, case.trade), key=lambda s: s.strings[0].gauge_mm)
    answer = what_if(case, Change(string_set=heavy))
    assert answer.after.load_n > answer.before.load_n
    assert all(
        a.swing_mm < b.swing_mm for a, b in zip(answer.after.strings, answer.before.strings, strict=True)
    )


def test_a_touch_there_is_not_is_refused() -> None:
    with pytest.raises(ValueError):
        what_if(read_bench().case(), Change(touch="own"))
