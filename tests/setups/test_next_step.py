"""The one next thing to do: order of the checks, groups, deciding, keeping, stopping, finishing."""

from __future__ import annotations

import pytest

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, GUITAR, POSTS, Bench, all_kinds
from webapp.setups.journal import Part
from webapp.setups.slots import all_slots
from webapp.setups.states import Act
from webapp.setups.verdicts import Word
from webapp.trade.words import Check, Side, Touch


def walked(bench: Bench) -> list[str]:
    """Every place in the order it was asked for, by a player who always reads mid-target."""
    places: list[str] = []
    for _ in range(100):
        step = bench.next
        if step.act is Act.FINISH:
            return places
        places.append(step.place)
        if step.act is Act.MEASURE:
            bench.reading(step.place)
        else:
            assert step.act in (Act.ANSWER, Act.LISTEN), step
            bench.observe(step.place, stoppers=[], taps=[], heard=[], symptoms=[], signed=True)
    raise AssertionError(f"no end in sight: {places}")


def test_a_bass_is_asked_in_the_order_of_the_bench() -> None:
    assert walked(Bench(BASS)) == [
        "start", "relief",
        "height.4", "height.1", "height.3", "height.2", "height.buzz",
        "nut.4", "nut.3", "nut.2", "nut.1",
        "intonation.4.12", "intonation.4.high", "intonation.3.12", "intonation.3.high",
        "intonation.2.12", "intonation.2.high", "intonation.1.12", "intonation.1.high",
        "pickups.1.bass", "pickups.1.treble", "pickups.2.bass", "pickups.2.treble", "pickups.ear",
        "playtest",
    ]  # fmt: skip


@pytest.mark.parametrize("touch", list(Touch))
@pytest.mark.parametrize("kind", all_kinds())
def test_a_player_who_reads_mid_target_finishes_every_kind(kind: str, touch: Touch) -> None:
    bench = Bench(kind, touch=touch)
    places = walked(bench)
    assert len(places) == len(set(places))
    asked = {slot.key for slot in all_slots(bench.spec)} | {"start", "height.buzz", "playtest"}
    assert set(places) == asked | ({"pickups.ear"} if bench.spec.pickups else set())
    assessment = bench.assess()
    assert assessment.repairer == ()
    assert all(state.done for state in assessment.checks.values())
    assert assessment.done_count == (7 if bench.spec.pickups else 6)


@pytest.mark.parametrize("kind", all_kinds())
def test_outer_strings_come_before_inner_ones(kind: str) -> None:
    places = [place for place in walked(Bench(kind)) if place.startswith("height.") and place[-1].isdigit()]
    numbers = [int(place.split(".")[1]) for place in places]
    assert numbers == [max(numbers), 1, *range(max(numbers) - 1, 1, -1)]


def test_the_outer_strings_are_decided_before_the_inner_ones_are_read() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    bench.reading("height.4", 4.0)
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "height.1")
    bench.reading("height.1")
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "height.4")
    bench.turn(Part.SADDLE_HEIGHT, -4, string=4)
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "height.4")
    bench.reading("height.4")
    assert bench.next.place == "height.3"


def test_both_frets_of_a_string_are_read_before_its_saddle_is_moved() -> None:
    bench = Bench(BASS).up_to(Check.INTONATION)
    bench.reading("intonation.4.12", 9)
    assert bench.next.place == "intonation.4.high"
    assert bench.state("intonation.4.12").advice is None
    bench.reading("intonation.4.high", 18)
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "intonation.4.12")
    bench.turn(Part.SADDLE_POSITION, 8, string=4)
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "intonation.4.12")


def test_both_sides_of_a_pickup_are_read_before_one_is_turned() -> None:
    bench = Bench(BASS).up_to(Check.PICKUPS)
    bench.reading("pickups.1.bass", 5.0)
    assert bench.next.place == "pickups.1.treble"
    bench.reading("pickups.1.treble")
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "pickups.1.bass")


def test_relief_is_decided_before_any_height_is_asked_for() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.9)
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "relief")


def test_going_back_to_an_earlier_check_comes_first() -> None:
    bench = Bench(GUITAR).up_to(Check.PLAYTEST)
    bench.turn(Part.ROD, 1)
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "relief")
    bench.reading("relief")
    assert bench.next.place == "height.6"


