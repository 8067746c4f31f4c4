"""Where the relief goes with the strings' pull, and what a neck's own readings say of how far."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from tests.setups.journals import Bench
from webapp.physics.strings import LoadChange
from webapp.setups.case import Case
from webapp.setups.journal import Journal, Part
from webapp.setups.strings.relief_pull import LOAD_AFTER, LOAD_BEFORE, pull_pairs, relief_forecast

MORE = LoadChange(800, 900)


def restrung(bench: Bench, before_n: float, after_n: float) -> None:
    """Other strings, with the pull before and after written down."""
    entry = bench.turn(Part.STRINGS)
    loads = {LOAD_BEFORE: before_n, LOAD_AFTER: after_n}
    bench.entries[-1] = replace(entry, detail={**entry.detail, **loads})


def read(bench: Bench, *reliefs: float) -> None:
    for relief in reliefs:
        bench.reading("relief", relief, step=0.01)


def after_changes(*changes: tuple[float, float, float]) -> Bench:
    """Relief 0.30, then each time other strings of a known pull and relief read anew."""
    bench = Bench()
    read(bench, 0.30)
    for before, after, relief in changes:
        restrung(bench, before, after)
        read(bench, relief)
    return bench


def moved(case: Case) -> list[tuple[float, float]]:
    return [(newton, mm) for newton, mm, _ in pull_pairs(case)]


def near(pairs: Iterable[tuple[float, float]]) -> list[object]:
    return [pytest.approx(pair, abs=1e-9) for pair in pairs]


def test_a_pair_around_a_change_of_known_pull() -> None:
    assert moved(after_changes((800, 900, 0.38)).case()) == near([(100, 0.08)])


def test_two_changes_add_up_and_the_first_reading_after_them_counts() -> None:
    bench = Bench()
    read(bench, 0.25, 0.30)
    restrung(bench, 800, 850)
    restrung(bench, 850, 900)
    read(bench, 0.36, 0.33)
    assert moved(bench.case()) == near([(100, 0.06)])


def test_readings_of_another_way_are_converted() -> None:
    bench = Bench()
    read(bench, 0.30)
    restrung(bench, 800, 900)
    # Design: the same neck reads 0.30 the usual way and about 0.53 pressed at 20, gap at 8.
    bench.reading("relief", 0.53, step=0.01, hold=1, press=20, gap=8)
    [(_, mm)] = moved(bench.case())
    assert mm == pytest.approx(0, abs=0.01)


@pytest.mark.parametrize(
    "spoilt", ["rod", "unnamed", "season", "nothing before", "nothing after", "open end"]
)
def test_what_proves_nothing(spoilt: str) -> None:
    bench = Bench()
    if spoilt != "nothing before":
        read(bench, 0.30)
    restrung(bench, 800, 900)
    if spoilt == "rod":
        bench.turn(Part.ROD, 1)
    if spoilt == "unnamed":
        bench.turn(Part.STRINGS)
    if spoilt == "season":
        bench.wait(days=60)
    if spoilt == "open end":
        bench.reading("relief", 0.45, low=0.30, high=None)
    elif spoilt != "nothing after":
        read(bench, 0.38)
    assert moved(bench.case()) == []


def test_what_was_struck_through_does_not_count() -> None:
    bench = Bench()
    read(bench, 0.30)
    restrung(bench, 800, 900)
    slip = bench.reading("relief", 3.8, step=0.01)
    bench.correct(slip, 0.38)
    assert moved(bench.case()) == near([(100, 0.08)])


def test_earlier_setups_teach_too() -> None:
    earlier, now = Bench(), Bench()
    read(earlier, 0.30)
    restrung(now, 800, 900)
    read(now, 0.38)
    case = now.case()
    assert moved(case) == []
    assert len(moved(replace(case, past=(Journal.of(earlier.entries),)))) == 1


def test_only_the_direction_until_the_neck_has_shown_more() -> None:
    found = relief_forecast(Bench().case(), MORE)
    assert found.words.startswith("More pull: more relief.")
    assert "not shown yet" in found.words and found.amount == ""
    assert relief_forecast(Bench().case(), LoadChange(900, 800)).words.startswith("Less pull: less relief.")


def test_the_same_pull_moves_nothing() -> None:
    found = relief_forecast(after_changes((800, 900, 0.38)).case(), LoadChange(800, 806))
    assert "stays about the same" in found.words and found.amount == ""


def test_by_how_much_by_least_squares_over_its_own_readings() -> None:
    """0.09 for 100 N and -0.10 for -200 N: (100 * 0.09 + 200 * 0.10) / (100**2 + 200**2) for one N."""
    case = after_changes((800, 900, 0.39), (900, 700, 0.29)).case()
    found = relief_forecast(case, LoadChange(700, 900))
    assert found.words == "More pull: more relief."
    assert found.amount.startswith("0.12 mm more, give or take 0.")
    assert "2 changes of strings" in found.rests_on
    assert relief_forecast(case, LoadChange(900, 700)).amount.startswith("0.12 mm less")


def test_readings_within_their_own_error_show_nothing() -> None:
    found = relief_forecast(after_changes((800, 900, 0.31)).case(), MORE)
    assert "do not show clearly" in found.words and found.amount == ""


def test_readings_that_disagree_make_it_less_sure() -> None:
    def unsure(second: float) -> float:
        case = after_changes((800, 900, 0.50), (900, 800, second)).case()
        return float(relief_forecast(case, MORE).amount.split("give or take ")[1].split()[0])

    assert unsure(0.40) > 1.5 * unsure(0.30)


def test_a_coarser_gauge_makes_it_less_sure() -> None:
    def unsure(step: float) -> float:
        bench = Bench()
        for before, after, relief in ((0, 0, 0.30), (800, 900, 0.50)):
            if before:
                restrung(bench, before, after)
            bench.reading("relief", relief, step=step)
        return float(relief_forecast(bench.case(), MORE).amount.split("give or take ")[1].split()[0])

    assert unsure(0.1) > unsure(0.01)
