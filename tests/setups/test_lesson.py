from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import Any

import pytest
from pydantic import ValidationError

from tests.setups.journals import BASS, CLASSICAL, GUITAR, Bench, all_kinds, the_trade
from webapp.setups.assess import assess_case
from webapp.setups.journal import Part
from webapp.setups.lesson import LessonCheck, LessonSheet
from webapp.setups.lessons.lesson_file import (
    FILE_BYTES,
    BadLesson,
    checks_of,
    lesson_file,
    read_lesson_file,
    rows_of,
)
from webapp.setups.lessons.notes import notes_html
from webapp.setups.past.history import readings_taken
from webapp.setups.slots import all_slots, parse_slot
from webapp.setups.states import Act, Word
from webapp.trade.ranges import Band, TargetUsual
from webapp.trade.spec import OwnSwing
from webapp.trade.words import Check


def bands(low: float, high: float, usual_low: float, usual_high: float) -> TargetUsual:
    return TargetUsual(target=Band(low=low, high=high), usual=Band(low=usual_low, high=usual_high))


def sheet(*checks: Check, kind: str = BASS, **rows: TargetUsual) -> LessonSheet:
    chosen = tuple(LessonCheck(check=check) for check in Check if check in (Check.START, *checks))
    return LessonSheet(title="A lesson", kind=kind, checks=chosen, bands=rows)


def whole(kind: str = BASS) -> LessonSheet:
    """Every check of a kind with the trade's own bands."""
    trade = the_trade()
    found = trade.kinds[kind]
    rows = {row.key: row.stated for row in rows_of(trade, found)}
    return sheet(*checks_of(found), kind=kind, **rows)


def test_a_lesson_that_changes_nothing_judges_as_the_table_does() -> None:
    for kind in all_kinds():
        bench = Bench(kind)
        plain = bench.case()
        taught = replace(plain, lesson=whole(kind).targets)
        for slot in all_slots(bench.spec):
            ours, table = taught.bands(slot), plain.bands(slot)
            assert (ours.usual.low, ours.usual.high) == pytest.approx((table.usual.low, table.usual.high))
            assert ours.target.high == pytest.approx(table.target.high), (kind, slot.key)
            # An open string may ask for more room at the nut than the table has; a teacher says what counts.
            if slot.check is Check.NUT:
                assert ours.target.low < table.target.low + 1e-6
            else:
                assert ours.target.low == pytest.approx(table.target.low, abs=1e-5), (kind, slot.key)


def test_the_lessons_bands_are_judged_by_and_go_evenly_across_the_strings() -> None:
    taught = sheet(
        Check.RELIEF, Check.HEIGHT,
        relief=bands(0.5, 0.6, 0.4, 0.7), height_bass=bands(4, 5, 3, 6), height_treble=bands(1, 2, 0.7, 3),
    )  # fmt: skip
    bench = Bench(BASS)
    bench.start()
    bench.reading("relief", 0.3)
    bench.reading("height.4", 4.5)
    bench.reading("height.1", 4.5)
    case = replace(bench.case(), lesson=taught.targets)
    found = assess_case(case)
    assert found.slot("relief").verdict.word is Word.TOO_LOW
    assert found.slot("height.4").verdict.word is Word.GOOD
    assert found.slot("height.1").verdict.word is Word.TOO_HIGH
    middle = case.bands(parse_slot("height.3", bench.spec)).target
    assert (middle.low, middle.high) == pytest.approx((3.0, 4.0))
    assert bench.state("relief").verdict.word is Word.GOOD


def test_what_the_lesson_does_not_say_is_as_the_table_has_it() -> None:
    bench = Bench(BASS)
    case = replace(bench.case(), lesson=sheet(Check.RELIEF, Check.NUT).targets)
    for key in ("relief", "nut.1", "height.2", "intonation.1.high", "pickups.1.bass"):
        slot = parse_slot(key, bench.spec)
        assert case.bands(slot) == bench.case().bands(slot)


def test_wound_and_plain_strings_and_types_of_pickup_have_bands_of_their_own() -> None:
    bench = Bench(GUITAR)
    taught = sheet(
        Check.NUT, Check.PICKUPS, kind=GUITAR,
        nut_wound=bands(0.6, 0.7, 0.5, 0.8), nut_plain=bands(0.1, 0.2, 0.05, 0.3),
        pickup_single_bass=bands(5, 6, 4, 7),
    )  # fmt: skip
    case = replace(bench.case(), lesson=taught.targets)

    def low(key: str) -> float:
        return case.bands(parse_slot(key, bench.spec)).target.low

    assert (low("nut.6"), low("nut.1"), low("pickups.1.bass")) == (0.6, 0.1, 5)
    table = bench.case().bands(parse_slot("pickups.1.treble", bench.spec))
    assert low("pickups.1.treble") == table.target.low


