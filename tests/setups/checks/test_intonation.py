"""Intonation: two frets of a string and one saddle; which way it goes, and what is left when it has gone."""

from __future__ import annotations

from typing import Any

import pytest

from tests.setups.journals import ACOUSTIC, BASS, GUITAR, Bench
from tests.setups.obeying import obey
from webapp.physics.intonation import cents_per_mm
from webapp.setups.checks import READ_CHECKS
from webapp.setups.journal import Part, Turn
from webapp.setups.slots import Slot, slots_of
from webapp.setups.states import Act, Advice, Word
from webapp.trade.words import Check, ScrewHeads

INTONATION = READ_CHECKS[Check.INTONATION]


def read(at_12: float, at_high: float, kind: str = BASS, string: int = 2, **changes: Any) -> Bench:
    bench = Bench(kind, **changes).up_to(Check.INTONATION)
    again(bench, at_12, at_high, string)
    return bench


def again(bench: Bench, at_12: float, at_high: float, string: int = 2) -> None:
    bench.reading(f"intonation.{string}.12", at_12)
    bench.reading(f"intonation.{string}.high", at_high)


def advice_of(bench: Bench, key: str = "intonation.2.12") -> Advice:
    advice = bench.state(key).advice
    assert advice is not None
    return advice


def turn_of(bench: Bench, key: str = "intonation.2.12") -> Turn:
    turn = advice_of(bench, key).turn
    assert turn is not None
    return turn


class Saddles:
    """Strings that are sharp by so much at the 12th; stretched a little further up the neck."""

    def __init__(self, bench: Bench, cents: dict[int, float], pitch_mm: float, worn: float = -3.0) -> None:
        self.bench, self.pitch_mm, self.worn = bench, pitch_mm, worn
        self.cents = cents
        self.turns: list[Turn] = []

    def at(self, number: int, fret: int) -> float:
        scale = self.bench.spec.scale_of(number)
        twice = cents_per_mm(scale, fret) / cents_per_mm(scale, 12)
        return self.cents[number] * twice + (self.worn if fret > 12 else 0.0)

    def read(self, key: str) -> None:
        if not key.startswith("intonation"):
            self.bench.reading(key)
            return
        _, number, role = key.split(".")
        self.bench.reading(key, round(self.at(int(number), 12 if role == "12" else 19)))

    def turn(self, turn: Turn) -> None:
        self.turns.append(turn)
        if turn.part is Part.SADDLE_POSITION and turn.string is not None:
            per_mm = cents_per_mm(self.bench.spec.scale_of(turn.string), 12)
            self.cents[turn.string] -= turn.eighths / 8 * self.pitch_mm * per_mm


@pytest.mark.parametrize(
    ("cents", "word", "way", "back"),
    [(8.0, "sharp", "back, away from the nut", True), (-8.0, "flat", "toward the nut", False)],
)
@pytest.mark.parametrize("heads", list(ScrewHeads))
def test_which_way_a_saddle_goes(cents: float, word: str, way: str, back: bool, heads: ScrewHeads) -> None:
    bench = read(cents, 2 * cents, bridge={"intonation_heads": heads})
    turn, advice = turn_of(bench), advice_of(bench)
    assert (turn.part, turn.string) == (Part.SADDLE_POSITION, 2)
    assert (turn.eighths > 0) is back
    assert word in advice.means
    assert advice.do[0].startswith("Slacken the D string")
    assert f"{way}: " in advice.do[1]
    # Clockwise draws the saddle to the screw's head, wherever that is.
    toward_head = back is (heads is ScrewHeads.BEHIND)
    assert (" clockwise," in advice.do[1]) is toward_head
    assert ("bridge’s end" in advice.do[1]) is (heads is ScrewHeads.BEHIND)
    assert advice.then.startswith("Tune the open string again")


def test_the_whole_way_is_gone_at_once_where_the_thread_is_told() -> None:
    bench = read(10.0, 20.0, string=4)
    # Some 10 cents are 5 mm on this bass, and 10 turns of M3; both frets pull at it.
    turned = turn_of(bench, "intonation.4.12").eighths
    assert 55 <= turned <= 85
    forecast = advice_of(bench, "intonation.4.12").forecast
    assert forecast is not None and abs(forecast.value) < 3 and "12th" in forecast.basis


def test_a_twelfth_that_is_little_off_and_a_nineteenth_that_is_far_off_is_not_dropped() -> None:
    bench = Bench(BASS).up_to(Check.INTONATION)
    for number in (3, 2, 1):
        again(bench, 0, -3, number)
    again(bench, -3, -19, 4)
    while bench.next.act is Act.MEASURE:
        again(bench, -3, -19, 4)
    assert (bench.next.act, bench.next.check) == (Act.DECIDE, Check.INTONATION)
    assert turn_of(bench, bench.next.place).string == 4
    assert turn_of(bench, bench.next.place).eighths < 0  # toward the nut: both are flat


