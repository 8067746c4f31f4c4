"""The one next thing to do: order of the checks, what is done in one go, stopping, finishing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, GUITAR, POSTS, Bench, all_kinds
from tests.setups.obeying import obey
from webapp.setups.assess import assess_case
from webapp.setups.journal import Part
from webapp.setups.past.report import Who, ending
from webapp.setups.slots import all_slots
from webapp.setups.states import Act, Step, Word
from webapp.trade.words import BridgeType, Check, Touch


def walked(bench: Bench) -> list[Step]:
    """Every step in its order, by a player who always reads mid-target."""
    steps = obey(bench, bench.reading, lambda turn: pytest.fail(f"{turn} on a perfect instrument"))
    assert steps[-1].act is Act.FINISH
    return steps


def test_a_bass_is_asked_in_the_order_of_the_bench() -> None:
    steps = walked(Bench(BASS))
    assert [(step.act.value, step.check.value, len(step.places)) for step in steps] == [
        ("answer", "start", 0), ("measure", "relief", 1), ("measure", "height", 4), ("listen", "height", 0),
        ("measure", "nut", 4), ("measure", "intonation", 8), ("measure", "pickups", 4),
        ("listen", "pickups", 0), ("answer", "playtest", 0), ("finish", "playtest", 0),
    ]  # fmt: skip
    # Inside a check from the bass side; of the heights the outer strings, which tell most, come first.
    assert steps[2].places == ("height.4", "height.1", "height.3", "height.2")
    assert steps[5].places[:3] == ("intonation.4.12", "intonation.4.high", "intonation.3.12")


@pytest.mark.parametrize("touch", list(Touch))
@pytest.mark.parametrize("kind", all_kinds())
def test_a_player_who_reads_mid_target_finishes_every_kind(kind: str, touch: Touch) -> None:
    bench = Bench(kind, touch=touch)
    steps = walked(bench)
    read = [key for step in steps if step.act is Act.MEASURE for key in step.places]
    assert len(read) == len(set(read)), "something was asked for twice"
    assert set(read) <= {slot.key for slot in all_slots(bench.spec)}
    assessment = bench.assess()
    assert assessment.repairer == ()
    assert all(state.done for state in assessment.checks.values())
    assert assessment.done_count == (7 if bench.spec.pickups else 6)
    # What was not asked for is sure enough all the same.
    for check in assessment.checks.values():
        for state in check.slots:
            assert state.settled and state.usual > 0.9, state.slot.key
    end = ending(assessment)
    assert end.is_right and not end.left and end.relief_at is None


def test_a_saddle_is_decided_when_all_that_it_leans_on_was_read() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    bench.reading("height.4", 4.0)
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "height.1")
    bench.reading("height.1")
    assert bench.next.act is Act.MEASURE and set(bench.next.places) == {"height.3", "height.2"}
    bench.reading("height.3")
    bench.reading("height.2")
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "height.4")
    advice = bench.state("height.4").advice
    assert advice is not None and advice.turn is not None
    bench.log(advice.turn)
    assert (bench.next.act, bench.next.places) == (Act.MEASURE, ("height.4",))


def test_both_frets_of_a_string_are_read_before_its_saddle_is_moved() -> None:
    bench = Bench(BASS).up_to(Check.INTONATION)
    bench.reading("intonation.4.12", 12)
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "intonation.4.high")
    bench.reading("intonation.4.high", 21)
    assert "intonation.4.12" not in bench.next.places


def test_relief_is_decided_before_any_height_is_asked_for() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.9)
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "relief")


def test_going_back_to_an_earlier_check_comes_first() -> None:
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    assert bench.next.check is Check.PLAYTEST
    for _ in range(2):
        bench.reading("height.2", 4.4)
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "height.2")


def test_relief_is_not_gone_back_to_for_a_touch_once_the_heights_stand_over_it() -> None:
    """All that was set over this neck would have to be done again."""
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.55)
    assert bench.next.act is Act.DECIDE
    bench.reading("height.4")
    assert bench.next.place.startswith("height.")
    for _ in range(2):
        bench.reading("relief", 0.9)
    assert bench.next.place == "relief"


def test_what_one_form_recorded_together_was_no_going_on() -> None:
    """A quick check reads relief and heights at once: the heights come after it, and still it is turned."""
    bench = Bench(BASS).start()
    for key, value in (("relief", 0.55), ("height.4", None), ("height.1", None)):
        bench.reading(key, value)
    assert bench.state("relief").wants is None
    together = [replace(entry, at=bench.now) for entry in bench.entries]
    assert assess_case(bench.case(together)).slot("relief").wants is Act.DECIDE


@pytest.mark.parametrize(
    ("kind", "check", "key", "value"),
    [
        (BASS, Check.RELIEF, "relief", 0.9),
        (BASS, Check.HEIGHT, "height.4", 4.2),
        (GUITAR, Check.HEIGHT, "height.3", 3.4),
        (BASS, Check.INTONATION, "intonation.2.12", 14.0),
        (GUITAR, Check.PICKUPS, "pickups.2.treble", 5.0),
    ],
)
def test_keeping_it_so_settles_a_slot_until_it_is_read_again(
    kind: str, check: Check, key: str, value: float
) -> None:
    bench = Bench(kind).up_to(Check.PLAYTEST)
    for _ in range(2):
        bench.reading(key, value)
    assert bench.next.check is check
    kept = bench.keep(key)
    assert bench.next.check is Check.PLAYTEST
    bench.reading(key, value)
    assert bench.next.check is check
    bench.void(bench.entries[-1])
    assert bench.next.check is Check.PLAYTEST
    bench.void(kept)
    assert bench.next.check is check


def test_keeping_one_slot_leaves_the_others_open() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    for number in bench.numbers:
        bench.reading(f"height.{number}", 4.0)
    bench.keep("height.4")
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "height.1")
    assert "height.4" not in bench.next.places


def test_keeping_does_not_outlive_a_turn_and_a_reading() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    for number in bench.numbers:
        bench.reading(f"height.{number}", 4.0 if number == 4 else None)
    bench.keep("height.4")
    bench.turn(Part.SADDLE_HEIGHT, -2, string=4)
    bench.reading("height.4", 3.95)
    state = bench.state("height.4")
    assert not state.accepted and state.open


def test_the_same_words_are_not_given_to_the_repairer_twice() -> None:
    bench = Bench(ACOUSTIC).up_to(Check.INTONATION)
    bench.reading("intonation.6.12", 14)
    bench.reading("intonation.6.high", 20)
    items = [item for item in bench.assess().repairer if item.check is Check.INTONATION]
    assert len(items) == 1 and "E string (6)" in items[0].text


def test_an_instrument_without_pickups_goes_from_intonation_to_the_play_test() -> None:
    for kind in (ACOUSTIC, CLASSICAL):
        bench = Bench(kind).up_to(Check.PICKUPS)
        assert bench.next.check is Check.PLAYTEST


def test_the_end_says_of_each_place_whose_it_is() -> None:
    """Right, the player's, kept, a repairer's: each once, and nothing red beside 'well set up'."""
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    for _ in range(2):
        bench.reading("nut.2", 0.95)
        bench.reading("height.1", 3.6)
        bench.reading("intonation.4.12", 14)
    bench.keep("height.1")
    end = ending(bench.assess())
    who = {one.slot: one.who for one in end.left if one.slot}
    assert who["nut.2"] is Who.REPAIRER and who["height.1"] is Who.KEPT
    assert who["intonation.4.12"] is Who.PLAYER
    assert end.player_left and not end.is_right and "well set up" not in end.sentence.lower()
    assert {state.check for state in end.right} == {Check.RELIEF, Check.PICKUPS}


@pytest.mark.parametrize("kind", all_kinds())
def test_on_posts_both_outer_strings_are_read_before_a_post_is_turned(kind: str) -> None:
    bench = Bench(kind).up_to(Check.HEIGHT)
    if bench.spec.bridge.type is BridgeType.FLOATING:
        bench.reading("height.level", 0.0)
    first = f"height.{bench.numbers[0]}"
    bench.reading(first, bench.state(first).bands.usual.high + 0.5)
    assert bench.next.act is Act.MEASURE and "height.1" in bench.next.places


def test_a_word_of_the_whole_setup_is_not_needed_before_it_is_looked_at() -> None:
    """Each check is judged when somebody asks: the next step is often found before the last of them."""
    assessment = Bench(POSTS).start().assess()
    assert assessment.next.check is Check.RELIEF
    assert assessment.checks[Check.NUT].word is Word.NOT_MEASURED
    with pytest.raises(KeyError):
        assessment.slot("height.9")
    with pytest.raises(KeyError):
        assessment.slot("bridge.1")