def test_intonation_bands_follow_the_fret_that_was_used() -> None:
    taught = sheet(
        Check.INTONATION,
        intonation_12=bands(-1, 1, -2, 2), intonation_high=bands(-11, 11, -12, 12),
    )  # fmt: skip
    bench = Bench(BASS)
    bench.reading("intonation.4.high", 5, fret=14)
    bench.reading("intonation.4.high", 5, fret=19)
    case = replace(bench.case(), lesson=taught.targets)
    older, newest = readings_taken(case, parse_slot("intonation.4.high", bench.spec))
    assert older.bands.target.high == pytest.approx(1 + 10 * 2 / 5)
    assert newest.bands.target.high == 11
    assert (older.verdict.word, newest.verdict.word) == (Word.GOOD, Word.GOOD)


def test_the_lesson_comes_before_a_touch_found_by_test() -> None:
    bench = Bench(BASS, own_swing=OwnSwing(string=4, swing_mm=1.6, error_mm=0.1))
    slot = parse_slot("relief", bench.spec)
    taught = sheet(Check.RELIEF, relief=bands(0.5, 0.6, 0.4, 0.7))
    assert bench.case().bands(slot).target.high != 0.6
    assert replace(bench.case(), lesson=taught.targets).bands(slot).target.high == 0.6


def test_bands_that_the_trade_no_longer_believes_are_cut_to_what_it_does() -> None:
    bench = Bench(BASS)
    taught = sheet(Check.RELIEF, relief=bands(1.5, 9, -9, 9))
    found = replace(bench.case(), lesson=taught.targets).bands(parse_slot("relief", bench.spec))
    assert found.plausible.holds(found.usual) and found.usual.holds(found.target)


def test_only_the_lessons_checks_are_done() -> None:
    bench = Bench(BASS)
    bench.start()
    bench.read(Check.RELIEF)
    case = replace(bench.case(), lesson=sheet(Check.RELIEF, Check.NUT).targets)
    found = assess_case(case)
    assert [check for check, state in found.checks.items() if state.here] == [
        Check.START, Check.RELIEF, Check.NUT,
    ]  # fmt: skip
    assert found.checks[Check.HEIGHT].word is Word.NOT_TAUGHT
    assert found.checks[Check.HEIGHT].step is None
    assert (found.next.act, found.next.check) == (Act.MEASURE, Check.NUT)
    bench.read(Check.NUT)
    assert assess_case(replace(bench.case(), lesson=case.lesson)).next.act is Act.FINISH


def test_a_place_outside_the_lesson_can_still_be_looked_at() -> None:
    bench = Bench(BASS)
    bench.reading("height.4", 9.0)
    found = assess_case(replace(bench.case(), lesson=sheet(Check.RELIEF).targets))
    assert found.slot("height.4").verdict.word is Word.MEASURE_AGAIN


def test_what_an_instrument_lacks_is_not_put_down_to_the_lesson() -> None:
    bench = Bench(CLASSICAL)
    found = assess_case(replace(bench.case(), lesson=sheet(Check.RELIEF, kind=CLASSICAL).targets))
    assert found.checks[Check.PICKUPS].word is Word.NOT_HERE


def test_turning_the_rod_in_a_lesson_asks_for_nothing_outside_it() -> None:
    bench = Bench(BASS)
    bench.start()
    bench.reading("relief", 0.7)
    bench.turn(Part.ROD, 2)
    bench.reading("relief", 0.4)
    found = assess_case(replace(bench.case(), lesson=sheet(Check.RELIEF).targets))
    assert found.next.act is Act.FINISH


def test_nobody_leaves_out_the_start() -> None:
    only = LessonSheet(title="A lesson", kind=BASS, checks=(LessonCheck(check=Check.RELIEF),))
    assert Check.START in only.targets.checks


@pytest.mark.parametrize("checks", [(), ("nut", "relief"), ("nut", "nut")])
def test_a_lesson_names_each_check_once_in_order(checks: tuple[str, ...]) -> None:
    with pytest.raises(ValidationError):
        LessonSheet.model_validate(
            {"title": "A", "kind": BASS, "checks": [{"check": check} for check in checks]}
        )


# what a teacher writes


@pytest.mark.parametrize(
    "written",
    [
        "<script>alert(1)</script>",
        "<img src=x onerror=alert(1)>",
        "![x](https://elsewhere.example/x.png)",
        "[x](javascript:alert(1))",
        "[x](JaVaScript:alert(1))",
        "[x](java\tscript:alert(1))",
        "[x](data:text/html,<script>alert(1)</script>)",
        "[x](//elsewhere.example/)",
        "[x](vbscript:x)",
        "<javascript:alert(1)>",
        "[x]: javascript:alert(1)\n\n[x]",
        "`<b onclick=x>`",
        "    <iframe src=//elsewhere.example>",
    ],
)
def test_notes_hold_nothing_that_runs_or_fetches(written: str) -> None:
    html = notes_html(written)
    elements = set(re.findall(r"<([a-z0-9]+)", html))
    assert elements <= {"p", "a", "pre", "code"}, html
    leads_to = re.findall(r"<a ([^>]*)>", html)
    assert all(re.match(r'href="https://elsewhere\.example/', link) for link in leads_to), html


