"""One string's errors over the board, planted and found again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, GUITAR, Bench
from webapp.setups.journal import Part
from webapp.setups.strings.string_setting import starting_places
from webapp.setups.tryout.intonation_split import SPLIT_FRETS, current_readings, split_of
from webapp.trade.words import Check


def read_all(bench: Bench, number: int, shift_mm: float, nut: float, odd: dict[int, float]) -> None:
    """Read every fret of a string whose true lengths are off by a saddle shift, from exact length ratios."""
    from math import log2

    scale = bench.spec.scale_of(number)
    for fret in SPLIT_FRETS:
        if fret > bench.spec.fret_count:
            continue
        # Open string tuned to scale - shift; the fretted length loses the same shift.
        open_length = scale - shift_mm
        fretted = scale * 2 ** (-fret / 12) - shift_mm
        cents = 1200 * log2(open_length / fretted) - 100 * fret + nut + odd.get(fret, 0.0)
        role = "12" if fret == 12 else "high" if fret == bench.case().high_fret else str(fret)
        bench.read_fret(number, role, fret, cents)


@given(st.floats(-2, 2), st.floats(-8, 8))
def test_planted_parts_are_found(shift_mm: float, nut: float) -> None:
    bench = Bench(BASS)
    read_all(bench, 4, shift_mm, nut, {})
    split = split_of(bench.case(), 4)
    assert split is not None
    assert split.fit.shift_mm == pytest.approx(shift_mm, abs=0.05)
    assert split.fit.nut_cents == pytest.approx(nut, abs=0.1)


def test_a_worn_fret_is_left_over_and_goes_to_a_repairer() -> None:
    bench = Bench(BASS)
    read_all(bench, 3, 0.5, 0.0, {7: 9.0})
    split = split_of(bench.case(), 3)
    assert split is not None
    assert "fret 7" in split.remainder
    assert any("fret 7" in text for text in split.repairer)


def test_sharp_low_frets_point_to_the_nut() -> None:
    bench = Bench(BASS)
    read_all(bench, 4, 0.0, 8.0, {})
    split = split_of(bench.case(), 4)
    assert split is not None and "slot is high" in split.nut
    assert split.repairer


def test_two_readings_split_but_say_that_a_third_is_missing() -> None:
    bench = Bench(BASS)
    bench.read_fret(4, "12", 12, 4.0)
    assert split_of(bench.case(), 4) is None
    bench.read_fret(4, "high", 19, 8.0)
    split = split_of(bench.case(), 4)
    assert split is not None and "one more fret" in split.remainder


def test_no_room_and_no_screw_go_to_a_repairer() -> None:
    bench = Bench(BASS)
    read_all(bench, 4, 1.5, 0.0, {})
    bench.observe("intonation.4.12", answer="no_room")
    split = split_of(bench.case(), 4)
    assert split is not None and "no room left" in split.saddle and split.repairer
    one_piece = Bench(ACOUSTIC)
    read_all(one_piece, 6, 1.5, 0.0, {})
    split = split_of(one_piece.case(), 6)
    assert split is not None and "no screw" in split.saddle and split.repairer


def test_the_turns_are_those_that_the_setup_advises_and_no_others() -> None:
    bench = Bench(BASS).up_to(Check.INTONATION)
    read_all(bench, 4, 1.5, 0.0, {})
    split = split_of(bench.case(), 4)
    advice = bench.state("intonation.4.12").advice
    assert split is not None and advice is not None and advice.turn is not None
    assert advice.turn.eighths > 0
    assert f"The setup turns it {bench.case().say.turns(advice.turn.eighths)}." in split.saddle
    # The nut end explains these: the saddle's part asks for nothing, whatever the 12th alone would say.
    nut = Bench(BASS).up_to(Check.INTONATION)
    read_all(nut, 4, 0.0, 12.0, {})
    found = split_of(nut.case(), 4)
    assert found is not None and "Leave it" in found.saddle and "turns" not in found.saddle


def test_a_moved_saddle_puts_its_own_readings_out_of_date_only() -> None:
    bench = Bench(BASS)
    for number in (4, 3):
        read_all(bench, number, 1.0, 0.0, {})
    bench.turn(Part.SADDLE_POSITION, 4, string=4)
    assert current_readings(bench.case(), 4) == {}
    assert len(current_readings(bench.case(), 3)) > 5


def test_saddles_start_further_back_for_thicker_cores() -> None:
    bass = [place.back_mm for place in starting_places(Bench(BASS).case())]
    assert bass == sorted(bass, reverse=True)
    guitar = {place.number: place.back_mm for place in starting_places(Bench(GUITAR).case())}
    assert guitar[3] > guitar[4]  # the thick plain string next to the thin-cored wound one
    assert starting_places(Bench(CLASSICAL).case()) == ()
