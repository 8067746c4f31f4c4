from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from tests.setups.journals import BASS, Bench
from webapp.setups.assess import assess_case
from webapp.setups.journal import Part
from webapp.setups.lesson import LessonCheck, LessonSheet
from webapp.setups.lessons.class_sheet import (
    BY_NAME,
    ClassSheet,
    HandIn,
    SheetLine,
    class_sheet,
    hand_in_of,
    sheet_csv,
)
from webapp.setups.states import Word
from webapp.trade.words import Check

AT = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
CHECKS = (Check.START, Check.RELIEF, Check.HEIGHT)
LESSON = LessonSheet(title="A lesson", kind=BASS, checks=tuple(LessonCheck(check=c) for c in CHECKS))
GOOD = 0.3


def bench(relief: float | None = GOOD, *heights: float) -> Bench:
    made = Bench(BASS)
    made.start()
    if relief is not None:
        made.reading("relief", relief)
    for number, height in zip((4, 3, 2, 1), heights or (2.4, 2.3, 2.2, 2.0), strict=True):
        made.reading(f"height.{number}", height)
    return made


def handed(made: Bench, finished: bool = True) -> HandIn:
    case = replace(made.case(), lesson=LESSON.targets)
    return hand_in_of(case, assess_case(case), finished)


def sheet(*handed_in: tuple[str, HandIn], sort: str = BY_NAME) -> ClassSheet:
    lines = [
        SheetLine(name, name, AT + timedelta(minutes=i), what) for i, (name, what) in enumerate(handed_in)
    ]
    return class_sheet(lines, CHECKS, sort)


def sentences(made: ClassSheet, of: Check | None = None) -> list[str]:
    return [pointer.sentence for pointer in made.pointers if of in (None, pointer.check)]


def test_a_hand_in_holds_verdicts_readings_and_turns_and_nothing_else() -> None:
    made = bench(0.7)
    made.turn(Part.ROD, 1)
    made.reading("relief", 0.62)
    made.note("My diary")
    what = handed(made)
    assert [done.check for done in what.checks] == list(CHECKS)
    relief = what.check(Check.RELIEF)
    assert relief is not None and relief.telling is not None
    assert (relief.word, relief.telling.value) == (Word.TOUCH_HIGH, 0.62)
    assert what.turned == ("Rod: tightened an eighth of a turn",)
    kept = what.model_dump_json()
    assert "diary" not in kept and made.spec.name not in kept
    assert HandIn.model_validate_json(kept) == what


def test_what_is_not_done_yet_under_way_is_nobodys_mistake() -> None:
    under_way = Bench(BASS).start()
    under_way.reading("relief", 0.9)
    found = sheet(("Ann", handed(under_way, finished=False)), ("Bob", handed(bench())))
    assert sentences(found) == ["Relief: too much bow at 1 of 2."]
    at_its_end = sheet(("Ann", handed(under_way)), ("Bob", handed(bench())))
    assert any("String height" in one or "string height" in one for one in sentences(at_its_end))


def test_what_a_student_likes_so_still_reads_as_it_reads() -> None:
    made = bench(0.7)
    made.keep("relief")
    relief = handed(made).check(Check.RELIEF)
    assert relief is not None and relief.kept and relief.word is Word.TOO_HIGH


def test_readings_are_said_the_standard_way() -> None:
    made = bench()
    made.reading("height.4", 2.6, hold=0, gap=12)
    height = handed(made).check(Check.HEIGHT)
    assert height is not None
    assert height.places[0].value is not None and height.places[0].value < 2.6


def test_lines_stand_by_name_whatever_its_case() -> None:
    what = handed(bench())
    made = sheet(("zoe", what), ("Ann", what), ("bob", what), ("Émile", what))
    assert [line.name for line in made.lines] == ["Ann", "bob", "zoe", "Émile"]


def test_sorted_by_a_check_the_neediest_comes_first_then_the_name() -> None:
    good, high, unread = handed(bench()), handed(bench(0.9)), handed(bench(None))
    made = sheet(("Ann", good), ("Bob", high), ("Cy", unread), ("Al", high), sort="relief")
    assert [line.name for line in made.lines] == ["Al", "Bob", "Cy", "Ann"]
    assert [line.name for line in sheet(("B", good), ("A", high), sort="no such").lines] == ["A", "B"]


def test_it_says_what_most_of_the_class_gets_wrong() -> None:
    high, good = handed(bench(0.9)), handed(bench())
    made = sheet(*((f"high {i}", high) for i in range(18)), *((f"good {i}", good) for i in range(12)))
    assert sentences(made, Check.RELIEF) == ["Relief: too much bow at 18 of 30."]
    assert made.pointers[0].most


def test_a_minority_is_told_but_not_as_most() -> None:
    made = sheet(("a", handed(bench(0.9))), ("b", handed(bench())), ("c", handed(bench())))
    assert sentences(made, Check.RELIEF) == ["Relief: too much bow at 1 of 3."]
    assert not made.pointers[0].most


def test_touches_and_too_are_told_apart() -> None:
    made = sheet(("a", handed(bench(0.9))), ("b", handed(bench(0.5))), ("c", handed(bench(0.55))))
    assert sentences(made, Check.RELIEF) == ["Relief: a touch bowed at 3 of 3, 1 of them too much bow."]


