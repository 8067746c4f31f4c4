"""Where it buzzes, what that pattern says, and what follows from it."""

from __future__ import annotations

import pytest

from tests.setups.journals import ACOUSTIC, BASS, GUITAR, Bench
from webapp.setups.buzz_marks import Pattern, StringBuzz, string_buzzes
from webapp.setups.journal import Part
from webapp.setups.states import Act
from webapp.trade.words import Check


@pytest.mark.parametrize(
    ("frets", "pattern"),
    [
        ((0,), Pattern.OPEN_ONLY),
        ((7,), Pattern.ONE_FRET),
        ((0, 7), Pattern.ONE_FRET),
        ((3, 4), Pattern.MANY),
        ((0, 3, 9), Pattern.MANY),
    ],
)
def test_the_shape_of_a_buzz(frets: tuple[int, ...], pattern: Pattern) -> None:
    assert StringBuzz(4, frets).pattern is pattern


def test_taps_are_gathered_by_string_thickest_first() -> None:
    board = Bench(BASS).buzz((1, 5), (4, 3), (4, 0), (4, 3), (1, 2))
    assert string_buzzes(board) == (StringBuzz(4, (0, 3)), StringBuzz(1, (2, 5)))
    assert string_buzzes(None) == ()


def listened(kind: str, *taps: tuple[int, int]) -> Bench:
    """Heights read well, then every fret plucked."""
    bench = Bench(kind).up_to(Check.HEIGHT).read(Check.HEIGHT)
    assert (bench.next.act, bench.next.place) == (Act.LISTEN, "height.buzz")
    bench.buzz(*taps)
    return bench


def test_no_buzz_leads_on() -> None:
    bench = listened(BASS)
    assert bench.next.place == "nut.4"
    assert bench.assess().checks[Check.HEIGHT].notes == ()


@pytest.mark.parametrize("kind", [BASS, GUITAR])
def test_many_frets_raise_the_string_though_its_height_is_good(kind: str) -> None:
    bench = listened(kind, (2, 3), (2, 4), (2, 5))
    state = bench.state("height.2")
    assert state.open and state.buzz_frets == (3, 4, 5)
    assert state.advice is not None and state.advice.turn is not None
    assert (state.advice.turn.part, state.advice.turn.string) == (Part.SADDLE_HEIGHT, 2)
    assert state.advice.turn.eighths > 0
    assert "3, 4, 5" in state.advice.means
    assert (bench.next.act, bench.next.place) == (Act.DECIDE, "height.2")
    bench.log(state.advice.turn)
    # Heard again before it goes on.
    assert (bench.next.act, bench.next.place) == (Act.LISTEN, "height.buzz")
    bench.buzz()
    assert bench.next.check is Check.NUT
    assert bench.state("height.2").settled


def test_open_only_points_to_the_nut_and_turns_nothing() -> None:
    bench = listened(BASS, (3, 0))
    assert bench.next.place == "nut.4"
    state = bench.state("height.3")
    assert not state.open and (state.advice is None or state.advice.turn is None)
    [note] = bench.assess().checks[Check.HEIGHT].notes
    assert note.startswith("A string") and "nut" in note
    assert [i for i in bench.assess().repairer if i.check is Check.HEIGHT] == []
    bench.reading("nut.3", 0.15)
    [item] = bench.assess().repairer
    assert item.check is Check.NUT and item.text.startswith("A string: nut slot low")


def test_one_fret_goes_to_the_repairer() -> None:
    bench = listened(BASS, (2, 9))
    assert bench.next.place == "nut.4"
    [item] = bench.assess().repairer
    assert item.check is Check.HEIGHT
    assert item.text.startswith("D string") and "fretted at 9" in item.text and "high or worn" in item.text


def test_each_string_is_heard_for_itself() -> None:
    bench = listened(BASS, (4, 0), (3, 9), (2, 5), (2, 6))
    notes = bench.assess().checks[Check.HEIGHT].notes
    assert [note.split(":")[0] for note in notes] == ["E string", "A string", "D string"]
    assert bench.next.place == "height.2"


def test_where_nothing_can_be_raised_the_cause_is_looked_for_and_the_repairer_told() -> None:
    bench = listened(ACOUSTIC, (6, 3), (6, 4))
    state = bench.state("height.6")
    assert state.advice is not None and state.advice.turn is None
    for question in bench.trade.buzz.question:
        assert (bench.next.act, bench.next.place) == (Act.ANSWER, "height.cause")
        bench.observe("height.cause", asked=question.key, answer="no")
    assert bench.next.check is Check.NUT
    [item] = bench.assess().repairer
    assert item.check is Check.HEIGHT and "still buzzes at frets 3, 4" in item.text


def test_what_was_heard_before_a_turn_says_nothing_any_more() -> None:
    bench = listened(BASS, (2, 5), (2, 6), (1, 9))
    bench.turn(Part.ROD, -1)
    assessment = bench.assess()
    assert assessment.checks[Check.HEIGHT].notes == () and assessment.repairer == ()
    bench.read(Check.RELIEF, Check.HEIGHT)
    assert bench.state("height.2").buzz_frets == ()
    assert bench.next.place == "height.buzz"
