from __future__ import annotations

import re
from datetime import date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.setups.journals import the_trade
from tests.setups.seasons_past import Past, day, drifts, regular, wood_behind, yearly_air
from webapp.setups.assess import assess_case
from webapp.setups.journal import KEPT, EntryKind, Part
from webapp.setups.seasons.due import DayEvent, Due, calendar_text, due_of, escaped, folded, strings_due_at
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


# what is out of its target


def off(past: Past, now: float) -> list[Due]:
    case = past.case(now)
    return [due for due in due_of(case, stands=assess_case(case)) if due.off]


def test_what_was_read_out_of_its_target_is_due_before_all_else() -> None:
    past = Past()
    past.start(1, age="old")
    past.read(400, 0.75)
    case = past.case(401)
    first, second = due_of(case, stands=assess_case(case))
    assert (first.key, first.off, first.when) == ("off.relief", "Relief: too much bow", day(400))
    assert first.why == "Relief: too much bow, 0.75 mm." and first.sets_up and first.is_due(case.now)
    assert second.key == "strings" and second.when < first.when and not second.sets_up


def test_several_places_of_a_check_are_one_thing_to_do() -> None:
    past = Past()
    past.read(5, 0.3)
    for number in (4, 3, 2, 1):
        past.read(5.01 + (4 - number) / 100, 4.4, f"height.{number}")
    (due,) = off(past, 6)
    assert due.check is Check.HEIGHT and due.why.count("4.40 mm") == 3 and due.why.endswith("and 1 more.")


def test_what_is_in_its_target_or_liked_so_is_not_due() -> None:
    past = Past()
    past.read(5, 0.3)
    assert off(past, 6) == []
    past.read(40, 0.75)
    past.read(40.1, 0.75)
    assert off(past, 41)
    past.write(41, EntryKind.OBSERVATION, Check.RELIEF, "relief", detail={"answer": KEPT})
    assert off(past, 42) == []


def test_what_the_player_cannot_turn_is_not_due() -> None:
    past = Past("classical_6")
    past.read(5, 0.9)
    assert off(past, 6) == []


def test_a_turn_made_since_leaves_nothing_off_until_it_is_read() -> None:
    past = Past()
    past.read(5, 0.75)
    past.turn(5.1, Part.ROD, 2)
    assert off(past, 5.2) == []


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


STAMP = datetime(2025, 3, 1, 10, 30, tzinfo=timezone(timedelta(hours=1)))
NAME = re.compile(r"[A-Z-]+")


def unfolded(text: str) -> list[str]:
    """Section 3.1: lines end with CRLF, none is over 75 octets, a blank in front goes on the line before."""
    assert text.endswith("\r\n")
    lines: list[str] = []
    for line in text.removesuffix("\r\n").split("\r\n"):
        assert "\n" not in line and "\r" not in line
        assert len(line.encode()) <= 75
        if line.startswith(" "):
            lines[-1] += line[1:]
        else:
            lines.append(line)
    return lines


def plain(value: str) -> str:
    """Section 3.3.11, undone."""
    assert not re.search(r"(?<!\\)(?:\\\\)*[;,]", value), value
    return re.sub(r"\\(.)", lambda m: "\n" if m[1] in "nN" else m[1], value)


def parts(line: str) -> tuple[str, str, str]:
    head, _, value = line.partition(":")
    name, _, parameters = head.partition(";")
    assert NAME.fullmatch(name)
    return name, parameters, value


def event(**changes: object) -> DayEvent:
    told = {
        "uid": "abc.review@benchside", "day": date(2025, 5, 30), "summary": "Bass: a setup",
        "description": "90 days, at least; read on", "url": "http://127.0.0.1:8765/instruments/abc",
    }  # fmt: skip
    return DayEvent(**(told | changes))  # type: ignore[arg-type]


def test_the_file_is_one_calendar_of_day_events() -> None:
    lines = [parts(line) for line in unfolded(calendar_text("Look, again", [event(), event(uid="x")], STAMP))]
    names = [name for name, _, _ in lines]
    assert lines[0] == ("BEGIN", "", "VCALENDAR") and lines[-1] == ("END", "", "VCALENDAR")
    assert names.count("VERSION") == names.count("PRODID") == 1
    assert ("X-WR-CALNAME", "", "Look\\, again") in lines
    first = lines[lines.index(("BEGIN", "", "VEVENT")) : lines.index(("END", "", "VEVENT")) + 1]
    assert [name for name, _, _ in first] == [
        "BEGIN", "UID", "DTSTAMP", "DTSTART", "SUMMARY", "DESCRIPTION", "URL", "TRANSP", "END",
    ]  # fmt: skip
    assert ("DTSTAMP", "", "20250301T093000Z") in first
    assert ("DTSTART", "VALUE=DATE", "20250530") in first
    assert ("DESCRIPTION", "", "90 days\\, at least\\; read on") in first
    assert "ATTENDEE" not in names and "METHOD" not in names and "VALARM" not in names


def test_an_empty_calendar_is_still_one() -> None:
    assert unfolded(calendar_text("x", [], STAMP))[-1] == "END:VCALENDAR"


@given(st.text(max_size=300))
def test_any_text_comes_back(text: str) -> None:
    described = calendar_text("x", [event(description=text, summary=text)], STAMP)
    values = {name: value for name, _, value in map(parts, unfolded(described))}
    kept = re.sub(r"\r\n?", "\n", text).replace("\t", " ")
    kept = "".join(c for c in kept if c == "\n" or (c >= " " and c != "\x7f"))
    assert plain(values["DESCRIPTION"]) == plain(values["SUMMARY"]) == kept


@given(st.text(st.characters(min_codepoint=32, blacklist_categories=["Cs"]), max_size=400))
def test_folding_never_splits_a_character(line: str) -> None:
    for piece in folded(line).split("\r\n"):
        assert len(piece.encode("utf-8")) <= 75


def test_a_long_line_is_folded_at_exactly_the_limit() -> None:
    assert folded("x" * 75) == "x" * 75
    assert folded("x" * 76) == "x" * 75 + "\r\n x"
    assert escaped("a\\b;c,d\ne") == "a\\\\b\\;c\\,d\\ne"
