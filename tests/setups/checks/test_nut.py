"""Nut: the gap of every open string over the first fret, and what of it is a repairer's work."""

from __future__ import annotations

import pytest

from tests.setups.journals import BASS, GUITAR, Bench
from webapp.setups.checks import READ_CHECKS
from webapp.setups.slots import Slot, slots_of
from webapp.setups.states import Act, Word
from webapp.trade.words import Check

NUT = READ_CHECKS[Check.NUT]


@pytest.mark.parametrize(
    ("gap_mm", "buzzes", "told"),
    [
        (0.35, False, ""),
        (0.05, False, ""),
        (0.20, False, ""),
        (0.05, True, "nut slot low"),
        (0.30, True, "nut slot low"),
        (0.60, False, ""),
        (0.90, False, "nut slot high"),
        (0.90, True, "nut slot high"),
        (0.45, True, ""),
    ],
)
def test_nut_slots_are_for_a_repairer(gap_mm: float, buzzes: bool, told: str) -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT).read(Check.HEIGHT)
    bench.buzz(*([(2, 0)] if buzzes else []))
    for _ in range(2):
        bench.reading("nut.2", gap_mm)
    advice = bench.state("nut.2").advice
    assert advice is not None and advice.turn is None and advice.do == ()
    assert (told in advice.repairer) if told else advice.repairer == ""
    if told:
        assert f"about {bench.state('nut.2').value:.2f} mm" in advice.repairer
        assert advice.repairer.startswith("D string")


def test_a_low_slot_is_left_where_the_open_string_does_not_rattle() -> None:
    bench = Bench(BASS).up_to(Check.NUT)
    for number in bench.numbers:
        for _ in range(2):
            bench.reading(f"nut.{number}", 0.10)
    for number in bench.numbers:
        state = bench.state(f"nut.{number}")
        assert state.verdict.word.is_low and state.wants is not Act.DECIDE
        assert state.advice is not None and "leave it" in state.advice.means
    assert bench.assess().repairer == ()


@pytest.mark.parametrize("kind", [BASS, GUITAR])
@pytest.mark.parametrize(("answer", "word"), [("one", Word.GOOD), ("more", Word.TOO_HIGH)])
def test_a_card_at_the_nut(kind: str, answer: str, word: Word) -> None:
    bench = Bench(kind).up_to(Check.NUT)
    key = f"nut.{bench.spec.string_count}"
    bench.said(key, "card", answer)
    bench.said(key, "card", answer)
    assert bench.state(key).verdict.word is word


def test_what_goes_to_a_repairer_does_not_hold_the_setup_up() -> None:
    bench = Bench(BASS).up_to(Check.NUT)
    for _ in range(2):
        for number, value in ((4, 0.95), (3, 0.35), (2, 0.35), (1, 0.3)):
            bench.reading(f"nut.{number}", value)
    assert bench.next.check is Check.INTONATION
    [item] = bench.assess().repairer
    assert item.check is Check.NUT
    assert "E string" in item.text and "0.50 mm" in item.text


def test_the_hands_press_nothing() -> None:
    case = Bench(BASS).case()
    slot = Slot(Check.NUT, string=4)
    one = NUT.lines(case, slot, "card", {})
    together = NUT.lines_together(case, slots_of(case.spec, Check.NUT), "card", {})
    for lines in (one, together):
        assert "press nothing" in lines[0] and "How many fit" in lines[1]
    assert "top of fret 1" in NUT.lines(case, slot, "feeler", {})[1]
    assert NUT.heading(case, slot) == "E string at the nut"
