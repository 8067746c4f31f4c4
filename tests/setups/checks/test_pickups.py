"""Pickups: a gap at both sides of each; too far or too close, and which screw turns which way."""

from __future__ import annotations

from typing import Any

import pytest

from tests.setups.journals import ACOUSTIC, BASS, GUITAR, Bench
from tests.setups.obeying import obey
from webapp.setups.checks import READ_CHECKS
from webapp.setups.checks.pickups import inner_end_rise_mm
from webapp.setups.journal import Part, Turn
from webapp.setups.slots import Slot, slots_of
from webapp.setups.states import Act, Advice, Word
from webapp.trade.words import Check, PickupAdjust, Side

PICKUPS = READ_CHECKS[Check.PICKUPS]


def read_off(off_mm: float, key: str = "pickups.2.bass", **changes: Any) -> Bench:
    bench = Bench(BASS, pickups=changes or {}).up_to(Check.PICKUPS).read(Check.PICKUPS)
    middle = bench.state(key).bands.target.middle
    for _ in range(2):
        bench.reading(key, middle + off_mm)
    return bench


def advice_of(bench: Bench, key: str = "pickups.2.bass") -> Advice:
    advice = bench.state(key).advice
    assert advice is not None
    return advice


@pytest.mark.parametrize(
    ("adjust", "gap_off_mm", "verb", "clock"),
    [
        (PickupAdjust.RING, 2.0, "Raise", ": clockwise,"),
        (PickupAdjust.RING, -1.1, "Lower", ": anticlockwise,"),
        (PickupAdjust.BODY, 2.0, "Raise", ": anticlockwise,"),
        (PickupAdjust.BODY, -1.1, "Lower", ": clockwise,"),
    ],
)
@pytest.mark.parametrize("side", list(Side))
def test_which_way_a_pickup_goes(
    adjust: PickupAdjust, side: Side, gap_off_mm: float, verb: str, clock: str
) -> None:
    key = f"pickups.2.{side.value}"
    bench = read_off(gap_off_mm, key, adjust=adjust, thread="6-32")
    advice = advice_of(bench, key)
    assert advice.turn is not None and advice.forecast is not None
    assert (advice.turn.part, advice.turn.pickup, advice.turn.side) == (Part.PICKUP_HEIGHT, 2, side)
    assert (advice.turn.eighths > 0) == (verb == "Raise")
    assert advice.do[0].startswith(f"{verb} the {side.value} side ") and clock in advice.do[0]
    # Up goes the pickup, down goes the gap.
    assert (advice.forecast.value < bench.state(key).value) == (verb == "Raise")
    assert abs(advice.forecast.value - bench.state(key).bands.target.middle) < abs(gap_off_mm) / 2


@pytest.mark.parametrize(
    ("off_mm", "said", "means"), [(2.0, "too far", "Too far"), (-1.6, "too close", "Too close")]
)
def test_a_gap_is_far_or_close_and_never_high_or_low(off_mm: float, said: str, means: str) -> None:
    bench = read_off(off_mm)
    assert bench.state("pickups.2.bass").said == said
    advice = advice_of(bench)
    assert advice.means.startswith(means)
    assert not any(word in advice.means for word in ("high", "low"))


def test_four_sides_far_off_take_few_turns_and_readings() -> None:
    """One whole turn shows what thread it is, for every pickup."""
    bench = Bench(BASS).up_to(Check.PICKUPS)
    gaps = {key: bench.state(key).bands.target.middle + 2.5 for key in bench.keys(Check.PICKUPS)}
    turns: list[Turn] = []

    def turn(made: Turn) -> None:
        assert made.side is not None
        turns.append(made)
        gaps[f"pickups.{made.pickup}.{made.side.value}"] -= made.eighths / 8 * 0.794

    def read(key: str) -> None:
        bench.reading(key, round(gaps[key], 1) if key in gaps else None)

    steps = obey(bench, read, turn, until=Check.PLAYTEST)
    for key, gap in gaps.items():
        assert bench.state(key).bands.usual.contains(gap)
    assert len(turns) <= 6
    readings = sum(len(step.places) for step in steps if step.act is Act.MEASURE)
    assert readings <= 10


def test_a_fixed_pickup_goes_to_a_repairer() -> None:
    bench = read_off(3.0, "pickups.1.bass", adjust=PickupAdjust.FIXED)
    advice = advice_of(bench, "pickups.1.bass")
    assert advice.turn is None
    assert "from the string" in advice.repairer and "2.00 to 3.00 mm" in advice.repairer
    assert bench.next.place == "pickups.ear"


def test_the_inner_ends_of_a_split_pickup_stand_higher() -> None:
    for pickup, told in ((1, True), (2, False)):  # the bass has a split pickup and a single one
        key = f"pickups.{pickup}.bass"
        bench = read_off(2.5, key)
        assert any("inner end" in line and "higher" in line for line in advice_of(bench, key).do) is told
    assert inner_end_rise_mm(Bench(BASS).case()) > 0.5


def test_no_room_that_way_leaves_the_other_way_open() -> None:
    bench = read_off(2.5)
    bench.stuck("pickups.2.bass", "no_room", 1)
    assert advice_of(bench).turn is None
    assert bench.next.place == "pickups.ear"
    bench.turn(Part.PICKUP_HEIGHT, pickup=2, side=Side.BASS)
    for _ in range(2):
        bench.reading("pickups.2.bass", 0.9)
    turn = advice_of(bench).turn
    assert turn is not None and turn.eighths < 0


def test_then_they_are_listened_to_and_again_after_anything_moved() -> None:
    for part in (Part.PICKUP_HEIGHT, Part.SADDLE_HEIGHT, Part.ROD, Part.STRINGS):
        bench = Bench(BASS).up_to(Check.PICKUPS).read(Check.PICKUPS)
        assert (bench.next.act, bench.next.place) == (Act.LISTEN, "pickups.ear")
        bench.observe("pickups.ear", heard=["banging", "thin"])
        notes = bench.assess().checks[Check.PICKUPS].notes
        assert any("Lower" in note for note in notes) and any("Raise" in note for note in notes)
        bench.turn(part, 0 if part is Part.STRINGS else 1, string=1, pickup=1, side=Side.BASS)
        assert bench.assess().checks[Check.PICKUPS].notes == ()


def test_an_instrument_without_pickups_has_no_such_check() -> None:
    state = Bench(ACOUSTIC).assess().checks[Check.PICKUPS]
    assert (state.word, state.here, state.done) == (Word.NOT_HERE, False, True)


def test_the_hands_press_the_string_over_that_side() -> None:
    case = Bench(GUITAR).case()
    slot = Slot(Check.PICKUPS, pickup=1, side=Side.TREBLE)
    first, second = PICKUPS.lines(case, slot, "ruler", {})
    assert f"last fret ({case.spec.fret_count})" in first and "E string (1)" in first
    assert "neck pickup" in second and "pole" in second
    both, _ = PICKUPS.lines_together(case, slots_of(case.spec, Check.PICKUPS), "ruler", {})
    assert "bass side" in both and "treble side" in both
