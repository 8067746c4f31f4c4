from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache

import pytest

from tests.setups.journals import the_trade
from tests.setups.seasons_past import drifts
from webapp.setups.air_log.daily import DailyAir
from webapp.setups.assess import assess
from webapp.setups.case import Case
from webapp.setups.invented.instrument import room_air
from webapp.setups.invented.story import Story, demo_air, tell
from webapp.setups.journal import DRIFT_PLACE, EntryKind, Journal, Part, quick_slots
from webapp.setups.seasons.drift import drift_of
from webapp.setups.seasons.due import due_of
from webapp.setups.slots import Slot, parse_slot, string_numbers
from webapp.setups.states import Act
from webapp.trade.words import Check

NOW = datetime(2025, 3, 4, 18, 30, tzinfo=UTC)
SUMMER = datetime(2025, 8, 20, 8, 0, tzinfo=UTC)
TOLD = the_trade().demo.instrument


@cache
def air_at(now: datetime) -> DailyAir:
    return demo_air(the_trade(), now)


@cache
def story(number: int, now: datetime = NOW) -> Story:
    return tell(the_trade(), TOLD[number], air_at(now), now)


def case_of(told: Story, now: datetime = NOW) -> Case:
    journals = tuple(Journal(one.entries) for one in told.setups)
    return Case(told.spec, the_trade(), journals[-1], now, past=journals[:-1])


EACH = pytest.mark.parametrize("number", range(len(TOLD)))


@EACH
def test_the_same_seed_tells_the_same_story(number: int) -> None:
    assert tell(the_trade(), TOLD[number], demo_air(the_trade(), NOW), NOW) == story(number)


def test_another_seed_tells_another() -> None:
    other = TOLD[0].model_copy(update={"seed": TOLD[0].seed + 1})
    assert tell(the_trade(), other, air_at(NOW), NOW) != story(0)


@EACH
def test_two_years_of_setups_and_quick_checks_in_order(number: int) -> None:
    told = story(number)
    starts = [one.started_at for one in told.setups]
    assert starts == sorted(starts) and timedelta(days=690) < NOW - starts[0] < timedelta(days=760)
    entries = [entry for one in told.setups for entry in one.entries]
    assert [entry.id for entry in entries] == list(range(1, len(entries) + 1))
    times = [entry.at for entry in entries]
    assert times == sorted(times) and times[-1] < NOW
    full = [one for one in told.setups if not one.quick]
    assert 4 <= len(full) <= 6
    gaps = [later - earlier for earlier, later in zip(starts, starts[1:], strict=False)]
    assert timedelta(days=12) < sorted(gaps)[len(gaps) // 2] < timedelta(days=25)


@EACH
def test_a_quick_check_is_kept_as_the_quick_page_keeps_it(number: int) -> None:
    told = story(number)
    wanted = [slot.key for slot in quick_slots(told.spec)]
    for one in told.setups:
        journal = Journal(one.entries)
        assert journal.is_quick == one.quick
        if one.quick:
            assert one.finished and not journal.turns
            assert [e.slot for e in one.entries if e.kind is EntryKind.READING] == wanted
            (drift,) = journal.observations(DRIFT_PLACE)
            assert set(drift.detail["cents"]) == {str(n) for n in string_numbers(told.spec)}


@EACH
def test_every_entry_carries_the_air_and_every_reading_its_tool(number: int) -> None:
    told = story(number)
    for entry in (entry for one in told.setups for entry in one.entries):
        assert 10 < entry.detail["temperature_c"] < 30 and 15 < entry.detail["humidity_percent"] < 90
        if entry.kind is EntryKind.READING:
            assert parse_slot(entry.slot, told.spec).check is entry.check
            assert entry.typed and entry.tool in the_trade().tools
            assert entry.value == float(entry.typed)


@EACH
@pytest.mark.parametrize("now", [NOW, SUMMER])
def test_a_finished_setup_is_one_that_could_be_finished(number: int, now: datetime) -> None:
    told = story(number, now)
    past: tuple[Journal, ...] = ()
    for one in told.setups:
        if not one.quick:
            step = assess(told.spec, the_trade(), one.entries, one.entries[-1].at, past=past).next
            assert (step.act is Act.FINISH) == one.finished, (one.started_at, step)
        past = (*past, Journal(one.entries))


@EACH
def test_the_owner_turns_only_what_the_advice_can_answer_for(number: int) -> None:
    told = story(number)
    turns = [e.turn for one in told.setups for e in one.entries if e.kind is EntryKind.ADJUSTMENT]
    assert any(turn.part is Part.ROD for turn in turns)
    most = the_trade().belief.enough.rod_at_once
    assert all(abs(turn.eighths) <= most for turn in turns if turn.part is Part.ROD)


@EACH
@pytest.mark.parametrize("now", [NOW, SUMMER])
def test_the_drift_that_was_planted_is_found_in_the_story(number: int, now: datetime) -> None:
    """One case in ten may lie outside the interval, none by much."""
    case = case_of(story(number, now), now)
    fit = drift_of(case, Slot(Check.RELIEF), air_at(now)).fit
    assert fit is not None and fit.slope.clear
    planted = TOLD[number].neck.mm_per_percent
    assert abs(fit.slope.value - planted) < 2 * fit.slope.half
    assert abs(fit.slope.value - planted) < 0.35 * abs(planted)


def test_every_chart_and_list_has_something_to_show() -> None:
    said = " ".join(
        sentence
        for number in range(len(TOLD))
        for drift in drifts(case_of(story(number)), air_at(NOW))
        for sentence in drift.sentences
    )
    for words in ("of moisture lost", "of moisture gained", "Last winter", "expect", "follows the air"):
        assert words in said
    due = [due for n in range(len(TOLD)) for due in due_of(case_of(story(n)))]
    assert any("settle" in one.why for one in due) and any("strings" in one.why for one in due)
    assert any(not one.finished for n in range(len(TOLD)) for one in story(n).setups)


def test_the_room_is_dry_in_winter_and_damp_in_summer() -> None:
    room = the_trade().demo.room
    air = room_air(room, NOW.date() - timedelta(days=800), NOW.date())
    assert len(air) == 801
    months = {m: [h for on, (_, h) in air.items() if on.month == m] for m in (2, 8)}
    winter, summer = (sum(values) / len(values) for values in months.values())
    assert abs(winter - room.driest_percent) < 4 and abs(summer - room.wettest_percent) < 4
    assert all(10 < t < 30 for t, _ in air.values())
