"""The whole judgement against printed setups: what makers and repairers print is read in, and judged.

Where a sheet reads another way than the bands (another fret, an open string), the reading is stored as it was
taken and the product's own conversion is part of what is tried.
"""

from __future__ import annotations

import pytest

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, GUITAR, Bench, spec_of
from webapp.setups.journal import Part
from webapp.setups.states import Advice, SlotState, Word
from webapp.setups.strings.string_setting import starting_places
from webapp.trade.words import Check

INCH = 25.4
SHORT, SEVEN, FIVE = "bass_4_short", "electric_7", "bass_5_34"
ACCEPTABLE = {Word.GOOD, Word.TOUCH_LOW, Word.TOUCH_HIGH}

MANUAL_1992 = "Fender, owner's manual 1992, page 12, truss rod: held at 1, pressed at the joint, gap at 8"
SHORT_BASS = "Fender, Standard Precision Bass Short-Scale owner's manual (undated, read 2026)"
BY_RADIUS = (
    "Fender Setup Guide (collected maker's specifications, undated, read 2026), page 1, neck relief by radius"
)
PRESETS = "Fender, owner's manual 0113012706 (undated, read 2026), page 23, setting intonation"
GUITAR_UPKEEP = "Ibanez, Electric Guitar Maintenance Manual (undated, read 2026), page 29, neck"
GUITAR_OWNERS = "Ibanez, owner's manual (undated, read 2026), page 38"
PLAIN_GUITAR = "Monoprice, Indio guitars owner's manual (undated, read 2026), page 9, neck adjustment"
OFFSET_KIT = "Stewart-MacDonald, offset vibrato guitar kit assembly instructions (undated, read 2026), p. 15"
DREADNOUGHT = "Stewart-MacDonald, Dreadnought Acoustic Guitar Kit 5295 (undated, read 2026), page 36, relief"
SETUP_SHEET = "Reverend Guitars, owner's manual, setup sheet (undated, read 2026), page 2"
REPAIRER = "Musical Instrument Repairs WA, Assess truss rod, 2017 (web page): held at 3 and 14"
ACOUSTIC_PAGE = "Guitare Boucher, The Action (web page, undated, read 2026): height at 12"
SPECIFICATIONS = "classicalguitars.ca, Specifications (web page, undated, read 2026): action height at 12"
SCHOOL = "Musicians Institute Nashville, Adjusting the truss rod (web page, undated, recalled)"


def relief_read(kind: str, relief_mm: float, press: int | str, gap: int, hold: int = 1) -> SlotState:
    """A relief read as the source reads it, judged on a kind's usual instrument."""
    spec = spec_of(kind)
    fret = {"joint": spec.joint_fret, "last": spec.fret_count}.get(str(press), press)
    bench = Bench(kind).up_to(Check.RELIEF)
    bench.reading("relief", relief_mm, hold=hold, press=fret, gap=gap)
    return bench.state("relief")


def heights_read(kind: str, heights_mm: dict[int, float], gap: int, nut_mm: float = 0.3) -> set[Word]:
    """Open strings read over a fret, with a nut that is as it should be."""
    bench = Bench(kind).up_to(Check.HEIGHT)
    for number, height_mm in heights_mm.items():
        bench.reading(f"nut.{number}", nut_mm)
        bench.reading(f"height.{number}", height_mm, hold=0, gap=gap)
    return {bench.state(f"height.{number}").verdict.word for number in heights_mm}


def advice_of(state: SlotState) -> Advice:
    assert state.advice is not None
    return state.advice


def printed(source: str, kind: str, relief_mm: float, press: int | str, gap: int) -> object:
    name = f"{kind} {relief_mm:.3f} mm {press}-{gap}"
    return pytest.param(kind, relief_mm, press, gap, marks=pytest.mark.published(source), id=name)


@pytest.mark.parametrize(
    ("kind", "relief_mm", "press", "gap"),
    [
        printed(MANUAL_1992, GUITAR, 0.010 * INCH, "joint", 8),
        printed(MANUAL_1992, BASS, 0.015 * INCH, "joint", 8),
        printed(MANUAL_1992, BASS, 0.020 * INCH, "joint", 8),
        printed(SHORT_BASS + ", page 9, truss rod", SHORT, 0.4, "joint", 8),
        printed(SHORT_BASS + ", page 9, truss rod", SHORT, 0.5, "joint", 8),
        printed(BY_RADIUS, GUITAR, 0.012 * INCH, "last", 8),
        printed(BY_RADIUS, GUITAR, 0.010 * INCH, "last", 8),
        printed(BY_RADIUS, GUITAR, 0.008 * INCH, "last", 8),
        printed(BY_RADIUS, BASS, 0.014 * INCH, "last", 8),
        printed(BY_RADIUS, BASS, 0.012 * INCH, "last", 8),
        printed(BY_RADIUS, BASS, 0.010 * INCH, "last", 8),
        printed(BY_RADIUS, BASS, 0.014 * INCH, 17, 7),
        printed(PLAIN_GUITAR, GUITAR, 0.25, "last", 8),
        printed(GUITAR_UPKEEP, GUITAR, 0.3, "joint", 8),
        printed(OFFSET_KIT, GUITAR, 0.012 * INCH, "last", 12),
        printed(DREADNOUGHT, ACOUSTIC, 0.012 * INCH, "joint", 7),
    ],
)
def test_printed_relief_is_acceptable(kind: str, relief_mm: float, press: int | str, gap: int) -> None:
    assert relief_read(kind, relief_mm, press, gap).verdict.word in ACCEPTABLE