def test_links_lead_to_pages_and_give_nothing_away() -> None:
    html = notes_html("[a](https://example.org/?q=1) [b](/setups) <http://example.org>")
    assert html.count('rel="noopener noreferrer"') == 3
    assert 'href="https://example.org/?q=1"' in html and 'href="/setups"' in html


def test_notes_keep_their_shape_below_the_pages_own_title() -> None:
    assert notes_html("# One\n\n###### Six\n\n- a\n- **b**") == (
        "<h3>One</h3>\n<h6>Six</h6>\n<ul>\n<li>a</li>\n<li><strong>b</strong></li>\n</ul>\n"
    )
    assert notes_html(" \n ") == ""


# as a file


def document(**changes: Any) -> dict[str, Any]:
    """A good lesson file, changed."""
    made: dict[str, Any] = json.loads(lesson_file(whole()))
    made["lesson"] |= changes
    return made


def read(made: Any) -> LessonSheet:
    return read_lesson_file(json.dumps(made).encode(), the_trade())


def test_a_lesson_comes_back_from_its_file() -> None:
    for kind in all_kinds():
        words = {"title": "Häls & Saiten", "intro": "One\n\n*two*"}
        left = whole(kind).model_copy(update={**words, "typed": {"relief_usual_low": "3 thou"}})
        came = read_lesson_file(lesson_file(left).encode(), the_trade())
        assert came == left.model_copy(update={"typed": {}})


@pytest.mark.parametrize(
    "content, told",
    [
        (b"", "not a lesson"),
        (b"\xff\xfe", "not a lesson"),
        (b"[" * 100_000, "not a lesson"),
        (b"{}", "not a lesson"),
        (b"[1, 2]", "not a lesson"),
        (b'{"schema": "benchside-lesson"}', "another version"),
        (b'{"schema": "benchside-lesson", "version": true}', "another version"),
        (b'{"schema": "benchside-lesson", "version": 3, "lesson": {}}', "another version"),
        (b'{"schema": "benchside-lesson", "version": 1, "lesson": []}', "not a lesson"),
        (b" " * (FILE_BYTES + 1), "larger than 256 kB"),
    ],
)
def test_what_is_no_lesson_is_told_in_a_sentence(content: bytes, told: str) -> None:
    with pytest.raises(BadLesson) as bad:
        read_lesson_file(content, the_trade())
    assert told in bad.value.sentence and bad.value.sentence.endswith(".")


@pytest.mark.parametrize(
    "changes, told",
    [
        ({"kinds": ["zither_40"]}, "no kind of instrument called “zither_40”"),
        ({"kinds": []}, "kinds"),
        ({"kinds": [BASS, BASS]}, "each kind"),
        ({"title": ""}, "title"),
        ({"title": "\x00\x01 "}, "no title"),
        ({"title": "x" * 81}, "title"),
        ({"title": "\ud800"}, "title"),
        ({"title": 7}, "title"),
        ({"intro": "x" * 5000}, "intro"),
        ({"checks": []}, "checks"),
        ({"checks": [{"check": "hum"}]}, "checks"),
        ({"checks": [{"check": "nut"}, {"check": "relief"}]}, "order of the bench"),
        ({"checks": [{"check": "nut", "notes": "x" * 5000}]}, "notes"),
        ({"bands": []}, "bands"),
        ({"bands": {"relief": {"target": [0.4, 0.2], "usual": [0, 1]}}}, "above the high end"),
        ({"bands": {"relief": {"target": [0, 1], "usual": [0.2, 0.4]}}}, "inside the usual band"),
        ({"bands": {"relief": {"target": [0, 1], "usual": [-9, 9]}}}, "between −1 and 2 mm"),
        ({"bands": {"intonation_12": {"target": [0, 1], "usual": [-99, 9]}}}, "between −60 and 60 cents"),
        ({"bands": {"hum": {"target": [0, 1], "usual": [0, 1]}}}, "“hum”"),
        ({"bands": {"relief": {"target": [0, float("nan")], "usual": [0, 1]}}}, "bands"),
        ({"bands": {"relief": {"target": [0, float("inf")], "usual": [0, 1]}}}, "bands"),
        ({"bands": {"relief": {"target": [0, 1], "usual": [0, 1], "more": 1}}}, "bands"),
    ],
)
def test_a_bad_lesson_is_told_in_a_sentence(changes: dict[str, Any], told: str) -> None:
    with pytest.raises(BadLesson) as bad:
        read(document(**changes))
    assert told in bad.value.sentence and bad.value.sentence.endswith(".")


def test_a_file_cannot_ask_for_pickups_where_there_are_none() -> None:
    with pytest.raises(BadLesson, match="asks for pickups"):
        read(document(kinds=[CLASSICAL], checks=[{"check": "pickups"}], bands={}))


def test_only_what_belongs_to_the_lessons_checks_is_taken_from_a_file() -> None:
    came = read(document(checks=[{"check": "relief", "notes": "a\x00b\r\nc"}]))
    assert set(came.bands) == {"relief"}
    assert came.notes(Check.RELIEF) == "ab\nc" and came.notes(Check.NUT) == ""
