"""An instrument in words: lengths as they were typed, and what nobody has confirmed."""

from __future__ import annotations

import pytest

from tests.setups.journals import ACOUSTIC, BASS, POSTS, spec_of, the_trade
from webapp.setups.description import as_typed, assumed_of, facts, in_short, scale_words
from webapp.setups.journal import Part, Turn
from webapp.setups.slots import strings_seen
from webapp.trade.words import Rotation, ScrewHeads


def said(name: str, **changes: object) -> str:
    return next(fact.text for fact in facts(spec_of(**changes), the_trade()) if fact.name == name)


@pytest.mark.parametrize(
    ("text", "unit", "mm", "words"),
    [
        ("34", "in", 863.6, "34 in"),
        ("863.6", "mm", 863.6, "863.6 mm"),
        ("25 1/2", "in", 647.7, "25.5 in"),
    ],
)
def test_a_length_keeps_the_unit_it_was_typed_in(text: str, unit: str, mm: float, words: str) -> None:
    spec = spec_of(scale_bass_mm=mm, scale_treble_mm=mm, typed={"scale": text, "scale_unit": unit})
    assert scale_words(spec) == as_typed(spec, "scale", mm) == words
    assert in_short(spec) == f"4 strings, {words}"


def test_a_length_nobody_typed_is_said_in_inches_where_it_is_round_in_them() -> None:
    assert said("Scale") == "34 in" and said("Scale", scale_bass_mm=865.0, scale_treble_mm=865.0) == "865 mm"
    # What was typed of another length than is kept says nothing of this one.
    old = {"scale": "35", "scale_unit": "in"}
    assert said("Scale", scale_bass_mm=865.0, scale_treble_mm=865.0, typed=old) == "865 mm"


def test_only_what_there_is_is_said() -> None:
    names = [fact.name for fact in facts(spec_of(ACOUSTIC), the_trade())]
    assert "Hand" not in names and names[0] == "Kind"
    assert said("Hand", left_handed=True) == "left-handed"
    threads = {"height_thread": "M4", "intonation_thread": "unknown"}
    assert said("Bridge", bridge=threads).endswith("height screws M4")


ROD, SADDLE = Turn(Part.ROD, 2), Turn(Part.SADDLE_HEIGHT, -4, string=4)
BACK, PICKUP = Turn(Part.SADDLE_POSITION, 3, string=4), Turn(Part.PICKUP_HEIGHT, 8, pickup=1)


@pytest.mark.parametrize(
    ("turn", "words"),
    [
        (ROD, ["the rod tightens clockwise"]),
        (SADDLE, ["the thread is M3", "the board’s radius 9.5 in"]),
        (BACK, ["the thread is M3", "the screws’ heads are behind, away from the neck"]),
        (PICKUP, []),  # nobody assumes a pickup's thread
    ],
)
def test_a_turn_rests_on_what_was_assumed(turn: Turn, words: list[str]) -> None:
    assert list(assumed_of(spec_of(assumed=True), the_trade(), turn)) == words
    assert list(assumed_of(spec_of(), the_trade(), turn)) == []


def test_what_was_changed_since_is_known() -> None:
    rod = {"tightens": Rotation.ANTICLOCKWISE}
    assert list(assumed_of(spec_of(assumed=True, rod=rod), the_trade(), ROD)) == []
    heads = {"intonation_heads": ScrewHeads.FRONT}
    assert list(assumed_of(spec_of(assumed=True, bridge=heads), the_trade(), BACK)) == []
    assert list(assumed_of(spec_of(POSTS, assumed=True), the_trade(), SADDLE))


def test_the_strings_lie_the_other_way_round_for_the_left_hand() -> None:
    assert strings_seen(spec_of(BASS)) == (4, 3, 2, 1)
    assert strings_seen(spec_of(BASS, left_handed=True)) == (1, 2, 3, 4)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("bass_4_34", "4 strings, 34 in"),
        ("electric_6", "6 strings, 25.5 in"),
        ("acoustic_12", "6 pairs of strings, "),
        ("classical_6", "6 strings, 650 mm"),
    ],
)
def test_what_it_is_in_a_few_words(kind: str, words: str) -> None:
    assert in_short(spec_of(kind)).startswith(words)


def test_fanned_frets_have_two_scales() -> None:
    fanned = spec_of("bass_4_34", scale_bass_mm=889.0, scale_treble_mm=863.6)
    assert in_short(fanned) == "4 strings, 35 in to 34 in"
