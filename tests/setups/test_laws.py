"""Laws that hold for any journal."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, GUITAR, MORNING, POSTS, Bench, all_kinds, spec_of
from webapp.physics.numbers import Unit
from webapp.setups.assess import assess
from webapp.setups.journal import Entry, EntryKind, Journal, Part, Turn
from webapp.setups.slots import NoSuchSlot, Slot, all_slots, parse_slot
from webapp.setups.states import Act, Assessment, SlotState
from webapp.trade.words import Check, Side

LAW = settings(max_examples=30, deadline=None, database=None)
KINDS = (BASS, GUITAR, POSTS)


def a_value(bench: Bench, slot: Slot, draw: st.DataObject) -> float:
    """Mostly sensible, sometimes far out."""
    bands = bench.case().bands(slot)
    low, high = bands.usual.low - bands.usual.width / 2, bands.usual.high + bands.usual.width / 2
    near, far = st.floats(low, high), st.floats(-20, 80)
    return draw.draw(st.one_of(near, near, near, far))


def a_turn(bench: Bench, draw: st.DataObject) -> Turn:
    """Anything that this instrument has."""
    part = draw.draw(st.sampled_from([one for one in Part if one is not Part.SPRINGS]))
    string = draw.draw(st.sampled_from(bench.numbers))
    eighths = draw.draw(st.integers(-4, 4).filter(bool))
    if part is Part.PICKUP_HEIGHT:
        return Turn(part, eighths, pickup=draw.draw(st.integers(1, 2)), side=draw.draw(st.sampled_from(Side)))
    if part in (Part.ROD, Part.STRINGS):
        return Turn(part, eighths if part is Part.ROD else 0)
    if part is Part.SADDLE_HEIGHT and bench.spec.bridge.post_spacing_mm:
        return Turn(part, eighths, side=draw.draw(st.sampled_from(Side)))
    return Turn(part, eighths, string=string)


def a_journal(draw: st.DataObject, most: int = 14) -> Bench:
    """Readings, turns, things kept and things struck through, in any order."""
    bench = Bench(draw.draw(st.sampled_from(KINDS))).start()
    slots = all_slots(bench.spec)
    for _ in range(draw.draw(st.integers(0, most))):
        act = draw.draw(st.sampled_from(["read", "read", "read", "turn", "keep", "void", "correct"]))
        slot = draw.draw(st.sampled_from(slots))
        if act == "read":
            bench.reading(slot.key, a_value(bench, slot, draw))
        elif act == "turn":
            bench.log(a_turn(bench, draw))
        elif act == "keep":
            bench.keep(slot.key)
        else:
            live = bench.case().journal.live
            readings = [e for e in live if e.kind is EntryKind.READING]
            if act == "void" and live:
                bench.void(draw.draw(st.sampled_from(live)))
            elif act == "correct" and readings:
                old = draw.draw(st.sampled_from(readings))
                bench.correct(old, a_value(bench, parse_slot(old.slot, bench.spec), draw))
    return bench


def places(assessment: Assessment) -> dict[str, SlotState]:
    return {s.slot.key: s for check in assessment.checks.values() for s in check.slots}


@LAW
@given(draw=st.data())
def test_the_order_of_independent_readings_hardly_matters(draw: st.DataObject) -> None:
    """A reading is weighed against what was believed when it came, so a little of the order is left."""
    bench = Bench(draw.draw(st.sampled_from(KINDS))).start()
    fixed = list(bench.entries)
    lift, cents = draw.draw(st.floats(-0.4, 0.6)), draw.draw(st.floats(-8, 8))
    for slot in draw.draw(st.lists(st.sampled_from(all_slots(bench.spec)), unique=True, max_size=16)):
        usual, off = bench.case().bands(slot).usual, draw.draw(st.floats(-0.1, 0.1))
        if slot.check is Check.INTONATION:
            bench.reading(slot.key, cents * (2 if slot.high else 1) + 10 * off)
        else:
            bench.reading(slot.key, usual.middle + off + (lift if slot.check is Check.HEIGHT else 0))
    first = places(bench.assess())
    readings = draw.draw(st.permutations(bench.entries[len(fixed) :]))
    moved = [replace(r, id=len(fixed) + 1 + i, at=bench.entries[len(fixed) + i].at)
             for i, r in enumerate(readings)]  # fmt: skip
    bench.entries = [*fixed, *moved]
    for key, state in places(bench.assess()).items():
        before = first[key]
        assert abs(state.value - before.value) <= 0.6 * max(state.give, before.give), key
        assert state.measured == before.measured


@LAW
@given(draw=st.data())
def test_the_order_in_which_entries_are_handed_over_does_not_matter(draw: st.DataObject) -> None:
    bench = a_journal(draw)
    shuffled = draw.draw(st.permutations(bench.entries))
    assert bench.case(shuffled).journal == bench.case().journal
    here = assess(bench.spec, bench.trade, bench.entries, bench.now)
    there = assess(bench.spec, bench.trade, shuffled, bench.now)
    assert (there.next, there.repairer) == (here.next, here.repairer)
    for key, state in places(there).items():
        same = places(here)[key]
        assert (state.value, state.verdict, state.advice) == (same.value, same.verdict, same.advice)


@LAW
@given(draw=st.data())
def test_no_entry_is_ever_lost_by_a_correction(draw: st.DataObject) -> None:
    bench = a_journal(draw)
    journal = bench.case().journal
    assert list(journal.entries) == bench.entries
    struck = {e.voids for e in bench.entries if e.voids is not None}
    gone = {e.id for e in bench.entries} - {e.id for e in journal.live}
    assert gone == struck | {e.id for e in bench.entries if e.kind is EntryKind.VOID}
    for slot in all_slots(bench.spec):
        newest = journal.newest_reading(slot.key)
        assert newest is None or (newest in journal.live and newest.slot == slot.key)
        assert bench.assess().slot(slot.key).reading == newest


@LAW
@given(draw=st.data())
def test_a_further_turn_never_makes_a_reading_fresher(draw: st.DataObject) -> None:
    bench = a_journal(draw)
    before = bench.moved
    bench.log(a_turn(bench, draw))
    assert before <= bench.moved


@LAW
@given(draw=st.data())
def test_striking_a_turn_through_never_makes_a_reading_older(draw: st.DataObject) -> None:
    bench = a_journal(draw)
    turns = bench.case().journal.turns
    before = bench.moved
    if turns:
        bench.void(draw.draw(st.sampled_from(turns)))
    assert bench.moved <= before


@LAW
@given(draw=st.data())
def test_there_is_always_one_next_thing_and_it_is_the_first_that_waits(draw: st.DataObject) -> None:
    assessment = a_journal(draw).assess()
    waiting = [state.step for state in assessment.checks.values() if state.step is not None]
    assert waiting and assessment.next == waiting[0]
    for check, state in assessment.checks.items():
        assert all(step.check is check for step in [state.step] if step)
        assert state.done == (state.step is None)


@LAW
@given(draw=st.data())
def test_whatever_is_advised_leads_the_right_way(draw: st.DataObject) -> None:
    """What is said to be too low is expected higher after the turn, and what is too high lower."""
    for state in places(a_journal(draw).assess()).values():
        forecast = state.advice.forecast if state.advice else None
        if forecast is None or state.wants is not Act.DECIDE or not state.verdict.word.is_off:
            continue
        if state.slot.high:
            continue  # its forecast is said for the 12th
        assert (forecast.value > state.value) == state.verdict.word.is_low, state


@LAW
@given(draw=st.data())
def test_the_unit_changes_the_words_and_nothing_else(draw: st.DataObject) -> None:
    bench = a_journal(draw)
    metric = bench.assess()
    bench.unit = draw.draw(st.sampled_from(list(Unit)))
    other = bench.assess()
    assert (metric.next.act, metric.next.place) == (other.next.act, other.next.place)
    for check, state in metric.checks.items():
        assert other.checks[check].word is state.word
        for mine, theirs in zip(state.slots, other.checks[check].slots, strict=True):
            assert (mine.value, mine.verdict.word) == (theirs.value, theirs.verdict.word)
            assert (mine.advice and mine.advice.turn) == (theirs.advice and theirs.advice.turn)


@pytest.mark.parametrize("kind", all_kinds())
def test_slot_keys_read_back(kind: str) -> None:
    spec = spec_of(kind)
    slots = all_slots(spec)
    assert len({slot.key for slot in slots}) == len(slots)
    for slot in slots:
        assert parse_slot(slot.key, spec) == slot


@pytest.mark.parametrize(
    "key",
    ["", "height", "height.0", "height.5", "height.4.12", "nut.-1", "intonation.4", "intonation.4.19",
     "pickups.3.bass", "pickups.1.left", "Relief", "relief ", "relief.1", "height.04x", "start", "playtest"],
)  # fmt: skip
def test_a_place_the_instrument_has_not(key: str) -> None:
    with pytest.raises(NoSuchSlot):
        parse_slot(key, spec_of(BASS))


def test_a_journal_sorts_by_id_and_reads_a_void_of_nothing_as_nothing() -> None:
    reading = Entry(EntryKind.READING, Check.RELIEF, "relief", value=0.3, id=2, at=MORNING)
    stray = Entry(EntryKind.VOID, Check.RELIEF, "relief", voids=77, id=1, at=MORNING)
    journal = Journal.of([reading, stray])
    assert [e.id for e in journal.entries] == [1, 2]
    assert journal.live == (reading,)
    assert journal.stands_for(stray) == stray