@pytest.mark.memory(SCHOOL)
def test_a_fiftieth_of_an_inch_in_the_middle_is_a_place_to_start_from_on_a_bass() -> None:
    assert relief_read(BASS, 0.02 * INCH, 13, 7).verdict.word in ACCEPTABLE


@pytest.mark.published(GUITAR_UPKEEP)
def test_the_upper_end_of_one_makers_relief_is_more_bow_than_our_bands_take_on_a_guitar() -> None:
    # Printed as 0.3 to 0.5 mm. Five other sources end at 0.3 mm, and ours at 0.40: kept, and said here.
    state = relief_read(GUITAR, 0.5, "joint", 8)
    assert state.verdict.word is Word.TOO_HIGH
    assert state.value is not None and state.bands is not None
    assert state.value - state.bands.usual.high < 0.15


@pytest.mark.published(DREADNOUGHT)
def test_a_dead_straight_neck_is_a_little_less_than_our_bands_take() -> None:
    # Printed as 0 to 0.012 in. A blade that does not go in says straight or worse, so we ask for some bow.
    state = relief_read(ACOUSTIC, 0.0, "joint", 7)
    assert state.verdict.word.is_low


@pytest.mark.published(REPAIRER)
@pytest.mark.parametrize("relief_in", [0.014])
def test_a_rod_left_slack_is_acceptable(relief_in: float) -> None:
    assert relief_read(BASS, relief_in * INCH, 14, 8, hold=3).verdict.word in ACCEPTABLE


@pytest.mark.published(REPAIRER)
@pytest.mark.parametrize(("relief_in", "tighten"), [(0.028, True), (-0.0095, False)])
def test_a_rod_wound_to_either_stop_is_turned_back(relief_in: float, tighten: bool) -> None:
    advice = advice_of(relief_read(BASS, relief_in * INCH, 14, 8, hold=3))
    assert advice.turn is not None and (advice.turn.eighths > 0) is tighten


@pytest.mark.published(PLAIN_GUITAR)
@pytest.mark.parametrize(("gap_mm", "way"), [(0.02, "counter-clockwise"), (0.80, "clockwise")])
def test_too_little_gap_loosens_the_rod_and_too_much_tightens_it(gap_mm: float, way: str) -> None:
    advice = advice_of(relief_read(GUITAR, gap_mm, "last", 8))
    assert any(way_of(line) == way for line in advice.do), advice.do


def way_of(line: str) -> str:
    if "clockwise" not in line or "Ease" in line:
        return ""
    return "counter-clockwise" if "counter" in line or "anti" in line else "clockwise"


@pytest.mark.published(GUITAR_UPKEEP)
def test_the_rod_is_turned_by_quarters_and_the_strings_tuned_between() -> None:
    advice = advice_of(relief_read(GUITAR, 0.9, "joint", 8))
    assert advice.turn is not None and advice.turn.eighths <= 2
    assert advice.then.startswith("Retune")


@pytest.mark.published(SETUP_SHEET + ", string heights")
@pytest.mark.parametrize(
    ("kind", "sixty_fourths"),
    [
        (BASS, {4: 4.5, 3: 4.5, 2: 4.0, 1: 4.0}),
        (FIVE, {5: 5.0, 4: 4.5, 3: 4.5, 2: 4.0, 1: 4.0}),
        (GUITAR, {6: 4.5, 5: 4.5, 4: 4.5, 3: 4.5, 2: 4.0, 1: 4.0}),
    ],
)
def test_a_makers_sheet_read_open_at_12_is_acceptable(kind: str, sixty_fourths: dict[int, float]) -> None:
    heights_mm = {number: height / 64 * INCH for number, height in sixty_fourths.items()}
    assert heights_read(kind, heights_mm, gap=12) <= ACCEPTABLE


