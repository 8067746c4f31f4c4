"""The second setup of an instrument: it begins from what is believed, and asks for what is unsure again."""

from __future__ import annotations

import pytest

from tests.setups.journals import ACOUSTIC, BASS, CLASSICAL, GUITAR, Bench
from tests.setups.obeying import obey
from webapp.setups.journal import Part, Turn
from webapp.setups.slots import RELIEF, all_slots
from webapp.setups.states import Act
from webapp.trade.words import Check

KINDS = (BASS, GUITAR, ACOUSTIC, CLASSICAL)


def no_turn(turn: Turn) -> None:
    raise AssertionError(f"{turn} on an instrument that reads as well as it can")


def walk(bench: Bench, moved: dict[str, float] | None = None) -> list[str]:
    """The places that a setup has read; each reads mid-target, or what it has `moved` to."""
    asked: list[str] = []

    def read(key: str) -> None:
        asked.append(key)
        bench.reading(key, (moved or {}).get(key))

    assert obey(bench, read, no_turn)[-1].act is Act.FINISH
    return asked


@pytest.fixture(params=KINDS)
def done(request: pytest.FixtureRequest) -> Bench:
    """A whole setup in which everything read well, and then once more."""
    bench = Bench(request.param)
    assert set(walk(bench)) == {slot.key for slot in all_slots(bench.spec)}
    return bench.read(*(check for check in Check if any(s.check is check for s in all_slots(bench.spec))))


def test_a_setup_on_the_same_afternoon_reads_nothing_again(done: Bench) -> None:
    assert walk(done.another(minutes=30)) == []


def test_a_season_later_less_than_half_is_read(done: Bench) -> None:
    asked = walk(done.another(days=90))
    assert RELIEF.key in asked and len(asked) <= len(all_slots(done.spec)) // 2
    assert len(set(asked)) == len(asked)


def test_what_is_left_out_was_settled_before_anything_was_read(done: Bench) -> None:
    later = done.another(days=90).start()
    settled = later.trade.belief.enough.settled
    stands = later.assess()
    sure = {slot.key for slot in all_slots(later.spec) if stands.slot(slot.key).usual >= settled}
    asked = set(walk(later))
    assert asked.isdisjoint(sure) and asked | sure == {slot.key for slot in all_slots(later.spec)}


def test_whatever_was_never_read_is_read_then() -> None:
    first = Bench(GUITAR).start().read(Check.NUT, Check.PICKUPS)
    asked = walk(first.another(days=90))
    assert {RELIEF.key, "height.6", "height.1"} <= set(asked)


def test_a_neck_that_has_moved_leads_to_its_own_turn() -> None:
    later = Bench(BASS).up_to(Check.PLAYTEST).another(days=90).start()
    later.reading(RELIEF.key, 0.75)
    assert later.state(RELIEF.key).wants is Act.MEASURE  # so far in a season: once more, to be sure
    later.reading(RELIEF.key, 0.75)
    step = later.next
    assert (step.act, step.place) == (Act.DECIDE, RELIEF.key)
    advice = later.state(RELIEF.key).advice
    assert advice is not None and advice.turn is not None and advice.turn.part is Part.ROD
