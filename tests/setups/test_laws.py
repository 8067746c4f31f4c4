"""Laws that hold for any journal."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, GUITAR, MORNING, POSTS, Bench, all_kinds, spec_of
from webapp.physics.lengths import Unit
from webapp.setups.advice.saddle import expected_inner
from webapp.setups.assess import assess
from webapp.setups.journal import Entry, EntryKind, Journal, Part, Turn
from webapp.setups.slots import NoSuchSlot, Slot, all_slots, parse_slot
from webapp.setups.states import Assessment, SlotState
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
    part = draw.draw(st.sampled_from(list(Part)))
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


def gist(assessment: Assessment) -> dict[str, Any]:
    """An assessment without the ids and times of its entries."""

    def of(state: SlotState) -> tuple[Any, ...]:
        value = state.reading.value if state.reading else None
        return (value, state.verdict, state.standard, state.error, state.expected, state.open, state.advice)

    slots = {s.slot.key: of(s) for check in assessment.checks.values() for s in check.slots}
    words = {check: (state.word, state.notes) for check, state in assessment.checks.items()}
    return {"slots": slots, "words": words, "next": assessment.next, "repairer": assessment.repairer}


@LAW
@given(draw=st.data())
def test_the_order_of_independent_readings_does_not_matter(draw: st.DataObject) -> None:
    bench = Bench(draw.draw(st.sampled_from(KINDS))).start()
    if draw.draw(st.booleans()):
        bench.log(a_turn(bench, draw))
    fixed = list(bench.entries)
    slots = draw.draw(st.lists(st.sampled_from(all_slots(bench.spec)), unique=True, max_size=16))
    for slot in slots:
        bench.reading(slot.key, a_value(bench, slot, draw))
    first = gist(bench.assess())
    readings = draw.draw(st.permutations(bench.entries[len(fixed) :]))
    moved = [replace(r, id=len(fixed) + 1 + i, at=bench.entries[len(fixed) + i].at)
             for i, r in enumerate(readings)]  # fmt: skip
    bench.entries = [*fixed, *moved]
    assert gist(bench.assess()) == first


@LAW
@given(draw=st.data())
def test_the_order_in_which_entries_are_handed_over_does_not_matter(draw: st.DataObject) -> None:
    bench = a_journal(draw)
    shuffled = draw.draw(st.permutations(bench.entries))
    assert bench.case(shuffled).journal == bench.case().journal
    here = assess(bench.spec, bench.trade, bench.entries, bench.now)
    assert assess(bench.spec, bench.trade, shuffled, bench.now) == here


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
    before = bench.outdated
    bench.log(a_turn(bench, draw))
    assert before <= bench.outdated


@LAW
@given(draw=st.data())
def test_striking_a_turn_through_never_makes_a_reading_older(draw: st.DataObject) -> None:
    bench = a_journal(draw)
    turns = bench.case().journal.turns
    before = bench.outdated
    if turns:
        bench.void(draw.draw(st.sampled_from(turns)))
    assert bench.outdated <= before


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
    """Too much relief is tightened away, a low string is raised, a far pickup comes up."""
    for check in a_journal(draw).assess().checks.values():
        for state in check.slots:
            if state.advice is None or state.advice.turn is None or state.slot.check is Check.INTONATION:
                continue
            assert state.measured
            up = state.advice.turn.eighths > 0
            wants_up = state.verdict.word.is_low == (state.slot.check is Check.HEIGHT)
            assert up == wants_up, state


@LAW
@given(
    kind=st.sampled_from(all_kinds()),
    bass=st.floats(0.5, 6),
    treble=st.floats(0.5, 6),
    fan=st.sampled_from([0.0, -25.4]),
)
def test_an_inner_string_lies_between_the_outer_ones(
    kind: str, bass: float, treble: float, fan: float
) -> None:
    spec = spec_of(kind)
    spec = spec_of(kind, scale_treble_mm=spec.scale_treble_mm + fan)
    case = Bench(spec).case()
    count = len(spec.strings)
    expected = [
        expected_inner(case, Slot(Check.HEIGHT, string=n), (bass, treble)) for n in range(count, 0, -1)
    ]
    assert expected[0] == pytest.approx(bass) and expected[-1] == pytest.approx(treble)
    steps = [b - a for a, b in zip(expected, expected[1:], strict=False)]
    assert all(step * (treble - bass) >= 0 for step in steps)
    if fan == 0:
        assert steps == pytest.approx([(treble - bass) / (count - 1)] * (count - 1), abs=1e-9)


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
            assert (mine.standard, mine.verdict.word) == (theirs.standard, theirs.verdict.word)
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
    reading = Entry(2, MORNING, EntryKind.READING, Check.RELIEF, "relief", value=0.3)
    stray = Entry(1, MORNING, EntryKind.VOID, Check.RELIEF, "relief", voids=77)
    journal = Journal.of([reading, stray])
    assert [e.id for e in journal.entries] == [1, 2]
    assert journal.live == (reading,)
    assert journal.stands_for(stray) == stray
