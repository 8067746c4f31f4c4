"""What is said at the end: what is right, what is not, and who does it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.setups.journals import ACOUSTIC, BASS, Bench
from webapp.setups.journal import Part
from webapp.setups.past.ending import Ending, Who, ending
from webapp.setups.slots import all_slots
from webapp.trade.words import Check


def finished(kind: str = BASS, skip: tuple[str, ...] = (), **values: float) -> Bench:
    """A bench at its end: every place read once, in the middle of its target or as told; nothing buzzes."""
    bench = Bench(kind)
    bench.observe("start", done=[], age="weeks", stoppers=[])
    for slot in all_slots(bench.spec):
        if slot.key not in skip:
            bench.reading(slot.key, values.get(slot.key.replace(".", "_")))
    bench.observe("height.buzz", taps=[], touch="medium")
    if bench.spec.pickups:
        bench.observe("pickups.ear", heard=[])
    bench.observe("playtest", symptoms=[], signed=True)
    return bench


def end_of(bench: Bench) -> Ending:
    return ending(bench.assess())


def left_of(found: Ending) -> list[tuple[str, Who]]:
    return [(one.what, one.who) for one in found.left]


def test_a_sound_setup_is_well_set_up() -> None:
    found = end_of(finished())
    assert found.is_right and found.done and not found.left
    assert found.sentence == "Everything is right. Well set up."
    assert [state.check for state in found.right] == [check for check in Check if check is not Check.START]


def test_what_was_not_done_is_the_players_and_named_once_a_check() -> None:
    bench = Bench()
    bench.observe("start", done=[], age="weeks", stoppers=[])
    bench.reading("relief")
    found = end_of(bench)
    assert not found.done and found.sentence.startswith("Not everything is done")
    assert [(one.check, one.who) for one in found.left] == [
        (check, Who.PLAYER)
        for check in (Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS, Check.PLAYTEST)
    ]


def test_what_the_player_likes_so_is_nobodys() -> None:
    bench = finished(height_4=3.9)
    bench.reading("height.4", 3.9)
    bench.keep("height.4")
    found = end_of(bench)
    assert left_of(found) == [("E string", Who.KEPT)]
    assert found.is_right and found.sentence == "Everything is as you want it."


def test_a_saddle_without_screws_is_a_repairers_for_every_string_that_is_off() -> None:
    off = {f"height_{n}": 3.9 for n in range(1, 7)}
    bench = finished(ACOUSTIC, **off)
    for number in range(1, 7):
        bench.reading(f"height.{number}", 3.9)
    found = end_of(bench)
    heights = [one for one in found.left if one.check is Check.HEIGHT]
    assert len(heights) == 6 and {one.who for one in heights} == {Who.REPAIRER}
    assert not found.is_right and "a repairer does the rest" in found.sentence
    assert found.repairer


def test_a_fault_at_the_play_test_is_not_right_though_it_is_signed_off() -> None:
    bench = finished()
    bench.observe("playtest", symptoms=["low_frets"], signed=True)
    found = end_of(bench)
    assert found.done and not found.is_right
    assert found.sentence.startswith("Not everything is right yet")
    assert [one.check for one in found.left] == [Check.PLAYTEST]


def test_a_buzz_that_was_marked_is_not_right_though_every_height_is() -> None:
    bench = finished()
    bench.observe("height.buzz", taps=[[1, 9]], touch="medium")
    found = end_of(bench)
    assert [(one.check, one.who) for one in found.left] == [(Check.HEIGHT, Who.REPAIRER)]
    assert Check.HEIGHT not in [state.check for state in found.right]


@pytest.mark.parametrize("hours", [1, 11])
def test_a_rod_that_was_not_read_since_it_settled_is_said(hours: int) -> None:
    bench = finished()
    bench.turn(Part.ROD, 1)
    for slot in all_slots(bench.spec):
        bench.reading(slot.key)
    bench.observe("height.buzz", taps=[], touch="medium")
    bench.observe("pickups.ear", heard=[])
    bench.observe("playtest", symptoms=[], signed=True)
    turned = bench.entries[-1].at - timedelta(minutes=len(all_slots(bench.spec)) + 3)
    bench.wait(hours=hours)
    found = end_of(bench)
    assert found.relief_at is not None and found.relief_at > turned
    assert "Well set up" not in found.sentence and "has still to settle" in found.sentence
