"""The report: before and after, what was turned, what is left, when to look again."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, MORNING, Bench
from webapp.setups.journal import Entry, Part
from webapp.setups.past.report import CheckReport, Ending, Report, ReportRow, Who, build_report, ending
from webapp.setups.slots import all_slots
from webapp.trade.words import Check


def finished(kind: str = BASS, skip: tuple[str, ...] = (), **values: float) -> Bench:
    """A bench at its end: every place read once, in the middle of its target or as told; nothing buzzes."""
    bench = Bench(kind)
    bench.observe("start", done=[], age="weeks", stoppers=[])
    for slot in all_slots(bench.spec):
        if slot.key not in skip:
            bench.reading(slot.key, values.get(slot.key.replace(".", "_")))
    bench.observe("height.buzz", taps=[], touch="medium")
    if bench.spec.pickups:
        bench.observe("pickups.ear", heard=[])
    bench.observe("playtest", symptoms=[], signed=True)
    return bench


def end_of(bench: Bench) -> Ending:
    return ending(bench.assess())


def left_of(found: Ending) -> list[tuple[str, Who]]:
    return [(one.what, one.who) for one in found.left]


def test_a_sound_setup_is_well_set_up() -> None:
    found = end_of(finished())
    assert found.is_right and found.done and not found.left
    assert found.sentence == "Plays well. Everything is right."
    assert [state.check for state in found.right] == [check for check in Check if check is not Check.START]


def test_what_was_not_done_is_the_players_and_named_once_a_check() -> None:
    bench = Bench()
    bench.observe("start", done=[], age="weeks", stoppers=[])
    bench.reading("relief")
    found = end_of(bench)
    assert not found.done and found.sentence.startswith("Not everything is done")
    assert [(one.check, one.who) for one in found.left] == [
        (check, Who.PLAYER)
        for check in (Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS, Check.PLAYTEST)
    ]


def test_what_the_player_likes_so_is_nobodys() -> None:
    bench = finished(height_4=3.9)
    bench.reading("height.4", 3.9)
    bench.keep("height.4")
    found = end_of(bench)
    assert left_of(found) == [("E string", Who.KEPT)]
    assert found.is_right and found.sentence == "Plays well. It is as you want it."


def test_a_saddle_without_screws_is_a_repairers_for_every_string_that_is_off() -> None:
    off = {f"height_{n}": 3.9 for n in range(1, 7)}
    bench = finished(ACOUSTIC, **off)
    for number in range(1, 7):
        bench.reading(f"height.{number}", 3.9)
    found = end_of(bench)
    heights = [one for one in found.left if one.check is Check.HEIGHT]
    assert len(heights) == 6 and {one.who for one in heights} == {Who.REPAIRER}
    assert not found.is_right and found.sentence == "Plays well. One thing is left for a repairer."
    assert found.repairer


def test_a_fault_at_the_play_test_is_not_right_though_it_is_signed_off() -> None:
    bench = finished()
    bench.observe("playtest", symptoms=["low_frets"], signed=True)
    found = end_of(bench)
    assert found.done and not found.is_right
    assert found.sentence.startswith("Not everything is right yet")
    assert [one.check for one in found.left] == [Check.PLAYTEST]


def test_a_buzz_that_was_marked_is_not_right_though_every_height_is() -> None:
    bench = finished()
    bench.observe("height.buzz", taps=[[1, 9]], touch="medium")
    found = end_of(bench)
    assert [(one.check, one.who) for one in found.left] == [(Check.HEIGHT, Who.REPAIRER)]
    assert Check.HEIGHT not in [state.check for state in found.right]


@pytest.mark.parametrize("hours", [1, 11])
def test_a_rod_that_was_not_read_since_it_settled_is_said(hours: int) -> None:
    bench = finished()
    bench.turn(Part.ROD, 1)
    for slot in all_slots(bench.spec):
        bench.reading(slot.key)
    bench.observe("height.buzz", taps=[], touch="medium")
    bench.observe("pickups.ear", heard=[])
    bench.observe("playtest", symptoms=[], signed=True)
    turned = bench.entries[-1].at - timedelta(minutes=len(all_slots(bench.spec)) + 3)
    bench.wait(hours=hours)
    found = end_of(bench)
    assert found.relief_at is not None and found.relief_at > turned
    assert "Plays well" not in found.sentence and "has still to settle" in found.sentence


END = MORNING + timedelta(hours=2)


def report_of(bench: Bench, finished: datetime | None = END) -> Report:
    return build_report(bench.case(), bench.assess(), MORNING, finished)


def row(report: Report, key: str) -> ReportRow:
    return next(r for check in report.checks for r in check.rows if r.state.slot.key == key)


def check_of(report: Report, check: Check) -> CheckReport:
    return next(c for c in report.checks if c.check is check)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(-0.4, 1.2), st.one_of(st.none(), st.integers(0, 20))), max_size=15))
def test_before_and_after_are_the_first_and_the_last_valid_reading(
    steps: list[tuple[float, int | None]],
) -> None:
    """Where a reading is corrected, the correction takes its place."""
    bench = Bench()
    valid: list[Entry] = []
    for value, pick in steps:
        if pick is None or not valid:
            valid.append(bench.reading("relief", value))
        else:
            place = pick % len(valid)
            valid[place] = bench.correct(valid[place], value)
    found = row(report_of(bench), "relief")
    assert (found.before and found.before.entry) == (valid[0] if valid else None)
    assert (found.after and found.after.entry) == (valid[-1] if valid else None)


def test_every_place_of_the_instrument_has_a_row() -> None:
    report = report_of(Bench(BASS))
    keys = [r.state.slot.key for check in report.checks for r in check.rows]
    assert len(keys) == len(set(keys)) == 1 + 4 + 4 + 8 + 4
    assert all(check.untouched for check in report.checks)


def test_a_check_that_is_not_on_this_instrument_is_named_without_rows() -> None:
    pickups = check_of(report_of(Bench(CLASSICAL)), Check.PICKUPS)
    assert not pickups.here and pickups.rows == ()


def test_a_place_read_once_is_said_once() -> None:
    bench = Bench()
    bench.reading("relief", 0.3)
    bench.reading("nut.4", 0.4)
    bench.reading("nut.4", 0.4)
    report = report_of(bench)
    assert row(report, "relief").read_once
    assert not row(report, "nut.4").read_once


def test_how_it_was_read_is_said_once_where_it_is_the_same() -> None:
    bench = Bench()
    bench.reading("height.4")
    bench.reading("height.1")
    assert check_of(report_of(bench), Check.HEIGHT).how == "at fret 12, held at 1; string-height gauge"
    bench.reading("height.3", 2.9, hold=0, gap=12)
    assert check_of(report_of(bench), Check.HEIGHT).how == ""


def test_kept_and_moved_are_flagged() -> None:
    bench = Bench()
    bench.reading("relief", 0.3)
    bench.reading("height.4", 3.4)
    bench.keep("height.4")
    bench.reading("height.1", 2.2)
    bench.turn(Part.SADDLE_HEIGHT, 8, string=1)
    report = report_of(bench)
    kept, moved = row(report, "height.4"), row(report, "height.1")
    assert kept.kept and not kept.expected
    assert moved.expected and not moved.kept and not moved.read_once
    assert moved.said == "expected" and moved.state.value > 2.3
    assert moved.before is not None and moved.before.value == 2.2


def test_a_place_that_was_never_read_says_what_is_known_of_it_or_nothing() -> None:
    report = report_of(Bench().up_to(Check.NUT))
    assert not row(report, "nut.4").expected and row(report, "nut.4").said == "not measured"
    assert check_of(report, Check.NUT).untouched


def test_it_ends_with_what_is_right_and_what_is_not_and_who_does_it() -> None:
    bench = Bench().up_to(Check.NUT)
    bench.read(Check.NUT)
    bench.reading("nut.1", 0.9)
    bench.reading("nut.1", 0.9)
    ending = report_of(bench).ending
    assert Check.RELIEF in [state.check for state in ending.right]
    assert ("G string", Who.REPAIRER) in [(left.what, left.who) for left in ending.left]
    assert any("nut slot high" in item.text for item in ending.repairer)


def test_a_turned_rod_is_read_again_when_it_has_settled() -> None:
    bench = Bench()
    bench.reading("relief", 0.6)
    turned = bench.turn(Part.ROD, 1)
    bench.reading("relief", 0.4)
    report = report_of(bench)
    assert report.ending.relief_at == turned.at + timedelta(hours=bench.trade.belief.rod.settle_hours)
    assert report.next_at == END + timedelta(days=bench.trade.due.review_days)


def test_a_rod_left_alone_needs_no_second_look() -> None:
    bench = Bench()
    bench.reading("relief", 0.3)
    assert report_of(bench).ending.relief_at is None


def test_an_unfinished_setup_has_no_next_date_and_says_what_is_next() -> None:
    report = report_of(Bench().start(), finished=None)
    assert not report.finished and report.next_at is None
    assert report.next_sentence == "Measure: Relief"


def test_a_stopped_setup_says_why() -> None:
    report = report_of(Bench().start("crack"), finished=None)
    assert "crack" in report.stopped_by
    assert [item.check for item in report.ending.repairer] == [Check.START]


def test_the_cautions_are_those_of_this_instrument() -> None:
    bass, classical = report_of(Bench(BASS)), report_of(Bench(CLASSICAL))
    assert {c.key for c in classical.cautions} < {c.key for c in bass.cautions}
    assert not {"rod_key", "amplifier_off"} & {c.key for c in classical.cautions}
    assert {"rod_key", "amplifier_off", "maker_first"} <= {c.key for c in bass.cautions}
    assert [c.key for c in bass.guidance] == [c.key for c in classical.guidance] == ["guidance"]


def test_the_strings_age_and_a_change_of_strings_are_kept() -> None:
    bench = Bench().start()
    bench.turn(Part.STRINGS)
    report = report_of(bench)
    age = next(a for a in bench.trade.start.ages if a.key == "fresh")
    assert report.ready[0].lower() == f"at the start: {age.label.lower()}."
    assert report.ready[1] == "Changed in this setup."


def test_buzz_marks_are_the_newest_and_flagged_when_something_was_turned_since() -> None:
    bench = Bench()
    assert report_of(bench).buzz is None
    bench.buzz((4, 0))
    bench.buzz((2, 5), (2, 7))
    fresh = report_of(bench).buzz
    bench.turn(Part.ROD, 1)
    stale = report_of(bench).buzz
    assert fresh is not None and stale is not None
    assert [(s.number, s.frets) for s in fresh.strings] == [(2, (5, 7))]
    assert not fresh.turned_since and stale.turned_since


def test_notes_are_there_unless_struck_through() -> None:
    bench = Bench()
    bench.note("Stiff saddle screw.")
    bench.void(bench.note("Not so."))
    assert [n.typed for n in report_of(bench).notes] == ["Stiff saddle screw."]
