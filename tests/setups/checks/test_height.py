"""String height: which screw turns which way and how far, what no screw reaches, and what buzzes."""

from __future__ import annotations

from typing import Any

import pytest

from tests.setups.journals import ACOUSTIC, BASS, GUITAR, POSTS, Bench, all_kinds
from tests.setups.obeying import advised, obey
from webapp.setups.belief.neck import PITCH
from webapp.setups.checks import READ_CHECKS
from webapp.setups.checks.deciding import MOST_EIGHTHS
from webapp.setups.checks.heights_turned import filed_ends, thread_known
from webapp.setups.journal import Part, Turn
from webapp.setups.slots import Slot, string_label
from webapp.setups.states import Act, Advice, Word
from webapp.trade.words import BridgeType, Check, Side

HEIGHT = READ_CHECKS[Check.HEIGHT]


def read_off(kind: str, off: dict[int, float] | float, **changes: Any) -> Bench:
    """Every string read twice, so far from the middle of its target."""
    bench = Bench(kind, **changes).up_to(Check.HEIGHT)
    middles = {n: bench.state(f"height.{n}").bands.target.middle for n in bench.numbers}
    for _ in range(2):
        for number, middle in middles.items():
            by = off.get(number, 0.0) if isinstance(off, dict) else off
            bench.reading(f"height.{number}", middle + by)
    return bench


def advice_of(bench: Bench, key: str) -> Advice:
    advice = bench.state(key).advice
    assert advice is not None
    return advice


def turn_of(advice: Advice) -> Turn:
    assert advice.turn is not None
    return advice.turn


class Saddles:
    """Strings on saddles of their own, with a true thread."""

    def __init__(self, bench: Bench, over_mm: float, pitch_mm: float) -> None:
        self.bench, self.pitch_mm = bench, pitch_mm
        case = bench.case()
        self.mm = {n: case.bands(Slot(Check.HEIGHT, string=n)).target.middle + over_mm for n in bench.numbers}
        self.gains = {n: case.frame.height_gains(n, None)[bench.spec.index_of(n)] for n in bench.numbers}
        self.turns: list[Turn] = []

    def read(self, key: str) -> None:
        if key.startswith("height."):
            self.bench.reading(key, round(self.mm[int(key.split(".")[1])] * 20) / 20, step=0.05)
        else:
            self.bench.reading(key)

    def turn(self, turn: Turn) -> None:
        self.turns.append(turn)
        if turn.part is Part.SADDLE_HEIGHT and turn.string is not None:
            self.mm[turn.string] += turn.eighths / 8 * self.pitch_mm * self.gains[turn.string]


# A saddle of its own


@pytest.mark.parametrize("kind", [BASS, GUITAR])
@pytest.mark.parametrize("string", [1, 2, 4])
@pytest.mark.parametrize(
    ("off_mm", "verb", "clock"), [(-0.9, "Raise", " clockwise,"), (0.9, "Lower", " anticlockwise,")]
)
def test_a_saddle_of_its_own(kind: str, string: int, off_mm: float, verb: str, clock: str) -> None:
    bench = read_off(kind, {string: off_mm})
    advice = advice_of(bench, f"height.{string}")
    turn = turn_of(advice)
    assert (turn.part, turn.string, turn.side) == (Part.SADDLE_HEIGHT, string, None)
    assert (turn.eighths > 0) == (verb == "Raise")
    name = string_label(bench.spec, string)
    assert advice.do[0].startswith(f"{verb} the saddle of the {name} ") and clock in advice.do[0]
    assert any("both its screws alike" in line for line in advice.do)
    assert advice.then.startswith("Retune")
    assert advice.forecast is not None
    assert (advice.forecast.value > bench.state(f"height.{string}").value) == (verb == "Raise")


@pytest.mark.parametrize(("thread", "pitch_mm"), [("M3", 0.5), ("M4", 0.7)])
def test_a_told_thread_is_gone_the_whole_way_at_once(thread: str, pitch_mm: float) -> None:
    bench = read_off(BASS, {4: 1.0}, bridge={"height_thread": thread})
    turn = turn_of(advice_of(bench, "height.4"))
    # 1 mm at the 12th is 2.126 mm at the saddle.
    assert turn.eighths == pytest.approx(-8 * 2.126 / pitch_mm, rel=0.15)
    assert "for now" not in advice_of(bench, "height.4").do[0]
    assert thread_known(bench.case())


def test_one_number_stands_on_the_page_and_the_forecast_rests_on_it() -> None:
    bench = read_off(BASS, {4: 1.0})
    advice = advice_of(bench, "height.4")
    eighths = turn_of(advice).eighths
    assert bench.case().say.turns(eighths) in advice.do[0]
    assert advice.forecast is not None and "thread" in advice.forecast.basis