@pytest.mark.parametrize(
    ("kind", "check", "key", "value"),
    [
        (BASS, Check.RELIEF, "relief", 0.7),
        (BASS, Check.HEIGHT, "height.4", 3.4),
        (GUITAR, Check.HEIGHT, "height.3", 0.9),
        (BASS, Check.INTONATION, "intonation.2.12", 4.0),
        (GUITAR, Check.PICKUPS, "pickups.2.treble", 5.0),
        (BASS, Check.PICKUPS, "pickups.1.bass", 24.0),
    ],
)
def test_keeping_it_so_settles_a_slot_until_it_is_read_again(
    kind: str, check: Check, key: str, value: float
) -> None:
    bench = Bench(kind).up_to(Check.PLAYTEST)
    bench.reading(key, value)
    assert (bench.next.check, bench.next.place) == (check, key)
    kept = bench.keep(key)
    state = bench.state(key)
    assert state.accepted and not state.open
    assert bench.next.check is Check.PLAYTEST
    bench.reading(key, value)
    assert not bench.state(key).accepted
    assert bench.next.place == key
    bench.void(bench.entries[-1])
    assert bench.next.check is Check.PLAYTEST
    bench.void(kept)
    assert bench.next.place == key


def test_keeping_one_slot_leaves_the_others_open() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    bench.reading("height.4", 4.0)
    bench.reading("height.1", 4.0)
    bench.keep("height.4")
    assert bench.next.place == "height.1"


def test_keeping_does_not_outlive_a_turn() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    bench.reading("height.4", 4.0)
    bench.reading("height.1")
    bench.keep("height.4")
    bench.turn(Part.SADDLE_HEIGHT, -2, string=4)
    assert bench.state("height.4").open
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "height.4")


def test_what_goes_to_a_repairer_does_not_hold_the_setup_up() -> None:
    bench = Bench(BASS).up_to(Check.NUT)
    for number, value in ((4, 0.9), (3, 0.35), (2, 0.35), (1, 0.1)):
        bench.reading(f"nut.{number}", value)
    assert bench.next.check is Check.INTONATION
    [item] = bench.assess().repairer
    assert item.check is Check.NUT
    assert "E string" in item.text and "0.90 mm" in item.text and "0.50 mm" in item.text


def test_the_same_words_are_not_given_to_the_repairer_twice() -> None:
    bench = Bench(ACOUSTIC).up_to(Check.INTONATION)
    bench.reading("intonation.6.12", 9)
    bench.reading("intonation.6.high", 13)
    items = [item for item in bench.assess().repairer if item.check is Check.INTONATION]
    assert len(items) == 1 and "E string" in items[0].text
    assert bench.next.place == "intonation.5.12"


def test_every_stopper_ends_the_setup_and_goes_to_the_repairer() -> None:
    for stopper in Bench().trade.start.stoppers:
        bench = Bench(BASS).start(stopper.key)
        assessment = bench.assess()
        assert assessment.next.act is Act.STOP
        assert stopper.label in assessment.stopped_by and stopper.says in assessment.stopped_by
        assert [item.check for item in assessment.repairer] == [Check.START]


def test_a_stopper_holds_whatever_was_read_and_goes_when_it_is_mended() -> None:
    bench = Bench(BASS).up_to(Check.PLAYTEST).start("crack")
    assert bench.next.act is Act.STOP
    assert bench.assess().checks[Check.START].word is Word.TOO_LOW
    bench.start()
    assert bench.next.check is Check.PLAYTEST
    assert bench.assess().stopped_by == ""


def test_a_play_test_is_signed_off_or_it_is_not_done() -> None:
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    bench.observe("playtest", symptoms=["all_frets"], signed=False)
    state = bench.assess().checks[Check.PLAYTEST]
    assert bench.next.act is Act.ANSWER and state.word is Word.TOUCH_LOW
    assert any("raise it a little" in note for note in state.notes)
    bench.observe("playtest", symptoms=[], signed=True)
    assert bench.assess().next.act is Act.FINISH
    assert bench.assess().checks[Check.PLAYTEST].word is Word.GOOD


def test_a_symptom_without_a_check_goes_to_the_repairer() -> None:
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    bench.observe("playtest", symptoms=["crackle", "uneven"], signed=True)
    assert [(i.check, "wiring" in i.text) for i in bench.assess().repairer] == [(Check.PLAYTEST, True)]


def test_every_symptom_of_the_play_test_points_to_a_check_of_ours_or_to_a_repairer() -> None:
    pointed = {s.key: s.check for q in Bench().trade.playtest for s in q.symptoms}
    assert pointed["rattle_one"] is Check.NUT and pointed["low_frets"] is Check.RELIEF
    # Buzz up there alone is bow, or the board's upper end: a string that is low buzzes everywhere.
    assert pointed["high_frets"] is Check.RELIEF and pointed["all_frets"] is Check.HEIGHT
    assert pointed["out_of_tune"] is Check.INTONATION
    assert pointed["one_fret"] is None and pointed["crackle"] is None


