"""What content/practice.toml says is what is done: another number there, another answer here."""

from __future__ import annotations

import shutil
from copy import copy
from dataclasses import replace
from pathlib import Path

import pytest

from tests.setups.journals import BASS, GUITAR, Bench
from tests.setups.seasons_past import Past, drifts, yearly_air
from webapp.setups.advice.model import Advice
from webapp.setups.clearance_map import Room, clearance_map
from webapp.setups.how_low import how_low
from webapp.setups.intonation_split import split_of
from webapp.setups.journal import Part
from webapp.setups.setting import setting_of
from webapp.setups.touch import Swing
from webapp.setups.verdicts import Word
from webapp.trade.load import Trade, load_trade
from webapp.trade.words import Check

CONTENT = Path(__file__).parents[2] / "content"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(CONTENT, tmp_path / "content")
    return tmp_path / "content"


def changed(folder: Path, old: str, new: str, file: str = "practice.toml") -> Trade:
    """The trade with one number written differently."""
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")
    return load_trade(folder)


def both(bench: Bench, trade: Trade) -> tuple[Bench, Bench]:
    """The bench with the content that ships, and with the changed one."""
    other = copy(bench)
    other.trade = trade
    return bench, other


def advice_of(bench: Bench, key: str) -> Advice:
    advice = bench.state(key).advice
    assert advice is not None
    return advice


def eighths(bench: Bench, key: str) -> int:
    turn = advice_of(bench, key).turn
    assert turn is not None
    return turn.eighths


def test_how_far_a_saddle_is_turned_before_it_is_measured(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    bench.reading("height.4", 3.5)
    usual, finer = both(bench, changed(folder, "height_eighths = 4 ", "height_eighths = 2 "))
    assert advice_of(usual, "height.4").do[1].startswith("Go half a turn at a time.")
    assert advice_of(finer, "height.4").do[1].startswith("Go a quarter turn at a time.")


def test_how_far_a_string_comes_up_for_a_buzz(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT).read(Check.HEIGHT)
    bench.buzz(*((4, fret) for fret in (2, 3, 4, 5, 6)))
    usual, less = both(bench, changed(folder, "raise_for_buzz_mm = 0.2", "raise_for_buzz_mm = 0.1"))
    _, finer = both(bench, changed(folder, "height_eighths = 4 ", "height_eighths = 1 "))
    assert 0 < eighths(finer, "height.4") < eighths(less, "height.4") < eighths(usual, "height.4") == 4


def test_when_the_rod_has_had_enough(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    for turned in range(2):
        bench.reading("relief", 1.5 - turned * 0.1)
        bench.turn(Part.ROD, 2)
    bench.reading("relief", 1.3)
    usual, stopped = both(bench, changed(folder, "rod_in_all_eighths = 8", "rod_in_all_eighths = 4"))
    assert eighths(usual, "relief") == 2
    advice = advice_of(stopped, "relief")
    assert advice.turn is None and "had half a turn that way" in advice.repairer
    assert "half a turn of the rod within one setup" in how_low(stopped.case(), "medium").rod_words


def test_how_long_a_turn_of_the_rod_counts(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    for turned in range(4):
        bench.reading("relief", 1.5 - turned * 0.1)
        bench.turn(Part.ROD, 2)
    bench.wait(days=10)
    bench.reading("relief", 1.1)
    usual, shorter = both(bench, changed(folder, "rod_pass_days = 30 ", "rod_pass_days = 9 "))
    assert advice_of(usual, "relief").turn is None
    assert eighths(shorter, "relief") > 0


def test_which_inner_string_is_doubted(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    for string, height in ((4, 2.4), (1, 2.0), (3, 3.0)):
        bench.reading(f"height.{string}", height)
    usual, stricter = both(bench, changed(folder, "inner_height_mm = 1.2", "inner_height_mm = 0.5"))
    assert usual.state("height.3").verdict.word is not Word.MEASURE_AGAIN
    assert stricter.state("height.3").verdict.word is Word.MEASURE_AGAIN


def test_when_the_high_fret_contradicts_the_twelfth(folder: Path) -> None:
    bench = Bench(GUITAR).up_to(Check.INTONATION)
    bench.reading("intonation.6.12", 4)
    bench.reading("intonation.6.high", 15)
    usual, stricter = both(bench, changed(folder, "high_fret_cents = 10.0", "high_fret_cents = 5.0"))
    assert usual.state("intonation.6.high").verdict.word is not Word.MEASURE_AGAIN
    assert stricter.state("intonation.6.high").verdict.word is Word.MEASURE_AGAIN


def test_how_much_may_be_left_over(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.INTONATION)
    for role, fret, cents in (("12", 12, 0.0), ("19", 19, 0.0), ("5", 5, 0.0), ("7", 7, 3.0)):
        bench.read_fret(4, role, fret, cents)
    usual, stricter = both(bench, changed(folder, "left_over_cents = 3.0", "left_over_cents = 1.0"))
    found = [split_of(bench.case(), 4) for bench in (usual, stricter)]
    assert [split is not None and split.remainder.startswith("Left over: nothing") for split in found] == [
        True,
        False,
    ]


def test_when_the_seasons_have_enough_readings(folder: Path) -> None:
    past, air = Past(), yearly_air(400)
    for number in range(5, 400, 50):
        past.read(number, 0.3)
    case = past.case(399)
    assert drifts(case, air)[0].fit is not None
    trade = changed(folder, "least_readings = 6", "least_readings = 20")
    relief = drifts(replace(case, trade=trade), air)[0]
    assert relief.fit is None and "20" in relief.missing[0]


def test_what_is_close_on_the_map(folder: Path) -> None:
    trade = changed(folder, "close_times = 1.25", "close_times = 1.6", "swing.toml")
    setting = setting_of(Bench(BASS).case(), 4)
    few, many = (
        len(clearance_map(setting, Swing(0.9, 0.0, "typed"), times).of_room(Room.CLOSE))
        for times in (Bench(BASS).trade.swing.close_times, trade.swing.close_times)
    )
    assert 0 < few < many
