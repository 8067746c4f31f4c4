"""Numbers in words: lengths in the player's unit, bands, cents, turns; names of strings and pickups."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.setups.journals import ACOUSTIC, BASS, GUITAR, POSTS, Bench, spec_of
from webapp.physics.numbers import Unit, parse_length
from webapp.setups.journal import Entry, EntryKind, Part, Turn, turn_detail
from webapp.setups.say import Say, turn_words
from webapp.setups.slots import Slot, pickup_label, slot_label, string_label
from webapp.trade.words import Check, Side


@pytest.mark.parametrize(
    ("eighths", "words"),
    [
        (1, "an eighth of a turn"), (-1, "an eighth of a turn"), (2, "a quarter turn"),
        (3, "⅜ of a turn"), (4, "half a turn"), (5, "⅝ of a turn"),
        (6, "three quarters of a turn"), (7, "⅞ of a turn"), (8, "1 turn"), (-8, "1 turn"),
        (9, "1⅛ turns"), (12, "1½ turns"), (16, "2 turns"), (-27, "3⅜ turns"),
    ],
)  # fmt: skip
def test_turns(eighths: int, words: str) -> None:
    assert Say.turns(eighths) == words


@pytest.mark.parametrize(
    ("value", "unit", "detail", "words"),
    [
        (0.4, "mm", {}, "0.40 mm"),
        (0.45, "mm", {"method": "card", "card_mm": 0.3}, "0.45 mm"),  # an old card without its range
        (0.45, "mm", {"low": 0.3, "high": 0.6}, "0.30 to 0.60 mm"),
        (0.15, "mm", {"low": None, "high": 0.3}, "less than 0.30 mm"),
        (1.05, "mm", {"low": 0.9, "high": None}, "more than 0.90 mm"),
        (4.0, "cents", {"fret": 12}, "+4 cents"),
        (0.0, "cents", {"low": -2.5, "high": 2.5}, "−2.5 to +2.5 cents"),
        (0.0, "cents", {"low": -1, "high": 1}, "−1 to +1 cents"),
        (-10.0, "cents", {"low": None, "high": -8.0}, "more than 8 cents flat"),
        (10.0, "cents", {"low": 8.0, "high": None}, "more than 8 cents sharp"),
    ],
)
def test_a_reading_is_said_as_the_number_or_the_range_that_it_is(
    value: float, unit: str, detail: dict[str, float | None], words: str
) -> None:
    entry = Entry(EntryKind.READING, Check.RELIEF, "relief", value, unit, detail=detail)
    assert Say().reading(entry) == words


def test_a_range_comes_in_the_players_unit() -> None:
    detail = {"low": 0.3, "high": 0.6}
    entry = Entry(EntryKind.READING, Check.RELIEF, "relief", 0.45, "mm", detail=detail)
    assert Say(Unit.thou).reading(entry) == "12 to 24 thou"


@pytest.mark.parametrize(
    ("mm", "unit", "words"),
    [
        (2.4, Unit.mm, "2.40 mm"),
        (-0.1, Unit.mm, "−0.10 mm"),
        (2.4, Unit.inch, "0.094 in"),
        (0.3, Unit.thou, "12 thou"),
        (2.38125, Unit.sixty_fourths, "6/64 in"),
        (2.2, Unit.sixty_fourths, "5.5/64 in"),
        (0.3, Unit.sixty_fourths, "12 thou"),
        (-0.3, Unit.sixty_fourths, "−12 thou"),
        (0.999, Unit.sixty_fourths, "39 thou"),
        (1.0, Unit.sixty_fourths, "2.5/64 in"),
    ],
)
def test_lengths(mm: float, unit: Unit, words: str) -> None:
    assert Say(unit).length(mm) == words


@given(mm=st.floats(-0.02, 0.02), unit=st.sampled_from(list(Unit)))
def test_nothing_is_never_minus_nothing(mm: float, unit: Unit) -> None:
    assert not re.match(r"-0(\.0*)?[ /]", Say(unit).length(mm))
    assert not Say.cents(mm).startswith("-0 ") and not Say.cents(mm).startswith("+0 ")


@given(mm=st.floats(-2, 25), unit=st.sampled_from(list(Unit)))
def test_what_is_said_can_be_typed(mm: float, unit: Unit) -> None:
    half_step = {Unit.mm: 0.005, Unit.inch: 0.0127, Unit.thou: 0.0127, Unit.sixty_fourths: 25.4 / 256}[unit]
    assert parse_length(Say(unit).length(mm), Unit.mm, -5, 30).mm == pytest.approx(mm, abs=half_step + 1e-6)


@pytest.mark.parametrize(
    ("low", "high", "unit", "words"),
    [
        (2.0, 3.0, Unit.mm, "2.00 to 3.00 mm"),
        (-0.1, 0.3, Unit.mm, "−0.10 to 0.30 mm"),
        (0.15, 0.45, Unit.thou, "6 to 18 thou"),
        (0.15, 0.45, Unit.sixty_fourths, "6 to 18 thou"),
        (2.0, 3.0, Unit.inch, "0.079 to 0.118 in"),
        (2.0, 3.0, Unit.sixty_fourths, "5/64 to 7.5/64 in"),
        (0.6, 1.2, Unit.sixty_fourths, "24 thou to 3/64 in"),
    ],
)
def test_bands_say_the_unit_once(low: float, high: float, unit: Unit, words: str) -> None:
    assert Say(unit).band(low, high) == words


@pytest.mark.parametrize(
    ("cents", "words"),
    [
        (4, "+4 cents"),
        (-2.5, "−2.5 cents"),
        (0, "0 cents"),
        (-0.04, "0 cents"),
        (0.06, "+0.1 cents"),
        (0.98, "+1 cent"),
    ],
)
def test_cents_carry_their_sign(cents: float, words: str) -> None:
    assert Say.cents(cents) == words


@pytest.mark.parametrize(
    ("turn", "words"),
    [
        (Turn(Part.ROD, 1), "Tightened an eighth of a turn"),
        (Turn(Part.ROD, -2), "Loosened a quarter turn"),
        (Turn(Part.SADDLE_HEIGHT, 4, string=4), "Raised half a turn"),
        (Turn(Part.SADDLE_HEIGHT, -8, side=Side.BASS), "Lowered 1 turn"),
        (Turn(Part.SADDLE_POSITION, 3, string=1), "Moved back ⅜ of a turn"),
        (Turn(Part.SADDLE_POSITION, -3, string=1), "Moved toward the nut ⅜ of a turn"),
        (Turn(Part.PICKUP_HEIGHT, 2, pickup=1, side=Side.BASS), "Raised a quarter turn"),
        (Turn(Part.STRINGS), "Strings changed"),
        (Turn(Part.NUT, string=2), "Nut slot worked on"),
    ],
)
def test_what_was_turned(turn: Turn, words: str) -> None:
    assert turn_words(Say(), turn) == words
    assert Bench(BASS).log(turn).turn == turn
    assert turn_detail(turn)["part"] == turn.part.value


def test_strings_go_by_their_note_and_by_number_where_that_is_not_enough() -> None:
    bass, guitar = spec_of(BASS), spec_of(GUITAR)
    assert [string_label(bass, n) for n in (4, 3, 2, 1)] == ["E string", "A string", "D string", "G string"]
    assert (string_label(guitar, 6), string_label(guitar, 1)) == ("E string (6)", "E string (1)")
    assert string_label(guitar, 5) == "A string"
    flat = bass.model_copy(
        update={"strings": (bass.strings[0].model_copy(update={"note": "Eb1"}), *bass.strings[1:])}
    )
    assert string_label(flat, 4) == "E♭ string"


def test_pickups_go_by_their_place() -> None:
    assert pickup_label(spec_of(POSTS), 1) == "Neck pickup"
    assert pickup_label(spec_of("bass_4_short"), 1) == "Pickup"
    assert slot_label(spec_of(BASS), Slot(Check.PICKUPS, pickup=2, side=Side.TREBLE)) == (
        "Bridge pickup, treble side"
    )
    assert slot_label(spec_of(ACOUSTIC), Slot(Check.RELIEF)) == "Relief"


def test_the_advice_speaks_the_players_unit() -> None:
    for unit, told in ((Unit.mm, "mm"), (Unit.thou, "thou"), (Unit.inch, " in")):
        bench = Bench(BASS, unit).up_to(Check.NUT)
        bench.reading("nut.4", 0.9)
        [item] = bench.assess().repairer
        assert told in item.text
