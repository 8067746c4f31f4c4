"""What moves what: the design's table, row by row; what is read again for it; what a correction undoes."""

from __future__ import annotations

import pytest

from tests.setups.journals import BASS, GUITAR, POSTS, Bench
from webapp.setups.journal import Part
from webapp.setups.states import Act, Word
from webapp.trade.words import Check, Side

KINDS = (BASS, GUITAR, POSTS)
EVERYTHING = (Check.RELIEF, Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS)


def measured(kind: str) -> Bench:
    """A setup with every slot read once."""
    return Bench(kind).up_to(Check.PLAYTEST)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_moved_until_something_is_turned(kind: str) -> None:
    assert measured(kind).moved == set()


@pytest.mark.parametrize("kind", KINDS)
def test_new_strings_move_everything(kind: str) -> None:
    bench = measured(kind)
    bench.turn(Part.STRINGS)
    assert bench.moved == bench.keys(*EVERYTHING)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("eighths", [1, -2])
def test_the_rod_leaves_only_the_nut(kind: str, eighths: int) -> None:
    bench = measured(kind)
    bench.turn(Part.ROD, eighths)
    assert bench.moved == bench.keys(Check.RELIEF, Check.HEIGHT, Check.INTONATION, Check.PICKUPS)


@pytest.mark.parametrize(("kind", "string"), [(BASS, 4), (BASS, 2), (GUITAR, 6), (GUITAR, 1), (GUITAR, 3)])
def test_one_saddle_concerns_its_own_string_and_the_pickups(kind: str, string: int) -> None:
    bench = measured(kind)
    bench.turn(Part.SADDLE_HEIGHT, 2, string=string)
    own = {f"height.{string}", f"intonation.{string}.12", f"intonation.{string}.high"}
    assert bench.moved == own | bench.keys(Check.PICKUPS)


@pytest.mark.parametrize("side", list(Side))
def test_a_post_concerns_every_string(side: Side) -> None:
    bench = measured(POSTS)
    bench.turn(Part.SADDLE_HEIGHT, 2, side=side)
    assert bench.moved == bench.keys(Check.HEIGHT, Check.INTONATION, Check.PICKUPS)


@pytest.mark.parametrize(("kind", "string"), [(BASS, 3), (GUITAR, 5), (POSTS, 1)])
def test_a_nut_slot_concerns_its_own_string(kind: str, string: int) -> None:
    bench = measured(kind)
    bench.turn(Part.NUT, string=string)
    assert bench.moved == {
        f"nut.{string}", f"height.{string}", f"intonation.{string}.12", f"intonation.{string}.high"
    }  # fmt: skip


@pytest.mark.parametrize(("kind", "string"), [(BASS, 1), (GUITAR, 4), (POSTS, 6)])
def test_a_saddle_moved_along_concerns_its_own_intonation(kind: str, string: int) -> None:
    bench = measured(kind)
    bench.turn(Part.SADDLE_POSITION, -3, string=string)
    assert bench.moved == {f"intonation.{string}.12", f"intonation.{string}.high"}


@pytest.mark.parametrize("kind", KINDS)
def test_a_pickup_concerns_itself_alone_and_a_side_its_side(kind: str) -> None:
    bench = measured(kind)
    bench.turn(Part.PICKUP_HEIGHT, 2, pickup=2, side=Side.BASS)
    assert bench.moved == {"pickups.2.bass"}
    bench.turn(Part.PICKUP_HEIGHT, 2, pickup=1)
    assert bench.moved == {"pickups.2.bass", "pickups.1.bass", "pickups.1.treble"}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("part", [part for part in Part if part is not Part.SPRINGS])
def test_a_reading_taken_after_the_turn_is_fresh(kind: str, part: Part) -> None:
    bench = Bench(kind).start()
    bench.turn(part, 0 if part in (Part.STRINGS, Part.NUT) else 1, string=2, pickup=1, side=Side.BASS)
    bench.read(*EVERYTHING)
    assert bench.moved == set()


def test_a_place_that_moved_shows_what_is_expected_and_is_read_again_where_that_is_not_sure() -> None:
    bench = measured(BASS)
    little = bench.turn(Part.SADDLE_HEIGHT, 1, string=3)
    state = bench.state("height.3")
    assert state.verdict.word is Word.EXPECTED and state.moved_by == little
    assert state.reading is not None and not state.measured
    assert state.settled and state.wants is None  # an eighth of a turn leaves it surely right
    bench.turn(Part.SADDLE_HEIGHT, 24, string=3)
    far = bench.state("height.3")
    assert far.verdict.word is Word.EXPECTED and far.wants is Act.MEASURE
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "height.3")
    assert "again" in bench.next.sentence


def test_striking_the_turn_through_brings_the_readings_back() -> None:
    bench = measured(GUITAR)
    before = bench.state("relief").value
    turned = bench.turn(Part.ROD, 2)
    assert bench.moved and bench.state("relief").value != before
    bench.void(turned)
    assert bench.moved == set()
    assert bench.state("relief").value == pytest.approx(before, abs=1e-3)


def test_striking_one_of_two_turns_through_is_not_enough() -> None:
    bench = measured(BASS)
    first, _ = bench.turn(Part.ROD, 1), bench.turn(Part.ROD, 1)
    bench.void(first)
    assert "relief" in bench.moved


def test_striking_a_reading_through_brings_the_one_before_back() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.30)
    slips = [bench.reading("relief", 1.2) for _ in range(2)]
    assert bench.state("relief").verdict.word is Word.TOO_HIGH
    for slip in slips:
        bench.void(slip)
    assert bench.state("relief").value == pytest.approx(0.30, abs=0.01)


def test_correcting_a_reading_from_before_a_turn_does_not_make_it_fresh() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    slip = bench.reading("height.4", 24.0)
    turned = bench.turn(Part.SADDLE_HEIGHT, 2, string=4)
    bench.correct(slip, 2.4)
    state = bench.state("height.4")
    assert state.reading is not None and state.reading.value == 2.4
    assert state.moved_by == turned and not state.measured


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
    assert bench.moved == {"relief"}


def test_what_was_heard_is_asked_again_after_anything_that_changes_it() -> None:
    for part, string in ((Part.ROD, None), (Part.SADDLE_HEIGHT, 2), (Part.NUT, 2), (Part.STRINGS, None)):
        bench = Bench(BASS).up_to(Check.NUT)
        bench.turn(part, 1 if part in (Part.ROD, Part.SADDLE_HEIGHT) else 0, string=string)
        bench.read(Check.RELIEF, Check.HEIGHT)
        assert bench.next.place == "height.buzz", part
    bench = Bench(BASS).up_to(Check.NUT)
    bench.turn(Part.SADDLE_POSITION, 1, string=2)
    assert bench.next.check is Check.NUT


@pytest.mark.parametrize("part", [Part.PICKUP_HEIGHT, Part.SADDLE_HEIGHT, Part.ROD, Part.STRINGS])
def test_pickups_are_listened_to_again_after_they_or_the_strings_moved(part: Part) -> None:
    bench = measured(BASS)
    bench.turn(part, 0 if part is Part.STRINGS else 1, string=1, pickup=1, side=Side.TREBLE)
    bench.read(*EVERYTHING)
    bench.buzz()
    assert bench.next.place == "pickups.ear"
