"""Which notes a take is asked for, and the readings that its pitches make."""

from __future__ import annotations

import pytest

from tests.setups.journals import BASS, CLASSICAL, Bench, the_trade
from webapp.physics.listening import Note
from webapp.setups.belief.reading import seen_of
from webapp.setups.listening import (
    Aim,
    HeardPlace,
    NoSuchTake,
    heard_entries,
    heard_places,
    heard_tuning,
    take_asked,
)
from webapp.setups.slots import string_numbers, tuned_slot
from webapp.trade.words import Check


def test_a_string_is_asked_open_twice_twelve_twice_high_twice_open_twice() -> None:
    case = Bench(BASS).case()
    asked = take_asked(case, "intonation.4")
    assert [fret for _, fret, _ in asked.notes(case)] == [0, 0, 12, 12, 19, 19, 0, 0]
    hertz = [hertz for *_, hertz in asked.notes(case)]
    assert hertz[0] == pytest.approx(41.203, abs=1e-3) and hertz[2] == pytest.approx(82.407, abs=1e-3)
    assert (asked.name, asked.place, asked.check) == ("intonation.4", "intonation.4.12", Check.INTONATION)


def test_the_high_fret_is_the_one_that_the_player_reaches() -> None:
    case = Bench(CLASSICAL).case()
    assert {fret for _, fret in take_asked(case, "intonation.1").places} == {0, 12, case.high_fret}
    bench = Bench(BASS)
    bench.reading("intonation.4.high", 2.0, fret=17)
    assert {fret for _, fret in take_asked(bench.case(), "intonation.4").places} == {0, 12, 17}


def test_all_open_strings_or_every_fret_of_one() -> None:
    case = Bench(BASS).case()
    tuning, buzz = take_asked(case, "tuning"), take_asked(case, "buzz.2")
    assert tuning.places == tuple((number, 0) for number in string_numbers(case.spec))
    assert buzz.places == tuple((2, fret) for fret in range(case.spec.fret_count + 1))
    assert tuning.slots() == buzz.slots() == () and buzz.aim is Aim.BUZZ
    assert [asked.place for asked in (tuning, buzz)] == ["start", "height.buzz"]


@pytest.mark.parametrize(
    "name", ["", "tuning.1", "intonation", "intonation.5", "intonation.0", "buzz.", "nut.1"]
)
def test_no_such_take(name: str) -> None:
    with pytest.raises(NoSuchTake):
        take_asked(Bench(BASS).case(), name)


def test_a_difference_is_a_reading_with_the_error_that_was_heard() -> None:
    case = Bench(BASS).case()
    asked = take_asked(case, "intonation.4")
    found = heard_places(asked, {(4, 12): (1203.24, 0.2), (4, 19): (1895.0, 0.8), (3, 12): (1200.0, 0.1)})
    assert [(one.slot, one.fret) for one in found] == [(tuned_slot(4), 12), (tuned_slot(4, True), 19)]
    assert [one.cents for one in found] == pytest.approx([3.24, -5.0])
    # Give or take 1 cent is the best that is ever stated.
    assert [one.error_cents for one in found] == [0.5, 0.8]
    notes = [Note(4, fret, 41.2, refused=why) for fret, why in ((0, None), (0, "no"), (12, None), (12, None))]
    entries = heard_entries(found, notes)
    assert [entry.slot for entry in entries] == ["intonation.4.12", "intonation.4.high"]
    assert entries[0].detail == {"method": "take", "fret": 12, "notes": 2, "open_notes": 1}
    assert heard_places(asked, {(4, 19): (1895.0, 0.8)})[0].fret == 19


@pytest.mark.parametrize("error", [0.5, 0.9, 1.7])
def test_the_belief_takes_the_error_as_it_is(error: float) -> None:
    (entry,) = heard_entries([HeardPlace(tuned_slot(4), 12, 4.26, error)], [])
    seen = seen_of(the_trade(), entry)
    assert seen.is_point and (seen.low, seen.sigma) == (4.26, error)


def test_an_open_string_is_in_tune_flat_or_sharp_or_was_not_heard() -> None:
    case = Bench(BASS).case()
    off = {4: -3.4, 3: 2.9, 2: 40.0}
    hertz = {string: one for string, _, one in take_asked(case, "tuning").notes(case)}
    pitches = {(n, 0): (hertz[n] * 2 ** (cents / 1200), 0.1) for n, cents in off.items()}
    told = heard_tuning(case, pitches)
    assert [row.said for row in told] == ["flat", "in tune", "sharp", "not heard"]
    assert [row.cents for row in told[:3]] == pytest.approx([-3.4, 2.9, 40.0])
    lower = {place: (one * 2 ** (-2 / 12), error) for place, (one, error) in pitches.items()}
    assert [row.said for row in heard_tuning(case, lower, -2)] == [row.said for row in told]


def test_an_instrument_of_twelve_frets_has_no_high_one() -> None:
    case = Bench(BASS, fret_count=12, joint_fret=12).case()
    asked = take_asked(case, "intonation.4")
    assert [fret for _, fret in asked.places] == [0, 12, 0] and asked.slots() == (tuned_slot(4),)
