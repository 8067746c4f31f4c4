"""What if: nothing changed is the present; what is changed shows, and only there."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, GUITAR, Bench, all_kinds
from webapp.physics.neck import action_per_relief
from webapp.setups.journal import Part
from webapp.setups.strings.string_setting import settings_of
from webapp.setups.strings.tension import sets_for, tunings_for
from webapp.setups.tryout.clearance_map import default_touch, named_swing
from webapp.setups.tryout.what_if import Change, clean_swings, what_if


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


def heights_for_relief(bench: Bench) -> float:
    """Mm of height for one mm of relief, the saddles left alone, by what-if."""
    answer = what_if(bench.case(), Change(relief_mm=0.1))
    assert answer.after.relief_mm == 0.1
    pairs = zip(answer.before.strings, answer.after.strings, strict=True)
    moved = [(b.action_mm - a.action_mm) / (answer.before.relief_mm - 0.1) for b, a in pairs]
    assert moved == pytest.approx([moved[0]] * 4)
    return moved[0]


def test_relief_alone_moves_the_heights_with_it() -> None:
    # Practice: about 2.3 on a bass; a perfectly even curve would make it 2.74.
    assert heights_for_relief(read_bench()) == pytest.approx(2.3, abs=0.1)
    assert action_per_relief(16, 20) == pytest.approx(2.74, abs=0.01)


def test_a_neck_that_has_shown_more_is_believed() -> None:
    bench = read_bench(relief=0.6, heights=3.2)
    for _ in range(2):
        bench.turn(Part.ROD, 2)
    bench.wait(hours=20)
    bench.reading("relief", 0.3, step=0.01)
    for number in bench.numbers:
        bench.reading(f"height.{number}", 3.2 - 2.9 * 0.3, step=0.05)
    assert heights_for_relief(bench) > heights_for_relief(read_bench()) + 0.1


def test_what_was_turned_since_it_was_read_is_counted() -> None:
    bench = read_bench()
    before = what_if(bench.case(), Change()).before
    bench.turn(Part.SADDLE_HEIGHT, -8, string=4)
    after = what_if(bench.case(), Change()).before
    # One turn of M3 is 0.5 mm at the saddle, 0.235 at the 12th.
    assert before.strings[0].action_mm - after.strings[0].action_mm == pytest.approx(0.235, abs=0.04)
    assert before.strings[0].left_mm > after.strings[0].left_mm


def test_the_outer_heights_are_as_typed_and_the_inner_ones_follow() -> None:
    answer = what_if(read_bench().case(), Change(relief_mm=0.2, bass_mm=2.2, treble_mm=1.9))
    heights = [s.action_mm for s in answer.after.strings]
    assert heights[0] == pytest.approx(2.2) and heights[-1] == pytest.approx(1.9)
    assert heights == pytest.approx([2.2, 2.1, 2.0, 1.9], abs=0.02)


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