def test_an_instrument_without_pickups_goes_from_intonation_to_the_play_test() -> None:
    for kind in (ACOUSTIC, CLASSICAL):
        bench = Bench(kind).up_to(Check.PICKUPS)
        assert bench.next.check is Check.PLAYTEST


def test_what_was_heard_from_the_pickups_says_which_way_to_go() -> None:
    bench = Bench(BASS).up_to(Check.PICKUPS).read(Check.PICKUPS)
    assert (bench.next.act, bench.next.place) == (Act.LISTEN, "pickups.ear")
    bench.observe("pickups.ear", heard=["banging", "thin"])
    notes = bench.assess().checks[Check.PICKUPS].notes
    assert any("Lower" in n for n in notes) and any("Raise" in n for n in notes)
    bench.turn(Part.PICKUP_HEIGHT, -1, pickup=1, side=Side.BASS)
    assert bench.assess().checks[Check.PICKUPS].notes == ()


def test_a_fault_the_saddle_cannot_clear_does_not_turn_in_circles() -> None:
    # Sharp at 12 by the nut end alone: the saddle is already where the two frets together want it.
    bench = Bench(BASS).up_to(Check.INTONATION)
    bench.reading("intonation.4.12", 4)
    bench.reading("intonation.4.high", -2)
    advice = bench.state("intonation.4.12").advice
    assert advice is not None and advice.turn is None
    assert "+4 cents at fret 12" in advice.repairer and "-2 cents at fret 19" in advice.repairer
    assert bench.next.place == "intonation.3.12"


def test_a_saddle_without_room_goes_to_the_repairer_until_it_is_moved_again() -> None:
    bench = Bench(BASS).up_to(Check.INTONATION)

    def sharp() -> None:
        bench.reading("intonation.4.12", 9)
        bench.reading("intonation.4.high", 18)

    sharp()
    bench.observe("saddle.4", answer="no_room")
    state = bench.state("intonation.4.12")
    assert state.advice is not None and state.advice.turn is None
    assert "out of travel" in state.advice.repairer
    assert bench.next.place == "intonation.3.12"
    bench.turn(Part.SADDLE_POSITION, -4, string=3)
    assert "out of travel" in bench.assess().repairer[0].text
    bench.turn(Part.SADDLE_POSITION, -4, string=4)
    sharp()
    state = bench.state("intonation.4.12")
    assert state.advice is not None and state.advice.turn is not None


def test_a_rod_that_had_a_whole_turn_goes_to_the_repairer() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    for turned in range(4):
        bench.reading("relief", 1.5 - turned * 0.1)
        assert bench.next.act is Act.DECIDE
        bench.turn(Part.ROD, 2)
    bench.reading("relief", 1.1)
    advice = bench.state("relief").advice
    assert advice is not None and advice.turn is None
    assert "had 1 turn that way within 30 days" in advice.repairer
    assert bench.next.place == "height.4"


def test_a_whole_turn_one_way_still_lets_the_rod_come_back() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    for turned in range(4):
        bench.reading("relief", 1.5 - turned * 0.35)
        bench.turn(Part.ROD, 2)
    bench.reading("relief", 0.05)
    advice = bench.state("relief").advice
    assert advice is not None and advice.turn is not None and advice.turn.eighths == -1


def test_the_first_turn_of_the_rod_and_every_turn_back_is_an_eighth() -> None:
    # By ear, so that the readings teach next to nothing about how far an eighth moves this neck.
    bench = Bench(BASS).up_to(Check.RELIEF)
    advised = []
    for relief in (0.6, 0.6, 0.0, 0.0, 0.6):
        bench.reading("relief", relief, error=0.15)
        advice = bench.state("relief").advice
        assert advice is not None and advice.turn is not None
        advised.append(advice.turn.eighths)
        bench.log(advice.turn)
    assert advised == [1, 2, -1, -2, 1]


def test_a_post_turned_on_one_side_asks_for_both_outer_strings() -> None:
    bench = Bench(POSTS).up_to(Check.HEIGHT)
    bench.reading("height.6", 2.9)
    bench.reading("height.1")
    advice = bench.state("height.6").advice
    assert advice is not None and advice.turn is not None
    bench.log(advice.turn)
    assert bench.next.place == "height.6"
    bench.reading("height.6")
    assert bench.next.place == "height.1"


def test_a_quick_check_does_not_make_a_stopped_instrument_sound() -> None:
    stopper = Bench().trade.start.stoppers[0]
    bench = Bench().start(stopper.key)
    bench.observe("start", quick=True, age="weeks", stoppers=[])
    bench.reading("relief")
    assert stopper.label in bench.assess().stopped_by
    bench.start()
    assert bench.assess().stopped_by == ""
