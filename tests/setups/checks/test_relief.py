"""Relief: which way the rod turns and how far, when it rests and stops, and what the player may answer."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, CLASSICAL, GUITAR, Bench, all_kinds
from tests.setups.obeying import obey
from webapp.physics.numbers import say_number
from webapp.setups.checks import READ_CHECKS
from webapp.setups.journal import Part, Turn
from webapp.setups.past.report import ending
from webapp.setups.slots import Slot
from webapp.setups.states import Act, Advice, SlotState, Word
from webapp.trade.words import Check, RodAccess, RodNut, RodType
from webapp.trade.words import Rotation as Clock

CW, ACW = Clock.CLOCKWISE, Clock.ANTICLOCKWISE
RELIEF = READ_CHECKS[Check.RELIEF]


def read(relief_mm: float, **rod: Any) -> Bench:
    bench = Bench(BASS, rod=rod).up_to(Check.RELIEF)
    bench.reading("relief", relief_mm)
    return bench


def advice_of(bench: Bench) -> Advice:
    advice = bench.state("relief").advice
    assert advice is not None
    return advice


def turn_of(bench: Bench) -> Turn:
    turn = advice_of(bench).turn
    assert turn is not None
    return turn


class Neck:
    """A neck without tricks: `per_eighth` mm of relief out for every eighth tightened."""

    def __init__(self, bench: Bench, relief_mm: float, per_eighth: float, read: str = "feeler") -> None:
        self.bench, self.relief_mm, self.per_eighth, self.how = bench, relief_mm, per_eighth, read
        self.turns: list[int] = []

    def read(self, key: str) -> None:
        if key != "relief":
            self.bench.reading(key)
        elif self.how == "card":
            cards = min(max(int(self.relief_mm // 0.3), 0), 3)
            self.bench.said(key, "card", ("none", "one", "two", "more")[cards])
        else:
            self.bench.reading(key, max(0.0, round(self.relief_mm / 0.05) * 0.05))

    def turn(self, turn: Turn) -> None:
        if turn.part is Part.ROD:
            self.turns.append(turn.eighths)
            self.relief_mm -= turn.eighths * self.per_eighth

    def done(self) -> SlotState:
        """Obeyed until the heights come."""
        obey(self.bench.start(), self.read, self.turn, until=Check.HEIGHT)
        return self.bench.state("relief")


# Which way, and how it is said


@pytest.mark.parametrize("type_", [RodType.TWO_WAY, RodType.ONE_WAY])
@pytest.mark.parametrize(
    ("tightens", "relief_mm", "verb", "clock"),
    [
        (CW, 0.7, "Tighten", "clockwise"),
        (CW, 0.55, "Tighten", "clockwise"),
        (CW, 0.05, "Loosen", "anticlockwise"),
        (CW, -0.2, "Loosen", "anticlockwise"),
        (ACW, 0.7, "Tighten", "anticlockwise"),
        (ACW, 0.05, "Loosen", "clockwise"),
    ],
)
def test_which_way_the_rod_turns(
    type_: RodType, tightens: Clock, relief_mm: float, verb: str, clock: str
) -> None:
    bench = read(relief_mm, type=type_, tightens=tightens)
    turn, advice = turn_of(bench), advice_of(bench)
    assert (turn.part, turn.eighths > 0) == (Part.ROD, verb == "Tighten")
    [line] = [line for line in advice.do if line.startswith(verb) and " turn: " in line]
    assert f": {clock}, " in line
    assert advice.forecast is not None
    assert (advice.forecast.value < bench.state("relief").value) == (verb == "Tighten")


def test_the_lines_stand_in_the_order_of_doing() -> None:
    lines = advice_of(read(0.9, type=RodType.ONE_WAY, access=RodAccess.COVER)).do
    starts = [line.split()[0] for line in lines]
    assert starts == ["Slacken", "Take", "Ease", "Tighten"]
    assert advice_of(read(0.9)).then.startswith("Retune")


def test_a_one_way_rod_is_not_forced_loose_and_the_strings_are_slackened_before_it_is_tightened() -> None:
    def said(relief_mm: float, type_: RodType) -> str:
        return " ".join(advice_of(read(relief_mm, type=type_)).do)

    assert "one way only" in said(0.05, RodType.ONE_WAY)
    assert "one way only" not in said(0.05, RodType.TWO_WAY)
    assert "Slacken" in said(0.9, RodType.ONE_WAY) and "Slacken" not in said(0.9, RodType.TWO_WAY)
    assert "Slacken" not in said(0.05, RodType.ONE_WAY)


def test_where_the_rod_is_reached_is_said() -> None:
    def said(**rod: Any) -> str:
        return " ".join(advice_of(read(0.7, **rod)).do)

    assert "headstock" in said(nut_at=RodNut.HEADSTOCK) and "body end" in said(nut_at=RodNut.BODY)
    assert "cover off" in said(access=RodAccess.COVER)
    assert "neck must come off" in said(access=RodAccess.NECK_OFF)
    assert "Slacken" in said(access=RodAccess.STRINGS_OFF)
    assert "Slacken" not in said(access=RodAccess.OPEN) and "come off" not in said(access=RodAccess.OPEN)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (-0.2, "Back bow"),
        (0.05, "Too straight"),
        (0.12, "A little straighter"),
        (0.3, "Good"),
        (0.55, "A little more bow"),
        (0.9, "Too much bow"),
    ],
)
def test_what_a_bow_means(value: float, words: str) -> None:
    assert advice_of(read(value)).means.startswith(words)


def test_a_neck_without_a_rod_gets_no_turn() -> None:
    for relief_mm in (0.9, -0.3):
        bench = read(relief_mm, type=RodType.NONE)
        bench.reading("relief", relief_mm)
        advice = advice_of(bench)
        assert advice.turn is None and advice.do == () and advice.forecast is None
        assert "no rod" in advice.repairer and say_number(relief_mm, 2) in advice.repairer
        assert bench.next.check is Check.HEIGHT
    for relief_mm in (0.3, 0.5, 0.15):
        assert advice_of(read(relief_mm, type=RodType.NONE)).repairer == ""
    assert advice_of(Bench(CLASSICAL).up_to(Check.HEIGHT)).turn is None


# How far


@settings(max_examples=15, deadline=None, database=None)
@given(
    start_mm=st.floats(-0.4, 1.3),
    per_eighth=st.sampled_from([-0.06, 0.0, 0.01, 0.025, 0.06, 0.12, 0.25]),
    how=st.sampled_from(["feeler", "card"]),
    kind=st.sampled_from([BASS, GUITAR]),
)
def test_however_the_rod_answers_it_never_turns_further_than_it_may(
    start_mm: float, per_eighth: float, how: str, kind: str
) -> None:
    neck = Neck(Bench(kind), start_mm, per_eighth, how)
    neck.done()
    turned = [(entry.at, entry.turn.eighths) for entry in neck.bench.case().journal.turns]
    assert all(abs(eighths) <= 2 for _, eighths in turned)
    # A night's rest begins another pass, and no more than two are made.
    passes = [0]
    for index, (at, eighths) in enumerate(turned):
        if index and at - turned[index - 1][0] > timedelta(hours=8):
            passes.append(0)
        passes[-1] += eighths
        assert abs(passes[-1]) <= 8
    assert len(passes) <= 2


@pytest.mark.parametrize("per_eighth", [0.025, 0.06, 0.12])
@pytest.mark.parametrize("start_mm", [-0.1, 0.05, 0.3, 0.55, 0.8])
@pytest.mark.parametrize("kind", [BASS, GUITAR])
def test_an_honest_rod_ends_in_the_usual_band_and_turns_the_right_way(
    kind: str, start_mm: float, per_eighth: float
) -> None:
    bench = Bench(kind)
    usual, target = bench.case().bands_relief.usual, bench.case().bands_relief.target
    neck = Neck(bench, start_mm, per_eighth)
    reach = 16 * per_eighth
    state = neck.done()
    if usual.low - reach < start_mm < usual.high + reach:
        assert usual.low - 0.03 <= neck.relief_mm <= usual.high + 0.03
        assert state.usual > 0.5
    wanted = target.middle - start_mm
    if abs(wanted) > target.width / 2 + 0.05:
        assert sum(neck.turns) * wanted < 0
    elif abs(wanted) < target.width / 2 - 0.05:
        assert neck.turns == []


def test_a_first_turn_is_no_more_than_a_quarter_however_far_it_is() -> None:
    for relief_mm in (0.7, 1.2):
        bench = read(relief_mm)
        bench.reading("relief", relief_mm)
        assert abs(turn_of(bench).eighths) == 2


def test_what_is_left_of_a_whole_turn_is_all_that_is_advised() -> None:
    bench = read(1.0)
    bench.turn(Part.ROD, 7)
    for _ in range(2):
        bench.reading("relief", 0.85)
    assert turn_of(bench).eighths == 1
    bench.turn(Part.ROD, 1)
    bench.reading("relief", 0.82)
    assert advice_of(bench).turn is None and "had 1 turn" in advice_of(bench).repairer


def test_after_a_whole_turn_the_neck_rests_a_night_and_goes_on_with_what_was_learnt() -> None:
    neck = Neck(Bench(BASS), 1.0, 0.03)
    steps = obey(neck.bench.start(), neck.read, neck.turn, until=Check.HEIGHT)
    [rest] = [step for step in steps if step.act is Act.REST]
    assert 8 <= rest.hours <= 24 and "night" in rest.sentence
    acts = [step.act for step in steps]
    first, second = acts[: acts.index(Act.REST)], acts[acts.index(Act.REST) :]
    assert first.count(Act.DECIDE) == 4 and Act.DECIDE in second
    assert all(eighths == 2 for eighths in neck.turns)


def test_a_neck_out_of_reach_goes_to_the_repairer_with_the_numbers() -> None:
    neck = Neck(Bench(BASS), 1.4, 0.03)
    state = neck.done()
    assert state.wants is None and neck.relief_mm > 0.7
    end = ending(neck.bench.assess())
    assert Check.RELIEF not in {one.check for one in end.right}, "too much bow is called right"
    assert state.advice is not None and state.advice.repairer.startswith("Relief: about ")
    assert state.advice.turn is None
    assert any(item.check is Check.RELIEF for item in end.repairer)


def test_a_back_bowed_neck_that_reads_nothing_three_times_goes_on() -> None:
    """A blade that finds nothing gives no number to learn from, and the rod is let off all the same."""
    bench = Bench(BASS).up_to(Check.RELIEF)
    for _ in range(3):
        bench.reading("relief", 0.0)
        assert (bench.next.act, bench.next.place) == (Act.DECIDE, "relief")
        assert turn_of(bench).eighths < 0
        bench.log(turn_of(bench))
    bench.reading("relief", 0.20)
    assert bench.state("relief").value > 0.1


def test_a_guitar_with_a_card_ends_and_says_what_the_card_cannot() -> None:
    """The usual band of a guitar is narrower than two cards: the end says so, or has it right."""
    for start_mm in (0.1, 0.35, 0.7):
        neck = Neck(Bench(GUITAR), start_mm, 0.06, "card")
        state = neck.done()
        assert state.wants is None
        told = state.advice is not None and bool(state.advice.repairer)
        assert state.usual >= 0.5 or told or state.verdict.word is Word.CANNOT_TELL


# What it may do instead


def test_a_rod_that_will_not_move_is_left_to_a_repairer() -> None:
    bench = read(0.7)
    bench.stuck("relief", "will_not_move")
    assert advice_of(bench).turn is None
    assert "will not move" in advice_of(bench).repairer and "0.70 mm" in advice_of(bench).repairer
    assert bench.next.check is Check.HEIGHT


def test_a_rod_that_creaks_is_tried_once_more_with_slack_strings_and_then_left_alone() -> None:
    bench = read(0.7)
    assert not any("Slacken" in line for line in advice_of(bench).do)
    bench.stuck("relief", "creaks")
    assert "Slacken" in advice_of(bench).do[0]
    assert turn_of(bench).eighths > 0
    bench.stuck("relief", "creaks")
    assert advice_of(bench).turn is None and "creaks" in advice_of(bench).repairer
    assert bench.next.check is Check.HEIGHT


def test_no_room_one_way_leaves_the_other_way_open() -> None:
    high = read(0.7)
    high.stuck("relief", "no_room", 1)
    assert advice_of(high).turn is None and "0.70 mm" in advice_of(high).repairer
    low = read(0.0)
    low.stuck("relief", "no_room", 1)
    assert turn_of(low).eighths < 0


def test_a_rod_that_does_nothing_is_named_with_a_feeler_gauge() -> None:
    neck = Neck(Bench(BASS), 0.9, 0.0)
    state = neck.done()
    assert Check.RELIEF not in {one.check for one in ending(neck.bench.assess()).right}
    assert state.advice is not None and state.advice.repairer, "nobody is told of it"
    assert len(neck.turns) <= 4


def test_a_rod_that_works_the_other_way_round_is_named_and_followed() -> None:
    neck = Neck(Bench(BASS), 0.75, -0.06)
    state = neck.done()
    assert neck.turns[0] > 0 and neck.turns[-1] < 0
    assert state.usual > 0.5 and neck.relief_mm < 0.65
    bench = neck.bench
    bench.reading("relief", 0.9)
    bench.reading("relief", 0.9)
    assert "other way round" in advice_of(bench).do[0]
    assert turn_of(bench).eighths < 0


def test_what_the_player_likes_is_left() -> None:
    bench = read(0.7)
    bench.keep("relief")
    state = bench.state("relief")
    assert state.accepted and state.wants is None and not state.open
    assert bench.next.check is Check.HEIGHT


# Time


def test_relief_is_provisional_until_the_rod_has_settled() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.7)
    assert not bench.state("relief").provisional
    turned = bench.turn(Part.ROD, 1)
    settled = turned.at + timedelta(hours=bench.trade.belief.rod.settle_hours)
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
    assert Bench(BASS).up_to(Check.PLAYTEST).assess().read_relief_at is None


# With the hands


@pytest.mark.parametrize("kind", all_kinds())
@pytest.mark.parametrize(
    ("method", "words"), [("feeler", "thickest blade"), ("card", "How many fit"), ("ear", "Tap the string")]
)
def test_the_hands_are_told_the_frets(kind: str, method: str, words: str) -> None:
    case = Bench(kind).case()
    way = RELIEF.way(case, Slot(Check.RELIEF), None)
    first, second = RELIEF.lines(case, Slot(Check.RELIEF), method, way)
    assert f"fret {way['hold']}" in first and f"fret {way['press']}" in first and "helper" in first
    assert f"over fret {way['gap']}" in second and words in second


def test_it_is_read_as_last_time() -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    last = bench.reading("relief", 0.5, hold=1, press=20, gap=8)
    assert RELIEF.way(bench.case(), Slot(Check.RELIEF), last) == {"hold": 1, "press": 20, "gap": 8}
