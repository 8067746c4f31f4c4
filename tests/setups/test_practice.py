"""What practice.toml and belief.toml say is what is done: another number there, another answer here."""

from __future__ import annotations

import shutil
from copy import copy
from dataclasses import replace
from pathlib import Path

import pytest

from tests.setups.journals import BASS, Bench
from tests.setups.seasons_past import Past, drifts, yearly_air
from webapp.setups.case import TouchSwing
from webapp.setups.journal import Part
from webapp.setups.states import Advice, Word
from webapp.setups.strings.string_setting import setting_of
from webapp.setups.tryout.clearance_map import Room, clearance_map
from webapp.setups.tryout.intonation_split import split_of
from webapp.trade.content import Trade, load_trade
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


def test_how_far_a_string_comes_up_for_a_buzz(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT).read(Check.HEIGHT)
    bench.buzz(*((4, fret) for fret in (2, 3, 4, 5, 6)))
    usual, less = both(bench, changed(folder, "raise_for_buzz_mm = 0.2", "raise_for_buzz_mm = 0.1"))
    assert 0 < eighths(less, "height.4") < eighths(usual, "height.4")


def test_how_often_a_string_comes_up_for_a_buzz(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT).read(Check.HEIGHT)
    for _ in range(2):
        bench.buzz((4, 2), (4, 3))
        bench.turn(Part.SADDLE_HEIGHT, 2, string=4)
    bench.buzz((4, 2), (4, 3))
    usual, more = both(bench, changed(folder, "raises = 2", "raises = 3", "belief.toml"))
    assert advice_of(usual, "height.4").turn is None
    assert eighths(more, "height.4") > 0


def test_when_the_rod_has_had_enough(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    for turned in range(2):
        bench.reading("relief", 1.1 - turned * 0.1)
        bench.turn(Part.ROD, 2)
    bench.reading("relief", 0.9)
    usual, stopped = both(bench, changed(folder, "rod_in_all = 8", "rod_in_all = 4", "belief.toml"))
    assert eighths(usual, "relief") == 2
    advice = advice_of(stopped, "relief")
    assert advice.turn is None and "half a turn in this pass" in advice.repairer


def test_how_far_the_rod_turns_at_once(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.RELIEF)
    bench.reading("relief", 0.9)
    usual, slower = both(bench, changed(folder, "rod_at_once = 2", "rod_at_once = 1", "belief.toml"))
    assert (eighths(usual, "relief"), eighths(slower, "relief")) == (2, 1)


def test_how_surely_a_told_thread_is_the_right_one(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT)
    for number in bench.numbers:
        bench.reading(f"height.{number}", 4.0)
    usual, doubtful = both(bench, changed(folder, "told = 0.85", "told = 0.40", "belief.toml"))
    assert len(usual.next.places) == 4
    assert len(doubtful.next.places) == 1  # one screw is tried first


def test_how_likely_a_slip_is(folder: Path) -> None:
    bench = Bench(BASS).up_to(Check.HEIGHT).read(Check.HEIGHT)
    bench.reading("height.3", 2.65)
    found = []
    for slip in ("0.0001", "0.3"):
        text = (folder / "belief.toml").read_text(encoding="utf-8")
        line = next(line for line in text.splitlines() if line.startswith("slip = "))
        trade = changed(folder, line, f"slip = {slip}", "belief.toml")
        found.append(both(bench, trade)[1].state("height.3").verdict.word is Word.MEASURE_AGAIN)
        shutil.copy(CONTENT / "belief.toml", folder / "belief.toml")
    assert found == [False, True]


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
        len(clearance_map(setting, TouchSwing(0.9, 0.0, "typed"), times).of_room(Room.CLOSE))
        for times in (Bench(BASS).trade.swing.close_times, trade.swing.close_times)
    )
    assert 0 < few < many