@pytest.mark.parametrize("thread", ["M3", "unknown"])
@pytest.mark.parametrize("pitch", [0.5, 0.7])
def test_obeyed_every_string_comes_to_be_in_tune(thread: str, pitch: float) -> None:
    if thread == "M3" and pitch != 0.5:
        pitch = 0.51
    bench = Bench(BASS, bridge={"intonation_thread": thread}).up_to(Check.INTONATION)
    saddles = Saddles(bench, {4: 14.0, 3: -9.0, 2: 6.0, 1: 1.0}, pitch)
    obey(bench, saddles.read, saddles.turn, until=Check.PICKUPS)
    for number in bench.numbers:
        assert abs(saddles.at(number, 12)) <= 5 and abs(saddles.at(number, 19)) <= 8, number
    assert len(saddles.turns) <= 2 * 4
    assert all(turn.string != 1 for turn in saddles.turns)


def test_both_frets_of_a_string_ask_for_one_turn_and_one_reading_after_it() -> None:
    bench = read(12, 22, string=4)
    for number in (3, 2, 1):
        again(bench, 0, -3, number)
    assert turn_of(bench, "intonation.4.12") == turn_of(bench, "intonation.4.high")
    assert [p for p in bench.next.places if p.startswith("intonation.4")] == ["intonation.4.12"]
    bench.log(turn_of(bench, "intonation.4.12"))
    assert (bench.next.act, bench.next.places) == (Act.MEASURE, ("intonation.4.high",))


def test_liking_one_fret_of_a_string_answers_both() -> None:
    bench = read(9, 18)
    assert bench.state("intonation.2.high").wants is Act.DECIDE
    bench.keep("intonation.2.12")
    for role in ("12", "high"):
        state = bench.state(f"intonation.2.{role}")
        assert state.accepted and not state.open


def test_a_high_fret_that_contradicts_the_twelfth_is_read_once_more() -> None:
    bench = read(0, 24)
    high = bench.state("intonation.2.high")
    assert high.verdict.word is Word.MEASURE_AGAIN and "cents" in high.verdict.why
    assert "intonation.2.high" in bench.next.places and bench.next.act is Act.MEASURE
    bench.reading("intonation.2.high", 0)
    assert bench.state("intonation.2.high").verdict.word is Word.GOOD


@pytest.mark.parametrize(
    ("kind", "changes"), [(ACOUSTIC, {}), (BASS, {"bridge": {"intonation_thread": "none"}})]
)
def test_a_saddle_without_a_screw_goes_to_a_repairer(kind: str, changes: dict[str, Any]) -> None:
    bench = read(12, 24, kind, **changes)
    advice = advice_of(bench)
    assert advice.turn is None
    assert "fresh strings first" in advice.repairer and "back, away from the nut" in advice.repairer
    assert "+12 cents at fret 12" in advice.repairer or "+13 cents at fret 12" in advice.repairer
    # Both frets of a string tell the repairer one thing.
    assert len([item for item in bench.assess().repairer if item.check is Check.INTONATION]) == 1


def test_no_room_that_way_leaves_the_other_way_open() -> None:
    bench = read(12, 24)
    assert turn_of(bench).eighths > 0
    bench.stuck("intonation.2.12", "no_room", 1)
    for role in ("12", "high"):
        state = bench.state(f"intonation.2.{role}")
        assert state.advice is not None and state.advice.turn is None
        assert "no room left back" in state.advice.repairer
    # With other strings on, it is flat; that way there is room.
    bench.turn(Part.STRINGS)
    for _ in range(2):
        again(bench, -12, -26)
    assert turn_of(bench).eighths < 0


def test_what_no_saddle_clears_is_left_where_both_frets_bear_it_best() -> None:
    """Sharp at 12 and nearly right at 19: a worn string. One turn to the middle, and none in circles."""
    bench = read(10, 2)
    for _ in range(2):
        again(bench, 10, 2)
    saddles = Saddles(bench, {4: 0.0, 3: 0.0, 2: 10.0, 1: 0.0}, 0.5, worn=-18.0)
    obey(bench, saddles.read, saddles.turn, until=Check.PICKUPS)
    turned = [turn.eighths for turn in saddles.turns if turn.string == 2]
    assert len(turned) == 1 and 8 <= turned[0] <= 32
    assert all(bench.state(f"intonation.2.{role}").wants is None for role in ("12", "high"))
    assert abs(saddles.at(2, 12)) <= 8 and abs(saddles.at(2, 19)) <= 12


def test_a_board_of_twelve_frets_has_one_reading_a_string() -> None:
    bench = Bench(GUITAR, fret_count=12, joint_fret=12).up_to(Check.INTONATION)
    keys = [slot.key for slot in slots_of(bench.spec, Check.INTONATION)]
    assert keys == [f"intonation.{n}.12" for n in (6, 5, 4, 3, 2, 1)]
    bench.reading("intonation.6.12", 12)
    assert turn_of(bench, "intonation.6.12").eighths > 0


def test_the_hands_are_told_to_tune_first() -> None:
    bench = Bench(BASS).up_to(Check.INTONATION)
    slots = slots_of(bench.spec, Check.INTONATION)
    assert INTONATION.way(bench.case(), slots[0], None) == {"fret": 12}
    assert INTONATION.way(bench.case(), slots[1], None) == {"fret": 19}
    first, second = INTONATION.lines(bench.case(), slots[1], "tuner", {"fret": 19})
    assert first.startswith("Tune the open E string") and "fret 19" in second
    together = " ".join(INTONATION.lines_together(bench.case(), slots, "tuner", {}))
    assert "fret 12 and fret 19" in together
    assert INTONATION.heading(bench.case(), Slot(Check.INTONATION, string=4)) == "E string at fret 12"