@pytest.mark.parametrize("pitch", [0.5, 0.7, 1.0])
def test_an_unknown_thread_is_tried_on_one_string_first(pitch: float) -> None:
    """What a turn or two of one screw shows counts for all of them."""
    bench = Bench(BASS, bridge={"height_thread": "unknown"}).up_to(Check.HEIGHT)
    saddles = Saddles(bench, 1.4, pitch)
    for key in ("height.4", "height.1", "height.3", "height.2"):
        saddles.read(key)
    assert not thread_known(bench.case())
    step = bench.next
    assert step.act is Act.DECIDE and len(step.places) == 1
    assert "for now" in advice_of(bench, step.place).do[0]
    [turn] = advised(bench, step)
    assert abs(turn.eighths) >= 8
    saddles.turn(turn)
    bench.log(turn)
    saddles.read(step.place)
    neck = bench.case().belief.neck
    assert neck.mixture.moments(neck.row(PITCH))[0] == pytest.approx(pitch, rel=0.12)
    obey(bench, saddles.read, saddles.turn, until=Check.NUT)
    for number, mm in saddles.mm.items():
        assert bench.case().bands(Slot(Check.HEIGHT, string=number)).usual.contains(mm)
    assert len(saddles.turns) <= 2 * len(bench.numbers)


def test_all_strings_far_too_high_are_all_brought_down() -> None:
    """The inner ones too: where every string is off alike, none may be taken for right."""
    for kind, pitch in ((BASS, 0.5), (GUITAR, 0.5)):
        bench = Bench(kind).up_to(Check.HEIGHT)
        saddles = Saddles(bench, 1.7, pitch)
        obey(bench, saddles.read, saddles.turn, until=Check.NUT)
        for number, mm in saddles.mm.items():
            assert bench.case().bands(Slot(Check.HEIGHT, string=number)).usual.contains(mm), number
        assert {turn.string for turn in saddles.turns} == set(bench.numbers)


def test_a_single_slip_is_asked_once_and_nothing_is_turned_for_it() -> None:
    bench = Bench(BASS).up_to(Check.NUT)
    middle = bench.state("height.3").bands.target.middle
    bench.reading("height.3", middle + 1.0)
    state = bench.state("height.3")
    assert state.verdict.word is Word.MEASURE_AGAIN and "expected" in state.verdict.why
    assert (bench.next.act, bench.next.places) == (Act.MEASURE, ("height.3",))
    bench.reading("height.3", middle)
    assert bench.state("height.3").wants is None
    assert bench.next.check is Check.NUT


def test_no_room_that_way_leaves_the_other_way_open() -> None:
    bench = read_off(BASS, {4: 1.2})
    bench.stuck("height.4", "no_room", -1)
    advice = advice_of(bench, "height.4")
    assert advice.turn is None and bench.state("height.4").wants is None
    assert "no room left" in advice.repairer and string_label(bench.spec, 4) in advice.repairer
    assert f"{bench.state('height.4').value:.2f} mm" in advice.repairer
    # Somebody else turned it on, and it now stands too low.
    bench.turn(Part.SADDLE_HEIGHT, string=4)
    for _ in range(2):
        bench.reading("height.4", 1.2)
    assert turn_of(advice_of(bench, "height.4")).eighths > 0


# Screws that carry nothing


def turned_in_vain(kind: str, off_mm: float) -> tuple[Bench, int]:
    """One string on a saddle of its own, or all on posts, stand off, and read the same whatever is turned;
    how often that was."""
    bench = read_off(kind, 0.0)
    strings = bench.numbers if kind == POSTS else bench.numbers[:1]
    stand = {f"height.{n}": bench.state(f"height.{n}").bands.target.middle + off_mm for n in strings}
    key = next(iter(stand))

    def read_all() -> None:
        for place, high in stand.items():
            bench.reading(place, high)

    read_all()
    read_all()
    for turned in range(12):
        while any(bench.state(place).wants is Act.MEASURE for place in stand):
            read_all()
        advice = bench.state(key).advice
        if advice is None or advice.turn is None:
            return bench, turned
        assert abs(advice.turn.eighths) <= MOST_EIGHTHS
        bench.log(advice.turn)
        read_all()
    raise AssertionError("turned on and on")


