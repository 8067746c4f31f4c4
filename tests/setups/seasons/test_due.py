from __future__ import annotations

from datetime import timedelta

import pytest

from tests.setups.journals import the_trade
from tests.setups.seasons_past import Past, day, drifts, regular, wood_behind, yearly_air
from webapp.setups.journal import Part
from webapp.setups.seasons.due import Due, due_of, strings_due_at
from webapp.trade.words import Check, Family

SHEET = the_trade().due
AIR = yearly_air(740)


def the_due(past: Past, now: float) -> tuple[Due, ...]:
    return due_of(past.case(now))


def test_nothing_known_is_nothing_due() -> None:
    assert the_due(Past(), 10) == ()


def test_a_setup_is_looked_over_again_after_the_stated_days() -> None:
    (due,) = due_of(Past().case(30), last_setup_at=day(10))
    assert due.when == day(10) + timedelta(days=SHEET.review_days) and due.check is Check.START
    assert f"{SHEET.review_days:g} days after the last setup" in due.why
    assert not due.is_due(day(30)) and due.is_due(day(10 + SHEET.review_days))


# the rod


def test_a_turned_rod_wants_reading_once_it_has_settled() -> None:
    past = Past()
    past.turn(5, Part.ROD, 1)
    past.read(5.1, 0.3)  # too soon
    (due,) = the_due(past, 5.2)
    assert due.when == day(5) + timedelta(hours=the_trade().belief.rod.settle_hours)
    assert due.check is Check.RELIEF and "settle" in due.why
    past.read(6, 0.3)
    assert the_due(past, 7) == ()


def test_only_the_last_turn_waits() -> None:
    past = Past()
    past.turn(5, Part.ROD, 1)
    past.read(6, 0.3)
    past.turn(6.1, Part.ROD, 1)
    (due,) = the_due(past, 8)
    assert due.when == day(6.1) + timedelta(hours=the_trade().belief.rod.settle_hours)


# strings


@pytest.mark.parametrize(("kind", "family"), [("bass_4_34", Family.BASS), ("acoustic_6", Family.ACOUSTIC)])
def test_strings_are_old_after_their_time(kind: str, family: Family) -> None:
    past = Past(kind)
    past.turn(5, Part.STRINGS)
    (due,) = the_due(past, 20)
    assert due.when == day(5 + SHEET.string_days[family]) and "will be about" in due.why
    (late,) = the_due(past, 5 + SHEET.string_days[family] + 100)
    assert late.when == due.when and "try a new set" in late.why


def test_an_answer_at_the_start_tells_the_age() -> None:
    past = Past()
    past.start(50, age="months")
    assert strings_due_at(past.case(60)) == day(
        50 - SHEET.age_days["months"] + SHEET.string_days[Family.BASS]
    )


def test_not_knowing_the_age_says_nothing() -> None:
    past = Past()
    past.start(50, age="unknown")
    past.start(60)
    assert the_due(past, 70) == ()


def test_a_coarse_answer_does_not_overrule_a_known_day() -> None:
    past = Past()
    past.turn(5, Part.STRINGS)
    known = strings_due_at(past.case(6))
    for number, age in ((6, "fresh"), (40, "weeks"), (100, "months"), (300, "old")):
        past.start(number, age=age)
        assert strings_due_at(past.case(number + 1)) == known, age


def test_an_answer_that_contradicts_it_does() -> None:
    past = Past()
    past.turn(5, Part.STRINGS)
    past.start(200, age="fresh")  # changed, and never written down
    when = strings_due_at(past.case(201))
    assert when == day(200 - SHEET.age_days["fresh"] + SHEET.string_days[Family.BASS])


# the air


def seen_until(last: int, slope: float = -0.1, base: float = 1.35) -> Past:
    return regular(AIR, slope, range(3, last, 15), base=base)


def test_relief_that_the_air_has_taken_out_of_its_band_is_due() -> None:
    """Read in August, when it was good; by February the wood is dry and the neck bowed."""
    past = seen_until(440)
    case = past.case(640)
    last = 1.35 - 0.1 * wood_behind(AIR, 438)
    now = 1.35 - 0.1 * wood_behind(AIR, 640)
    bands = case.bands_relief
    assert bands.target.contains(last) and now > bands.target.high
    (due,) = due_of(case, drifts(case, AIR))
    assert due.check is Check.RELIEF and due.when == case.now
    assert due.why.startswith("Relief: probably too much bow by now, about 0.")
    assert "give or take" in due.why


def test_relief_that_stays_good_is_not_due() -> None:
    past = seen_until(440, slope=-0.02, base=0.5)
    case = past.case(640)
    assert due_of(case, drifts(case, AIR)) == ()


def test_a_fresh_reading_speaks_for_itself() -> None:
    past = seen_until(640)
    case = past.case(638)
    assert due_of(case, drifts(case, AIR)) == ()


def test_a_neck_whose_ways_are_not_known_is_due_when_the_wood_has_moved() -> None:
    past = Past()
    past.read(80, 0.3)
    near, far = past.case(100), past.case(260)
    assert abs(wood_behind(AIR, 260) - wood_behind(AIR, 80)) > SHEET.moisture_percent
    assert due_of(near, drifts(near, AIR)) == ()
    (due,) = due_of(far, drifts(far, AIR))
    assert due.check is Check.RELIEF
    assert due.why.startswith("The wood has lost about ") and "since relief was last read" in due.why


def test_where_the_air_of_these_days_is_not_known_nothing_is_guessed() -> None:
    past = seen_until(440)
    case = past.case(640)
    known = {on: air for on, air in AIR.items() if on < day(450).date()}
    assert due_of(case, drifts(case, known)) == ()


def test_everything_due_is_ordered_by_its_day() -> None:
    past = seen_until(440)
    past.turn(430, Part.STRINGS)
    past.turn(430, Part.ROD, 1)
    past.start(5, age="old")
    case = past.case(640)
    found = due_of(case, drifts(case, AIR), last_setup_at=day(500))
    assert len(found) >= 2
    assert [due.when for due in found] == sorted(due.when for due in found)