@pytest.mark.published(GUITAR_OWNERS + ", string height over the 14th fret")
@pytest.mark.parametrize(
    ("kind", "heights_mm"),
    [
        (GUITAR, {6: 2.0, 1: 1.5}), (GUITAR, {6: 2.2, 1: 1.7}), (SEVEN, {7: 2.2}), (SEVEN, {7: 2.4}),
    ],
)  # fmt: skip
def test_heights_printed_for_the_14th_fret_are_acceptable(kind: str, heights_mm: dict[int, float]) -> None:
    assert heights_read(kind, heights_mm, gap=14) <= ACCEPTABLE


@pytest.mark.published(BY_RADIUS.replace("neck relief by radius", "string height over the 17th fret"))
@pytest.mark.parametrize("height_in", [0.0938 - 0.0156, 0.0938, 0.0938 + 0.0156])
def test_heights_printed_for_the_17th_fret_are_acceptable(height_in: float) -> None:
    assert heights_read(BASS, {4: height_in * INCH}, gap=17) <= ACCEPTABLE


@pytest.mark.published(ACOUSTIC_PAGE)
@pytest.mark.parametrize(("number", "height_mm"), [(6, 2.4), (1, 1.6)])
def test_a_makers_steel_string_guitar_is_acceptable(number: int, height_mm: float) -> None:
    assert heights_read(ACOUSTIC, {number: height_mm}, gap=12) <= ACCEPTABLE


@pytest.mark.published(SPECIFICATIONS)
@pytest.mark.parametrize(("number", "height_mm"), [(6, 3.6), (1, 2.6)])
def test_a_makers_classical_guitar_is_not_too_low_or_too_high(number: int, height_mm: float) -> None:
    # One string lies so near the end of the band that the gauge cannot tell on which side.
    words = heights_read(CLASSICAL, {number: height_mm}, gap=12, nut_mm=0.7)
    assert words <= {*ACCEPTABLE, Word.CANNOT_TELL}


@pytest.mark.published(OFFSET_KIT + ", first fret clearance")
@pytest.mark.parametrize(("wound", "clearance_in"), [(False, 0.012), (True, 0.020)])
def test_a_kits_nut_clearances_need_no_repairer(wound: bool, clearance_in: float) -> None:
    for kind in (GUITAR, ACOUSTIC):
        bench = Bench(kind).up_to(Check.NUT)
        alike = [n for n in bench.numbers if bench.spec.string(n).wound is wound]
        for number in alike:
            bench.reading(f"nut.{number}", clearance_in * INCH)
            assert bench.state(f"nut.{number}").verdict.word in ACCEPTABLE


@pytest.mark.published(BY_RADIUS.replace("neck relief by radius", "string to first fret clearance"))
@pytest.mark.parametrize("clearance_in", [0.018, 0.020, 0.022])
def test_a_basss_nut_clearance_needs_no_repairer(clearance_in: float) -> None:
    bench = Bench(BASS).up_to(Check.NUT)
    for number in bench.numbers:
        bench.reading(f"nut.{number}", clearance_in * INCH)
        assert bench.state(f"nut.{number}").verdict.word in ACCEPTABLE


def saddle_turned(kind: str, number: int, cents: float) -> Advice:
    bench = Bench(kind).up_to(Check.INTONATION)
    bench.reading(f"intonation.{number}.12", cents)
    bench.reading(f"intonation.{number}.high", 2 * cents)
    return advice_of(bench.state(f"intonation.{number}.12"))


@pytest.mark.parametrize(
    ("kind", "number", "cents", "longer"),
    [
        pytest.param(GUITAR, 6, -9, False, marks=pytest.mark.published(GUITAR_OWNERS + ", intonation")),
        pytest.param(GUITAR, 6, 9, True, marks=pytest.mark.published(GUITAR_OWNERS + ", intonation")),
        pytest.param(SHORT, 4, -12, False, marks=pytest.mark.published(SHORT_BASS + ", page 12, intonation")),
        pytest.param(SHORT, 4, 12, True, marks=pytest.mark.published(SHORT_BASS + ", page 12, intonation")),
    ],
)
def test_a_flat_fretted_note_shortens_the_string_and_a_sharp_one_lengthens_it(
    kind: str, number: int, cents: float, longer: bool
) -> None:
    advice = saddle_turned(kind, number, cents)
    assert advice.turn is not None and advice.turn.part is Part.SADDLE_POSITION
    assert (advice.turn.eighths > 0) is longer  # plus is back, away from the nut


@pytest.mark.published(PRESETS)
def test_saddles_step_back_from_the_first_to_the_third_and_the_fourth_stands_by_the_second() -> None:
    back = {place.number: place.back_mm for place in starting_places(Bench(GUITAR).case())}
    assert back[1] < back[2] < back[3]
    assert abs(back[4] - back[2]) < back[3] - back[4]