@pytest.mark.parametrize("kind", [BASS, POSTS])
@pytest.mark.parametrize(("off_mm", "handed"), [(0.75, False), (2.2, True)])
def test_screws_that_move_nothing_are_named_and_not_turned_on_and_on(
    kind: str, off_mm: float, handed: bool
) -> None:
    bench, turned = turned_in_vain(kind, off_mm)
    advice = advice_of(bench, f"height.{bench.numbers[0]}")
    assert 1 <= turned <= 3
    assert "did not follow" in advice.means
    assert ("does not follow the screws" in (advice.repairer or "")) == handed


def test_a_buzz_is_no_reason_to_turn_screws_that_move_nothing() -> None:
    bench, _ = turned_in_vain(BASS, 0.75)
    bench.buzz(*((bench.numbers[0], fret) for fret in range(1, 8)))
    assert advice_of(bench, f"height.{bench.numbers[0]}").turn is None


# Two posts under one bar


@pytest.mark.parametrize("type_", [BridgeType.TWO_POST, BridgeType.FLOATING])
@pytest.mark.parametrize(
    ("off_mm", "verb", "clock"), [(-0.6, "Raise", " anticlockwise,"), (0.9, "Lower", " clockwise,")]
)
def test_a_bridge_on_posts(type_: BridgeType, off_mm: float, verb: str, clock: str) -> None:
    bench = read_off(POSTS, off_mm, bridge={"type": type_, "height_thread": "M5"})
    for string, side in ((6, Side.BASS), (1, Side.TREBLE)):
        advice = advice_of(bench, f"height.{string}")
        turn = turn_of(advice)
        assert (turn.part, turn.string, turn.side) == (Part.SADDLE_HEIGHT, None, side)
        assert (turn.eighths > 0) == (verb == "Raise")
        [line] = [line for line in advice.do if line.startswith(f"{verb} the {side.value}-side post")]
        assert clock in line
        # The load comes off before a post is turned up, and on a floating bridge either way.
        slack = type_ is BridgeType.FLOATING or verb == "Raise"
        assert advice.do[0].startswith("Slacken the strings") is slack
        assert ("level" in " ".join(advice.do)) is (type_ is BridgeType.FLOATING)


def test_both_posts_are_turned_in_one_go_for_all_strings_together() -> None:
    bench = read_off(POSTS, 0.9)
    step = bench.next
    assert step.act is Act.DECIDE
    assert {turn.side for turn in advised(bench, step)} == {Side.BASS, Side.TREBLE}
    for turn in advised(bench, step):
        bench.log(turn)
    for number in bench.numbers:
        assert bench.state(f"height.{number}").usual > 0.8


@pytest.mark.parametrize(("off_mm", "way"), [(-1.0, "up"), (1.0, "down")])
def test_an_inner_string_that_the_bar_leaves_off_goes_to_a_repairer(off_mm: float, way: str) -> None:
    bench = read_off(POSTS, {3: off_mm})
    while bench.next.act is Act.DECIDE and bench.next.check is Check.HEIGHT:
        for turn in advised(bench, bench.next):
            bench.log(turn)
        for number in bench.numbers:
            bench.reading(f"height.{number}", bench.state(f"height.{number}").value)
    advice = advice_of(bench, "height.3")
    assert advice.turn is None
    assert advice.repairer.startswith("G string") and f" mm {way}" in advice.repairer


# A saddle without screws


@pytest.mark.parametrize("off_mm", [-0.9, 0.9])
def test_a_one_piece_saddle_gets_one_line_for_the_repairer(off_mm: float) -> None:
    bench = read_off(ACOUSTIC, off_mm)
    items = [item.text for item in bench.assess().repairer if item.check is Check.HEIGHT]
    assert len(items) == 1
    # 0.9 mm at the 12th, held at 1, is 2.126 times that at the saddle.
    assert items[0].count(f"1.91 mm {'off' if off_mm > 0 else 'more'} at the ") == 2
    assert all(bench.state(f"height.{n}").advice.turn is None for n in bench.numbers)  # type: ignore[union-attr]
    assert bench.next.check is not Check.HEIGHT or bench.next.act is Act.LISTEN


def test_a_saddle_is_tilted_by_the_straight_line_that_fits_best() -> None:
    bench = read_off(ACOUSTIC, {6: 0.9, 5: 0.72, 4: 0.54, 3: 0.36, 2: 0.18, 1: 0.0})
    bass, treble = filed_ends(bench.case())
    assert (bass, treble) == pytest.approx((0.9 * 2.126, 0.0), abs=0.05)


def test_a_string_that_no_straight_saddle_suits_is_named() -> None:
    bench = read_off(ACOUSTIC, {3: 2.2, 6: 0.8, 5: 0.8, 4: 0.8, 2: 0.8, 1: 0.8})
    [item] = [item.text for item in bench.assess().repairer if item.check is Check.HEIGHT]
    assert "by itself" in item and "G string" in item and "lower" in item


