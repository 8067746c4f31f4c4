"""What a belief starts from, and how the parts of an instrument act on one another."""

from __future__ import annotations

import numpy as np
import pytest

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, GUITAR, POSTS, all_kinds, spec_of, the_trade
from webapp.setups.belief.fold import Belief
from webapp.setups.belief.frame import Frame, frame_of
from webapp.setups.belief.neck import KAPPA, RESPONSE
from webapp.setups.slots import Slot, all_slots
from webapp.trade.words import BridgeType, Check, RodType, Side


def frame(kind: str = BASS, **changes: object) -> Frame:
    return Frame(spec_of(kind, **changes), the_trade())


# Threads


@pytest.mark.parametrize("told", ["", "unknown", "none", "M3", "8-32", "M8"])
def test_a_screw_is_of_some_thread(told: str) -> None:
    threads = frame().threads(told)
    assert threads.chances.sum() == pytest.approx(1.0)
    assert np.all(threads.chances > 0)
    assert len(threads.pitches) == len(threads.spreads) == len(threads.chances)
    # Threads of one pitch are one: nothing that is read tells them apart.
    assert np.diff(np.sort(threads.pitches[:-1])).min() > 0.01


@pytest.mark.parametrize(("told", "pitch_mm"), [("M3", 0.5), ("8-32", 0.794), ("10-32", 0.794), ("M6", 1.0)])
def test_a_told_thread_is_likely_and_not_sure(told: str, pitch_mm: float) -> None:
    threads = frame().threads(told)
    likeliest = int(np.argmax(threads.chances))
    assert threads.pitches[likeliest] == pytest.approx(pitch_mm, abs=0.01)
    assert threads.chances[likeliest] == pytest.approx(the_trade().belief.thread.told)


def test_an_unknown_thread_may_be_any() -> None:
    threads = frame().threads("unknown")
    assert threads.chances.max() < 0.3
    mean, sd = threads.first
    assert threads.pitches.min() < mean < threads.pitches.max()
    assert sd > 0.15


# What screws do to heights


@pytest.mark.parametrize("kind", all_kinds())
def test_both_posts_alike_do_what_each_of_them_does_together(kind: str) -> None:
    one = frame(kind, bridge={"type": BridgeType.TWO_POST})
    both, bass, treble = (one.height_gains(None, side) for side in (None, Side.BASS, Side.TREBLE))
    assert bass + treble == pytest.approx(both)
    assert min(bass.min(), treble.min()) > -1e-9
    # Nearer to a post, more of its travel.
    assert np.all(np.diff(bass * one.per_action) < 0) and np.all(np.diff(treble * one.per_action) > 0)


def test_the_design_s_bass_gains_a_millimetre_at_the_twelfth_for_two_at_the_saddle() -> None:
    gains = frame(BASS).height_gains(4, None)
    assert gains == pytest.approx([1 / 2.126, 0, 0, 0], abs=1e-3)
    assert frame(BASS).height_gains(None, None) == pytest.approx([1 / 2.126] * 4, abs=1e-3)


def test_posts_wider_apart_than_the_strings_give_the_outer_string_less() -> None:
    # Posts 74 mm apart, strings 51: the outer string stands 11.5 mm in.
    gains = frame(POSTS).height_gains(None, Side.BASS)
    assert gains[0] * frame(POSTS).per_action[0] == pytest.approx(62.5 / 74, abs=1e-3)
    unknown = frame(POSTS, bridge={"post_spacing_mm": None}).height_gains(None, Side.BASS)
    assert unknown[-1] == pytest.approx(0.0, abs=1e-9)  # as if the posts stood under the outer strings


# What saddles do to the tuning


def test_back_is_flat_and_the_high_fret_moves_twice_as_far() -> None:
    one = frame(BASS)
    assert one.tuning_gains == pytest.approx([-2.0] * 4, abs=0.01)
    low, high = one.tuning_row(Slot(Check.INTONATION, string=4), 12), one.tuning_row(
        Slot(Check.INTONATION, string=4, high=True), 19
    )  # fmt: skip
    assert low == {0: 1.0}
    assert high == {0: pytest.approx(2.0, abs=0.01), 4: 1.0}


# Before anything is read


@pytest.mark.parametrize("kind", all_kinds())
def test_nothing_read_is_the_middle_of_what_repairers_accept(kind: str) -> None:
    one = frame(kind)
    first = Belief.first(one)
    for slot in all_slots(one.spec):
        if slot.check is Check.INTONATION and slot.high:
            expected = one.worn_cents[0]
        elif slot.check is Check.INTONATION or slot.level:
            expected = 0.0
        elif slot.check is Check.RELIEF:
            expected = the_trade().ranges.relief_bands(one.family, one.spec.touch).usual.middle
        elif slot.check is Check.HEIGHT:
            assert slot.string is not None
            across = one.spec.across(slot.string)
            expected = the_trade().ranges.height_bands(one.family, one.spec.touch, across).usual.middle
        else:
            continue
        assert first.mean(slot, 19 if slot.high else 12) == pytest.approx(expected), slot.key
    assert not (first.doubted or first.moved or first.unread or first.read)


@pytest.mark.parametrize(("kind", "kappa"), [(BASS, 2.3), (GUITAR, 1.7), (ACOUSTIC, 1.7), (CLASSICAL, 1.7)])
def test_heights_follow_the_relief_by_the_familys_share(kind: str, kappa: float) -> None:
    neck = frame(kind).neck()
    assert neck.mixture.moments(neck.row(KAPPA))[0] == kappa


def test_a_neck_without_a_rod_has_nothing_that_answers() -> None:
    for type_, low, high in ((RodType.NONE, 0.0, 0.001), (RodType.TWO_WAY, 0.04, 0.09)):
        neck = frame(BASS, rod={"type": type_}).neck()
        assert low <= neck.mixture.moments(neck.row(RESPONSE))[0] <= high
        assert neck.has_rod is (type_ is not RodType.NONE)


def test_the_same_description_is_the_same_frame_whatever_it_is_called() -> None:
    trade = the_trade()
    one = frame_of(spec_of(BASS), trade)
    assert frame_of(spec_of(BASS, name="another name"), trade) is one
    assert frame_of(spec_of(BASS, joint_fret=15), trade) is not one
    assert frame_of(spec_of(BASS, bridge={"height_thread": "M4"}), trade) is not one
