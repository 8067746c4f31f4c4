"""What one reading says, tool by tool: a point, a range, or an open end."""

from __future__ import annotations

from dataclasses import replace
from math import inf, isinf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.setups.journals import BASS, Bench, the_trade
from webapp.physics.mixture import Seen
from webapp.setups.belief.reading import Slips, agree, entry_detail, seen_of
from webapp.trade.words import Check


def seen(key: str, value: float, **detail: object) -> Seen:
    return seen_of(the_trade(), Bench(BASS).reading(key, value, **detail))  # type: ignore[arg-type]


def said(key: str, method: str, answer: str) -> Seen:
    return seen_of(the_trade(), Bench(BASS).said(key, method, answer))


def test_a_fine_division_is_a_point_as_wide_as_the_division() -> None:
    fine = seen("height.4", 2.35, tool="gauge", step=0.05)
    assert fine.is_point and (fine.low, fine.step) == (2.35, 0.05)
    assert fine.sigma == the_trade().tools["gauge"].sigma


def test_a_coarse_division_is_a_range_half_of_it_either_way() -> None:
    coarse = seen("height.4", 2.5, tool="ruler", step=0.5)
    assert (coarse.low, coarse.high) == (2.25, 2.75)


def test_a_value_between_two_lines_was_read_to_half_a_division() -> None:
    between = seen("height.4", 2.25, tool="ruler", step=0.5)
    assert between.is_point and between.step == 0.25


@pytest.mark.parametrize("step", [0.01, 0.05, 0.1])
def test_a_blade_that_finds_nothing_is_no_number(step: float) -> None:
    """A neck that bends back shows the same 0.00, however far it bends."""
    nothing = seen("relief", 0.0, step=step)
    assert isinf(nothing.low) and nothing.low < 0
    assert nothing.high == step / 2


def test_without_a_told_division_the_tool_has_its_usual_one() -> None:
    assert seen("relief", 0.3) == seen("relief", 0.3, step=the_trade().tools["feeler"].division)


@pytest.mark.parametrize(
    ("answer", "low", "high"),
    [("none", -inf, 0.3), ("one", 0.3, 0.6), ("two", 0.6, 0.9), ("more", 0.9, inf)],
)
def test_a_card_says_a_range(answer: str, low: float, high: float) -> None:
    card = said("relief", "card", answer)
    assert (card.low, card.high) == pytest.approx((low, high))


def test_the_cards_own_thickness_counts() -> None:
    trade = the_trade()
    bank = next(card for card in trade.cards if card.key == "bank").thickness_mm
    value, detail = entry_detail(trade, trade.method(Check.RELIEF, "card"), answer="one", card_mm=bank)
    found = seen("relief", value, tool="card", **detail)
    assert (found.low, found.high) == (0.76, 1.52)


@pytest.mark.parametrize(
    ("key", "method", "answer", "low", "high"),
    [
        ("relief", "ear", "no_click", -inf, 0.1),
        ("relief", "ear", "slight", 0.1, 0.45),
        ("relief", "ear", "a_lot", 0.45, inf),
        ("intonation.4.12", "needle", "flat", -inf, -8.0),
        ("intonation.4.12", "needle", "in_tune", -2.5, 2.5),
        ("intonation.4.12", "needle", "sharp", 8.0, inf),
    ],
)
def test_an_ear_and_a_needle_say_ranges(key: str, method: str, answer: str, low: float, high: float) -> None:
    found = said(key, method, answer)
    assert (found.low, found.high) == (low, high)


def test_over_a_pickups_poles_every_tool_is_less_sure() -> None:
    pole, string = seen("pickups.1.bass", 2.5), seen("height.4", 2.5)
    assert pole.sigma > string.sigma


def test_a_tool_that_is_not_known_any_more_keeps_the_error_it_was_stored_with() -> None:
    entry = replace(Bench(BASS).reading("height.4", 2.5, error=0.25), tool="micrometer")
    assert seen_of(the_trade(), entry) == Seen(2.5, 2.5, 0.25)


points = st.builds(lambda v, s: Seen(v, v, s), st.floats(-3, 3), st.floats(0.01, 0.3))


@given(one=points, other=points, times=st.floats(0.5, 4))
def test_agreeing_is_mutual_and_nothing_contradicts_itself(one: Seen, other: Seen, times: float) -> None:
    assert agree(one, one, times)
    assert agree(one, other, times) is agree(other, one, times)


def test_readings_agree_within_their_errors_and_ranges_where_they_overlap() -> None:
    assert agree(Seen(2.5, 2.5, 0.06), Seen(2.7, 2.7, 0.06), 2.5)
    assert not agree(Seen(2.5, 2.5, 0.06), Seen(2.8, 2.8, 0.06), 2.5)
    assert agree(Seen(0.3, 0.6, 0.03), Seen(0.55, 0.55, 0.015), 2.5)
    assert not agree(Seen(-inf, 0.3, 0.03), Seen(0.6, 0.9, 0.03), 2.5)


def test_a_slip_shows_a_wide_range_more_often_than_a_number() -> None:
    slips = Slips(0.015, 3.0)
    number, narrow, wide = Seen(0.3, 0.3, 0.015, 0.05), Seen(0.3, 0.6, 0.03), Seen(0.6, inf, 0.03)
    assert 0 < slips.elsewhere(number) < slips.elsewhere(narrow) < slips.elsewhere(wide) < 1
    assert slips.elsewhere(Seen(-9, 9, 0.1)) == 1.0