# What buzzes


def test_three_rattling_notes_on_a_sound_setup_are_two_raises_and_then_the_cause() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    saddles = Saddles(bench, 0.0, 0.5)
    steps = obey(bench, saddles.read, saddles.turn, taps=lambda: [(2, 3), (2, 4), (2, 5)], until=Check.NUT)
    raised = [turn for turn in saddles.turns if turn.string == 2]
    assert len(raised) == 2 and all(turn.eighths > 0 for turn in raised) and saddles.turns == raised
    assert bench.case().bands(Slot(Check.HEIGHT, string=2)).usual.contains(saddles.mm[2])
    asked = [step for step in steps if step.place == "height.cause"]
    assert len(asked) == len(bench.trade.buzz.question)
    [item] = [item for item in bench.assess().repairer if item.check is Check.HEIGHT]
    assert "still buzzes" in item.text and "3, 4, 5" in item.text
    assert bench.state("height.2").wants is None


def test_a_raise_that_helped_is_left_and_not_brought_down_again() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    saddles = Saddles(bench, 0.35, 0.5)
    heard = iter([[(2, 3), (2, 4)], [], []])
    obey(bench, saddles.read, saddles.turn, taps=lambda: next(heard), until=Check.NUT)
    assert [turn.eighths > 0 for turn in saddles.turns if turn.string == 2] == [True]


def test_a_string_is_never_raised_past_its_usual_band_for_a_buzz() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    high = bench.state("height.2").bands.usual.high - 0.1
    for key in ("height.4", "height.1", "height.3"):
        bench.reading(key)
    for _ in range(2):
        bench.reading("height.2", high)
    bench.keep("height.2")
    bench.buzz((2, 3), (2, 4), (2, 5))
    advice = advice_of(bench, "height.2")
    assert advice.turn is None and "cause" in advice.means
    assert bench.next.place == "height.cause"


def test_the_player_may_live_with_a_buzz_until_it_is_heard_again() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT).read(Check.HEIGHT)
    bench.buzz((4, 1), (4, 2))
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "height.4")
    assert bench.state("height.4").buzz_frets == (1, 2)
    bench.keep("height.4")
    assert bench.next.place == "nut.4"
    bench.buzz((4, 1), (4, 2))
    assert bench.next.check is Check.HEIGHT


def test_on_two_posts_an_inner_buzz_takes_the_whole_bridge_up_and_an_outer_one_its_post() -> None:
    bench = Bench(POSTS).up_to(Check.HEIGHT).read(Check.HEIGHT)
    bench.buzz((3, 4), (3, 6))
    inner = turn_of(advice_of(bench, "height.3"))
    assert (inner.string, inner.side) == (None, None) and inner.eighths > 0
    bench.buzz((6, 4), (6, 6))
    outer = turn_of(advice_of(bench, "height.6"))
    assert outer.side is Side.BASS and outer.eighths > 0


def test_what_buzzed_at_one_fret_or_open_turns_nothing() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT).read(Check.HEIGHT)
    bench.buzz((4, 0), (3, 9))
    assert bench.next.check is Check.NUT
    assert len(bench.assess().checks[Check.HEIGHT].notes) == 2


def test_a_doubted_height_is_read_before_its_buzz_is_answered() -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT).read(Check.HEIGHT)
    bench.buzz((2, 5), (2, 6))
    bench.reading("height.2", 7.0)
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "height.2")


# With the hands


def test_a_string_that_lies_on_its_fret_is_no_reading() -> None:
    slot = Slot(Check.HEIGHT, string=4)
    assert HEIGHT.refused(slot, 0.0) and HEIGHT.refused(slot, 0.03)
    assert not HEIGHT.refused(slot, 0.3)


@pytest.mark.parametrize("kind", all_kinds())
def test_the_hands_are_told_where_to_hold_and_where_to_read(kind: str) -> None:
    bench = Bench(kind).up_to(Check.HEIGHT)
    slot = Slot(Check.HEIGHT, string=1)
    way = HEIGHT.way(bench.case(), slot, None)
    assert way == {"hold": 1, "gap": 12}
    first, second = HEIGHT.lines(bench.case(), slot, "gauge", way)
    assert "fret 1" in first and "fret 12" in second
    last = bench.reading("height.1", hold=0, gap=12)
    again = HEIGHT.way(bench.case(), slot, last)
    assert again == {"hold": 0, "gap": 12}
    assert "open" in HEIGHT.lines(bench.case(), slot, "gauge", again)[0]
    together = HEIGHT.lines_together(bench.case(), [slot, slot], "gauge", way)
    assert "strings" in together[0] and "each string" in together[1]
