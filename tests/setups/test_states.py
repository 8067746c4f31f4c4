"""The verdict words at, inside and outside every edge of the bands, and how each check says them."""

from __future__ import annotations

import pytest

from tests.setups.journals import BASS, Bench, all_kinds
from webapp.setups.slots import all_slots
from webapp.setups.states import NEEDIEST, Verdict, Word, said, word_of, worst
from webapp.trade.ranges import Band, Bands
from webapp.trade.words import Check, Touch

BANDS = Bands(target=Band(low=2, high=3), usual=Band(low=1.5, high=3.6), plausible=Band(low=0.3, high=8))
HAIR = 0.001

EDGES = [
    (-4.0, Word.TOO_LOW),
    (1.5 - HAIR, Word.TOO_LOW),
    (1.5, Word.TOUCH_LOW),
    (1.5 + HAIR, Word.TOUCH_LOW),
    (2.0 - HAIR, Word.TOUCH_LOW),
    (2.0, Word.GOOD),
    (2.5, Word.GOOD),
    (3.0, Word.GOOD),
    (3.0 + HAIR, Word.TOUCH_HIGH),
    (3.6 - HAIR, Word.TOUCH_HIGH),
    (3.6, Word.TOUCH_HIGH),
    (3.6 + HAIR, Word.TOO_HIGH),
    (8.0, Word.TOO_HIGH),
]


@pytest.mark.parametrize(("value", "word"), EDGES)
def test_the_word_at_every_edge(value: float, word: Word) -> None:
    assert word_of(value, BANDS) is word


def test_an_edge_typed_in_inches_belongs_to_the_band() -> None:
    bands = Bands(
        target=Band(low=3 * 0.1, high=2.4), usual=Band(low=0.1, high=3), plausible=Band(low=0, high=8)
    )
    assert word_of(0.3, bands) is Word.GOOD  # 3 * 0.1 is 0.30000000000000004


@pytest.mark.parametrize(
    ("kind", "touch"),
    [*((kind, Touch.MEDIUM) for kind in all_kinds()), (BASS, Touch.LIGHT), (BASS, Touch.FIRM)],
)
def test_every_place_of_every_kind_is_judged_by_its_own_bands(kind: str, touch: Touch) -> None:
    """Read often enough that nobody doubts it, in the middle and well outside."""
    plain = Bench(kind, touch=touch).start()
    for slot in all_slots(plain.spec):
        bands = plain.case().bands(slot)
        far = bands.usual.width / 2
        tries = {
            bands.target.middle: Word.GOOD,
            bands.usual.high + far: Word.TOO_HIGH,
            bands.usual.low - far: Word.TOO_LOW,
        }
        for value, word in tries.items():
            if value < 0.05 and slot.check in (Check.NUT, Check.RELIEF):
                continue  # a blade that finds nothing shows no number
            bench = Bench(plain.spec).start()
            for _ in range(3):
                bench.reading(slot.key, value)
            assert bench.state(slot.key).verdict.word is word, (slot.key, value)


@pytest.mark.parametrize(
    ("check", "low", "high"),
    [
        (Check.RELIEF, "too straight", "too much bow"),
        (Check.HEIGHT, "too low", "too high"),
        (Check.NUT, "too low", "too high"),
        (Check.INTONATION, "flat", "sharp"),
        (Check.PICKUPS, "too close", "too far"),
    ],
)
def test_each_check_says_low_and_high_its_own_way(check: Check, low: str, high: str) -> None:
    assert (said(check, Word.TOO_LOW), said(check, Word.TOO_HIGH)) == (low, high)
    assert said(check, Word.TOUCH_LOW) == f"a touch {low.removeprefix('too ')}"
    touch = {"too much bow": "bowed"}.get(high, high.removeprefix("too "))
    assert said(check, Word.TOUCH_HIGH) == f"a touch {touch}"
    for word in set(Word) - {Word.TOO_LOW, Word.TOO_HIGH, Word.TOUCH_LOW, Word.TOUCH_HIGH}:
        assert said(check, word) == word.value


def test_a_place_says_its_own_word() -> None:
    bench = Bench(BASS).up_to(Check.PLAYTEST)
    for key, value in (("relief", 0.9), ("intonation.4.12", -20.0), ("pickups.1.bass", 6.0)):
        for _ in range(2):
            bench.reading(key, value)
    states = [bench.state(key) for key in ("relief", "intonation.4.12", "pickups.1.bass")]
    assert [state.said for state in states] == ["too much bow", "flat", "too far"]
    assert bench.assess().checks[Check.PICKUPS].said == "too far"


def test_the_worst_word_of_several() -> None:
    assert set(NEEDIEST) == set(Word)
    assert worst([Word.GOOD, Word.TOUCH_LOW]) is Word.TOUCH_LOW
    assert worst([Word.TOO_HIGH, Word.EXPECTED]) is Word.TOO_HIGH
    assert worst([Word.TOO_HIGH, Word.MEASURE_AGAIN]) is Word.MEASURE_AGAIN
    assert worst([Word.TOUCH_HIGH, Word.NOT_MEASURED]) is Word.NOT_MEASURED
    assert worst([Word.GOOD, Word.CANNOT_TELL]) is Word.CANNOT_TELL
    assert worst([]) is Word.NOT_MEASURED


def test_low_high_and_off() -> None:
    low, high = {Word.TOUCH_LOW, Word.TOO_LOW}, {Word.TOUCH_HIGH, Word.TOO_HIGH}
    assert {word for word in Word if word.is_low} == low
    assert {word for word in Word if word.is_high} == high
    assert {word for word in Word if word.is_off} == low | high
    assert Verdict(Word.GOOD).settled and Verdict(Word.NOT_HERE).settled
    assert not Verdict(Word.EXPECTED).settled
    assert Word.CANNOT_TELL.slug == "cannot-tell-with-this-tool"
