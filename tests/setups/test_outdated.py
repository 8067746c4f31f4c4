"""What makes what out of date: the design's table, row by row, and what a correction undoes."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.setups.journals import BASS, GUITAR, MORNING, POSTS, Bench
from webapp.setups.journal import Part
from webapp.setups.learning import relief_pairs
from webapp.setups.states import Act
from webapp.setups.verdicts import Word
from webapp.trade.words import Check, Side

KINDS = (BASS, GUITAR, POSTS)
EVERYTHING = (Check.RELIEF, Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS)


def measured(kind: str) -> Bench:
    """A setup with every slot read once."""
    return Bench(kind).up_to(Check.PLAYTEST)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_out_of_date_until_something_is_turned(kind: str) -> None:
    assert measured(kind).outdated == set()


@pytest.mark.parametrize("kind", KINDS)
def test_new_strings_put_everything_out_of_date(kind: str) -> None:
    bench = measured(kind)
    bench.turn(Part.STRINGS)
    assert bench.outdated == bench.keys(*EVERYTHING)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("eighths", [1, -2])
def test_the_rod_leaves_only_the_nut(kind: str, eighths: int) -> None:
    bench = measured(kind)
    bench.turn(Part.ROD, eighths)
    assert bench.outdated == bench.keys(Check.RELIEF, Check.HEIGHT, Check.INTONATION, Check.PICKUPS)


@pytest.mark.parametrize(("kind", "string"), [(BASS, 4), (BASS, 2), (GUITAR, 6), (GUITAR, 1), (GUITAR, 3)])
def test_one_saddle_concerns_its_own_string_and_the_pickups(kind: str, string: int) -> None:
    bench = measured(kind)
    bench.turn(Part.SADDLE_HEIGHT, 2, string=string)
    own = {f"height.{string}", f"intonation.{string}.12", f"intonation.{string}.high"}
    assert bench.outdated == own | bench.keys(Check.PICKUPS)


@pytest.mark.parametrize("side", list(Side))
def test_a_post_concerns_every_string(side: Side) -> None:
    bench = measured(POSTS)
    bench.turn(Part.SADDLE_HEIGHT, 2, side=side)
    assert bench.outdated == bench.keys(Check.HEIGHT, Check.INTONATION, Check.PICKUPS)


@pytest.mark.parametrize(("kind", "string"), [(BASS, 3), (GUITAR, 5), (POSTS, 1)])
def test_a_nut_slot_concerns_its_own_string(kind: str, string: int) -> None:
    bench = measured(kind)
    bench.turn(Part.NUT, string=string)
    assert bench.outdated == {
        f"nut.{string}", f"height.{string}", f"intonation.{string}.12", f"intonation.{string}.high"
    }  # fmt: skip


@pytest.mark.parametrize(("kind", "string"), [(BASS, 1), (GUITAR, 4), (POSTS, 6)])
def test_a_saddle_moved_along_concerns_its_own_intonation(kind: str, string: int) -> None:
    bench = measured(kind)
    bench.turn(Part.SADDLE_POSITION, -3, string=string)
    assert bench.outdated == {f"intonation.{string}.12", f"intonation.{string}.high"}


@pytest.mark.parametrize("kind", KINDS)
def test_a_pickup_concerns_itself_alone(kind: str) -> None:
    bench = measured(kind)
    bench.turn(Part.PICKUP_HEIGHT, 2, pickup=2, side=Side.BASS)
    assert bench.outdated == {"pickups.2.bass", "pickups.2.treble"}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("part", list(Part))
def test_a_reading_taken_after_the_turn_is_in_date(kind: str, part: Part) -> None:
    bench = Bench(kind).start()
    bench.turn(part, 1, string=2, pickup=1, side=Side.BASS)
    bench.read(*EVERYTHING)
    assert bench.outdated == set()


def test_an_out_of_date_reading_says_so_and_is_asked_for_again() -> None:
    bench = measured(BASS)
    turned = bench.turn(Part.SADDLE_HEIGHT, 2, string=3)
    state = bench.state("height.3")
    assert state.verdict.word is Word.OUT_OF_DATE
    assert state.outdated_by == turned
    assert state.reading is not None and not state.measured
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "height.3")
    assert "again" in bench.next.sentence


def test_voiding_the_turn_brings_the_readings_back_in_date() -> None:
    bench = measured(GUITAR)
    turned = bench.turn(Part.ROD, 2)
    assert bench.outdated
    bench.void(turned)
    assert bench.outdated == set()
    assert bench.next.check is Check.PLAYTEST


def test_voiding_one_of_two_turns_is_not_enough() -> None:
    bench = measured(BASS)
    first, _ = bench.turn(Part.ROD, 1), bench.turn(Part.ROD, 1)
    bench.void(first)
    assert "relief" in bench.outdated


def test_voiding_a_reading_brings_the_one_before_back() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.30)
    slip = bench.reading("relief", 1.5)
    assert bench.state("relief").verdict.word is Word.TOO_HIGH
    bench.void(slip)
    assert bench.state("relief").standard == pytest.approx(0.30)


def test_correcting_a_reading_from_before_a_turn_does_not_make_it_fresh() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    slip = bench.reading("height.4", 24.0)
    bench.turn(Part.SADDLE_HEIGHT, 2, string=4)
    bench.correct(slip, 2.4)
    state = bench.state("height.4")
    assert state.reading is not None and state.reading.value == 2.4
    assert state.verdict.word is Word.OUT_OF_DATE


def test_correcting_an_older_reading_does_not_make_it_the_newest() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    slip = bench.reading("height.4", 38.0)
    bench.turn(Part.SADDLE_HEIGHT, -4, string=4)
    after = bench.reading("height.4", 2.5)
    bench.correct(slip, 3.8)
    assert bench.state("height.4").reading == after
    assert [e.value for e in bench.case().journal.readings("height.4")] == [3.8, 2.5]


def test_a_correction_of_a_correction_stands_where_the_first_one_stood() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    first = bench.reading("relief", 0.03)
    bench.turn(Part.ROD, 1)
    second = bench.correct(first, 0.33)
    third = bench.correct(second, 0.31)
    journal = bench.case().journal
    assert journal.stands_for(third) == first
    assert journal.newest_reading("relief") == third
    assert bench.outdated == {"relief"}


def test_what_the_rod_taught_is_mended_with_the_reading() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    slip = bench.reading("relief", 1.9)
    bench.turn(Part.ROD, 1)
    bench.reading("relief", 0.85)
    bench.correct(slip, 0.9)
    [pair] = relief_pairs(bench.case())
    assert (pair.before_mm, pair.after_mm, pair.eighths) == (0.9, 0.85, 1)


def test_what_was_heard_is_asked_again_after_anything_that_changes_it() -> None:
    for part, string in ((Part.ROD, None), (Part.SADDLE_HEIGHT, 2), (Part.NUT, 2), (Part.STRINGS, None)):
        bench = Bench(BASS).up_to(Check.NUT)
        bench.turn(part, 1, string=string)
        bench.read(Check.RELIEF, Check.HEIGHT)
        assert bench.next.place == "height.buzz", part
    bench = Bench(BASS).up_to(Check.NUT)
    bench.turn(Part.SADDLE_POSITION, 1, string=2)
    assert bench.next.check is Check.NUT


@pytest.mark.parametrize("part", [Part.PICKUP_HEIGHT, Part.SADDLE_HEIGHT, Part.ROD, Part.STRINGS])
def test_pickups_are_listened_to_again_after_they_or_the_strings_moved(part: Part) -> None:
    bench = measured(BASS)
    bench.turn(part, 1, string=1, pickup=1, side=Side.TREBLE)
    bench.read(*EVERYTHING)
    bench.buzz()
    assert bench.next.place == "pickups.ear"


def test_any_turn_asks_for_the_play_test_again() -> None:
    bench = measured(BASS).finish_check(Check.PLAYTEST)
    assert bench.next.act is Act.FINISH
    bench.turn(Part.SADDLE_POSITION, 1, string=2)
    bench.read(Check.INTONATION)
    assert bench.assess().next.act is Act.ANSWER


def test_relief_is_provisional_until_the_rod_has_settled() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.7)
    assert not bench.state("relief").provisional
    turned = bench.turn(Part.ROD, 1)
    settled = turned.at + timedelta(hours=12)
    bench.reading("relief", 0.3)
    assert bench.state("relief").provisional
    assert bench.assess().read_relief_at == settled
    bench.now = settled - timedelta(minutes=2)
    bench.reading("relief", 0.3)
    assert bench.state("relief").provisional
    bench.reading("relief", 0.3)
    assert not bench.state("relief").provisional
    assert bench.assess().read_relief_at is None


def test_a_correction_typed_after_the_rod_settled_is_still_the_early_reading() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.turn(Part.ROD, 1)
    slip = bench.reading("relief", 0.03)
    bench.wait(hours=20)
    bench.correct(slip, 0.3)
    assert bench.state("relief").provisional
    assert bench.assess().read_relief_at is not None


def test_a_rod_that_was_never_turned_need_not_be_read_again() -> None:
    bench = measured(BASS)
    assert bench.assess().read_relief_at is None
    assert bench.now > MORNING