def test_the_place_that_is_meant_most_is_named() -> None:
    one, other = handed(bench(GOOD, 4.2, 2.3, 2.2, 2.0)), handed(bench(GOOD, 4.2, 2.3, 2.2, 2.8))
    made = sheet(("a", one), ("b", one), ("c", other))
    assert sentences(made) == ["String height: too high at 3 of 3, most often the E string (3)."]


def test_what_is_missing_is_told() -> None:
    made = sheet(("a", handed(bench(None))), ("b", handed(bench(None))), ("c", handed(bench())))
    assert sentences(made, Check.RELIEF) == ["2 of 3 have readings of relief missing or in doubt."]


def test_a_stopped_setup_and_one_not_played_are_told_in_their_own_words() -> None:
    stopped = Bench(BASS)
    stopped.start(stopped.trade.start.stoppers[0].key)
    lesson = LESSON.model_copy(update={"checks": (*LESSON.checks, LessonCheck(check=Check.PLAYTEST))})
    case = replace(stopped.case(), lesson=lesson.targets)
    what = hand_in_of(case, assess_case(case), finished=True)
    start, play = what.check(Check.START), what.check(Check.PLAYTEST)
    assert start is not None and play is not None
    assert (start.said, play.said) == ("stopped", "not signed off")
    told = sentences(sheet(("a", what)))
    assert "1 of 1 stopped at the start, for a repairer." in told
    assert "1 of 1 did not sign off the play test." in told


def test_a_play_test_signed_with_faults_is_not_good() -> None:
    made = bench()
    made.observe("playtest", symptoms=[made.trade.playtest[0].symptoms[0].key], signed=True)
    lesson = LESSON.model_copy(update={"checks": (*LESSON.checks, LessonCheck(check=Check.PLAYTEST))})
    case = replace(made.case(), lesson=lesson.targets)
    what = hand_in_of(case, assess_case(case), finished=True)
    play = what.check(Check.PLAYTEST)
    assert play is not None and play.said == "faults found" and play.word is not Word.GOOD
    assert "1 of 1 found faults in the play test." in sentences(sheet(("a", what)))


def test_a_range_is_handed_in_as_a_range() -> None:
    made = bench(None)
    made.reading("relief", 0.45, method="card", answer="one", low=0.3, high=0.6)
    what = handed(made)
    relief = what.check(Check.RELIEF)
    assert relief is not None and (relief.places[0].low, relief.places[0].high) == (0.3, 0.6)
    (row,) = rows(sheet(("a", what)))
    assert row["Relief, mm"] == "0.30 to 0.60 mm"


def test_a_hand_in_of_before_can_still_be_read() -> None:
    """Where something was turned after a reading, that used to be out of date."""
    place = {"key": "relief", "label": "Relief", "word": "out of date", "value": 0.7}
    kept = {"checks": [{"check": "relief", "word": "out of date", "places": [place]}]}
    relief = HandIn.model_validate_json(json.dumps(kept)).check(Check.RELIEF)
    assert relief is not None and relief.said == "expected" and relief.places[0].said == "expected"


def test_a_place_that_was_moved_is_handed_in_as_what_is_expected() -> None:
    made = bench(0.7)
    made.turn(Part.ROD, 1)
    relief = handed(made).check(Check.RELIEF)
    assert relief is not None and relief.word is Word.EXPECTED
    assert relief.places[0].value is not None and relief.places[0].value < 0.7


def test_a_start_that_was_left_out_is_not_one_that_stopped() -> None:
    made = Bench(BASS)
    made.reading("relief", GOOD)
    start = handed(made).check(Check.START)
    assert start is not None and start.said == "left out"
    told = sentences(sheet(("a", handed(made)), ("b", handed(bench()))))
    assert "1 of 2 left the start out." in told


def test_a_class_where_all_is_well_is_told_nothing() -> None:
    assert sentences(sheet(("a", handed(bench())))) == []
    assert sentences(sheet()) == []


def rows(made: ClassSheet) -> list[dict[str, str]]:
    text = sheet_csv(made)
    assert text.startswith("\ufeff")
    return list(csv.DictReader(io.StringIO(text[1:], newline="")))


def test_the_csv_holds_every_verdict_and_every_reading() -> None:
    kept = bench(0.7)
    kept.keep("relief")
    (row,) = rows(sheet(('Ann, "A"', handed(kept))))
    assert row["Name"] == 'Ann, "A"' and row["Relief"] == "too much bow"
    assert (row["Relief, mm"], row["Relief, verdict"]) == ("0.7", "too much bow (kept)")
    assert row["String height: E string, mm"] == "2.4"
    assert row["Start"] == "good" and row["Turned"] == ""


@pytest.mark.parametrize("name", ["=1+1", "+1 2", "-x", "@SUM(A1)", "\t=1", " =1"])
def test_no_name_becomes_a_formula(name: str) -> None:
    (row,) = rows(sheet((name, handed(bench(-0.2)))))
    assert row["Name"] == f"'{name}"
    assert row["Relief, mm"] == "-0.2"


def test_students_with_other_places_share_one_sheet() -> None:
    few = handed(bench())
    cut = few.checks[2].model_copy(update={"places": few.checks[2].places[:2]})
    made = sheet(("a", few), ("b", HandIn(checks=(cut,))))
    first, second = rows(made)
    assert second["String height: D string, mm"] == "" and first["String height: D string, mm"] == "2.2"
    assert second["Relief"] == ""
