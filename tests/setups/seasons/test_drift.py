from __future__ import annotations

from dataclasses import replace

import pytest

from tests.setups.seasons_past import LAG, Past, day, drifts, regular, wood_behind, yearly_air
from webapp.physics.numbers import Unit
from webapp.physics.wood import moisture_content
from webapp.setups.air_log.daily import conditions
from webapp.setups.journal import EntryKind, Journal, Part
from webapp.setups.say import Say
from webapp.setups.seasons.data import drift_data, over_time
from webapp.setups.seasons.drift import Drift, by_the_air, drift_of
from webapp.setups.slots import Slot
from webapp.trade.words import Check

RELIEF = Slot(Check.RELIEF)
AIR = yearly_air(740)
SLOPE = -0.045
EVERY = range(3, 720, 18)


def drift(past: Past, now: float = 725.0, air: object = AIR, slot: Slot = RELIEF) -> Drift:
    assert isinstance(air, dict)
    return drift_of(past.case(now), slot, air)


def test_the_necks_own_movement_is_found_and_said() -> None:
    found = drift(regular(AIR, SLOPE, EVERY))
    assert found.missing == () and found.fit is not None
    assert found.fit.slope.low < SLOPE < found.fit.slope.high
    assert found.fit.slope.value == pytest.approx(SLOPE, abs=0.003)
    text = "\n".join(found.sentences)
    assert "mm more relief for each percent of moisture lost, give or take" in text
    assert "Last winter, from September to March, it gained 0." in text
    assert "At 35 % humidity and 21 °C, once the wood has settled, expect 0." in text
    assert f"From {len(EVERY)} readings over 23 months" in text


def test_what_it_says_is_what_was_planted() -> None:
    found = drift(regular(AIR, SLOPE, EVERY))
    at_35 = 0.7 + SLOPE * moisture_content(21.0, 35.0)
    assert found.expected[0].value.value == pytest.approx(at_35, abs=0.01)
    assert found.expected[0].value.low < at_35 < found.expected[0].value.high
    assert found.season is not None
    wood = [wood_behind(AIR, (on - day(0).date()).days) for on in (found.season.end, found.season.start)]
    assert found.season.change.value == pytest.approx(SLOPE * (wood[0] - wood[1]), abs=0.01)
    assert found.now is not None
    assert found.now.value == pytest.approx(0.7 + SLOPE * wood_behind(AIR, 725), abs=0.01)
    assert found.wood_now_percent == pytest.approx(wood_behind(AIR, 725), abs=0.01)


def test_the_coming_half_year_goes_on_from_now_as_the_last_one_did() -> None:
    found = drift(regular(AIR, SLOPE, EVERY))
    assert found.now is not None and len(found.ahead) == 14
    assert found.ahead[0].at == day(725) and found.ahead[-1].at == day(725 + 182)
    assert found.ahead[0].value.value == pytest.approx(found.now.value, abs=0.01)
    for one in found.ahead:
        planted = 0.7 + SLOPE * wood_behind(AIR, (one.at - day(0)).days - 365)
        assert one.value.value == pytest.approx(planted, abs=0.015)
        assert one.value.low < planted < one.value.high


def test_nothing_is_foretold_beyond_the_air_of_a_year_ago() -> None:
    young = drift(regular(AIR, SLOPE, range(3, 300, 12)), now=305.0)
    assert young.now is not None and young.ahead == ()


def test_a_neck_that_moves_the_other_way_is_said_to_gain_with_moisture() -> None:
    found = drift(regular(AIR, 0.04, EVERY, base=0.0))
    assert "more relief for each percent of moisture gained" in found.sentences[1]
    assert "it lost 0." in found.sentences[0]


def test_sentences_use_the_players_unit() -> None:
    thou = drift(regular(AIR, SLOPE, EVERY, unit=Unit.thou)).sentences
    assert thou[1].startswith("About 1.8 thou more relief") and "mm" not in " ".join(thou)
    sixty_fourths = drift(regular(AIR, SLOPE, EVERY, unit=Unit.sixty_fourths)).sentences
    assert sixty_fourths[1].startswith("About 1.8 thou more relief")


def test_the_players_own_turns_are_taken_out() -> None:
    """As measured it jumps; by itself it goes on as if nobody had touched it."""
    past, turned = Past(), 0.0
    for number in EVERY:
        past.read(number, 0.7 + SLOPE * wood_behind(AIR, number) + turned)
        if number in (EVERY[12], EVERY[27]):
            past.turn(number + 0.01, Part.ROD, 2)
            turned -= 0.12
            past.read(number + 0.02, 0.7 + SLOPE * wood_behind(AIR, number) + turned)
    found = drift(past)
    assert found.fit is not None
    assert found.fit.slope.value == pytest.approx(SLOPE, abs=0.003)
    assert [mark.words for mark in found.marks] == [("Rod: tightened a quarter turn",)] * 2
    for point in found.points:
        number = (point.at - day(0)).total_seconds() / 86400
        by_itself = 0.7 + SLOPE * wood_behind(AIR, number)
        assert point.by_itself_mm == pytest.approx(by_itself, abs=0.03)
    assert found.points[-1].by_itself_mm == pytest.approx(found.points[-1].measured_mm + 0.24, abs=0.03)
    assert found.now is not None
    assert found.now.value == pytest.approx(0.7 + SLOPE * wood_behind(AIR, 725) - 0.24, abs=0.02)


def test_a_turn_that_was_never_read_around_is_still_taken_out() -> None:
    past = Past()
    for number in EVERY:
        past.read(number, 0.7 + SLOPE * wood_behind(AIR, number) - (0.15 if number > 360 else 0.0))
    past.turn(360 + 3.5, Part.ROD, 2)
    found = drift(past)
    assert found.fit is not None
    before, after = found.points[0], found.points[-1]
    assert before.by_itself_mm == pytest.approx(before.measured_mm)
    assert after.by_itself_mm == pytest.approx(after.measured_mm + 0.15, abs=0.03)
    assert found.fit.slope.value == pytest.approx(SLOPE, abs=0.005)


def test_a_turn_that_was_not_read_makes_what_is_foretold_less_sure() -> None:
    past = regular(AIR, SLOPE, EVERY)
    before = drift(past).now
    past.turn(722, Part.ROD, 2)
    after = drift(past).now
    assert before is not None and after is not None
    assert after.value < before.value - 0.05 and after.half > 2 * before.half


def test_after_work_that_counts_no_turns_nothing_is_foretold() -> None:
    past = regular(AIR, SLOPE, EVERY)
    past.turn(722, Part.ROD, 0)
    found = drift(past)
    assert found.fit is not None and found.expected == () and found.now is None
    assert "expect" not in " ".join(found.sentences)


# readings and steps


def test_turns_of_one_sitting_are_one_step_and_readings_between_them_are_left_out() -> None:
    past = Past()
    past.read(10, 0.6)
    past.turn(10.01, Part.ROD, 1)
    past.read(10.02, 0.55)
    past.turn(10.03, Part.ROD, 2)
    past.read(10.04, 0.42)
    past.read(11.0, 0.41)  # read again when it has settled
    past.read(30, 0.4)
    found = over_time(past.case(40), RELIEF)
    assert [read.standard.value for read in found.readings] == [0.6, 0.42, 0.41, 0.4]
    assert [read.steps_before for read in found.readings] == [0, 1, 1, 1]
    (step,) = found.steps
    assert [turn.eighths for _, turn in step.turns] == [1, 2] and step.at == day(10.01)
    assert step.words == ("Rod: tightened an eighth of a turn", "Rod: tightened a quarter turn")


def test_a_rod_still_settles_in_the_first_hours_after_its_turn() -> None:
    past = Past()
    past.read(10, 0.6)
    past.turn(10.01, Part.ROD, 4)
    past.read(10.02, 0.45)
    past.read(13, 0.4)
    case = past.case(40)
    data = drift_data(case, over_time(case, RELIEF))
    rod, screw = data.moved[:, 0], data.moved[:, 1]
    assert rod[0] == 0
    assert rod[1] == pytest.approx(-4 * 0.8, abs=0.1) and rod[2] == pytest.approx(-4, abs=0.01)
    assert not screw.any() and data.moved[:, 2].tolist() == [0, 1, 1]


def test_only_what_moves_a_place_counts_as_its_step() -> None:
    past = Past()
    past.turn(1, Part.PICKUP_HEIGHT, 1)
    past.turn(5, Part.SADDLE_HEIGHT, 2, string=4)
    past.turn(10, Part.SADDLE_HEIGHT, 2, string=1)
    past.turn(15, Part.NUT, string=4)
    past.turn(20, Part.STRINGS)
    past.turn(25, Part.ROD, 1)
    case = past.case(40)
    steps = {
        key: [step.at for step in over_time(case, slot).steps]
        for key, slot in {"relief": RELIEF, "4": Slot(Check.HEIGHT, string=4)}.items()
    }
    assert steps == {"relief": [day(20), day(25)], "4": [day(5), day(15), day(20), day(25)]}


def test_a_struck_reading_is_gone_and_a_corrected_one_stands_in_its_place() -> None:
    past = Past()
    wrong = past.read(10, 3.0)
    past.read(10.5, 0.3, voids=wrong.id)
    struck = past.read(10.6, 9.0)
    past.write(10.7, EntryKind.VOID, Check.RELIEF, "relief", voids=struck.id)
    (read,) = over_time(past.case(40), RELIEF).readings
    assert (read.standard.value, read.at) == (0.3, day(10))


def test_other_ways_of_reading_are_said_the_standard_way() -> None:
    past = Past()
    past.read(10, 0.53, detail={"hold": 1, "press": 20, "gap": 8})
    past.read(10, 2.5, "height.4", detail={"hold": 1, "gap": 20})
    case = past.case(40)
    (relief,) = over_time(case, RELIEF).readings
    assert relief.standard.value == pytest.approx(0.30, abs=0.01)
    assert relief.seen.sigma == pytest.approx(0.015 * relief.standard.value / 0.53)
    (height,) = over_time(case, Slot(Check.HEIGHT, string=4)).readings
    assert height.standard.value is not None and height.standard.value < 2.2


def test_journals_joined_or_apart_say_the_same() -> None:
    past = regular(AIR, SLOPE, EVERY)
    case = past.case(725)
    joined = replace(case, journal=Journal.of(e for j in case.journals for e in j.entries), past=())
    assert drift_of(joined, RELIEF, AIR).sentences == drift_of(case, RELIEF, AIR).sentences


# heights


def test_the_action_of_both_outer_strings_drifts_too() -> None:
    past = regular(AIR, SLOPE, EVERY)
    for number in EVERY:
        wood = wood_behind(AIR, number)
        past.read(number + 0.01, 3.5 - 0.12 * wood, "height.4")
        past.read(number + 0.01, 3.0 - 0.12 * wood, "height.1")
    relief, bass, treble = drifts(past.case(725), AIR)
    assert [d.slot.key for d in (relief, bass, treble)] == ["relief", "height.4", "height.1"]
    for found in (bass, treble):
        assert found.fit is not None and found.fit.slope.value == pytest.approx(-0.12, abs=0.006)
    assert "more height for each percent of moisture lost" in bass.sentences[1]
    assert "of the E string at fret 12, held at 1" in bass.sentences[-1]


def test_other_places_do_not_drift() -> None:
    with pytest.raises(ValueError, match="drift"):
        drift(Past(), slot=Slot(Check.NUT, string=1))


# the air


def test_notes_beside_readings_stand_in_for_a_logger() -> None:
    past = Past()
    for number in EVERY:
        temperature, humidity = AIR[day(number).date()]
        noted = {"temperature_c": temperature, "humidity_percent": humidity}
        past.read(number, 0.7 + SLOPE * wood_behind(AIR, number), detail=noted)
    found = drift(past, air={})
    assert found.fit is not None
    assert found.fit.slope.value == pytest.approx(SLOPE, abs=0.006)
    assert len(found.air) == len(EVERY)


def test_a_loggers_day_counts_before_a_note_and_impossible_air_is_left_out() -> None:
    past = Past()
    past.read(1, 0.3, detail={"humidity_percent": 70.0, "temperature_c": 10.0})
    past.read(2, 0.3, detail={"humidity_percent": 40.0})
    past.read(2.1, 0.3, detail={"humidity_percent": 50.0, "temperature_c": 24.0})
    past.read(3, 0.3, detail={"humidity_percent": 140.0})
    past.read(4, 0.3, detail={"temperature_c": 20.0})
    logged = {day(1).date(): (21.0, 45.0), day(6).date(): (21.0, -4.0)}
    found = conditions(past.journals(), logged)
    assert [(one.day, one.temperature_c, one.humidity_percent, one.logged) for one in found] == [
        (day(1).date(), 21.0, 45.0, True),
        (day(2).date(), 22.0, 45.0, False),
    ]


def test_humidity_and_wood_stand_on_the_same_time_axis() -> None:
    found = drift(regular(AIR, SLOPE, EVERY))
    assert len(found.air) == len(AIR)
    assert [point.at.hour for point in found.air[:3]] == [12, 12, 12]
    assert found.fit is not None and LAG / 2 < found.fit.lag.value < LAG * 2
    middle = found.air[400]
    assert middle.humidity_percent == AIR[middle.at.date()][1]
    assert middle.wood_percent == pytest.approx(wood_behind(AIR, 400), abs=0.4)


# what is missing


def test_too_few_readings_are_counted() -> None:
    assert drift(Past(), air={}).missing == (
        "There is no reading so far. It takes at least 6, over 60 days or more.",
    )
    found = drift(regular(AIR, SLOPE, range(0, 500, 100)), now=500)
    assert found.missing == ("There are 5 readings so far. It takes at least 6, over 60 days or more.",)
    assert found.fit is None and found.sentences == () and len(found.points) == 5


def test_a_short_spell_is_said_to_be_short() -> None:
    found = drift(regular(AIR, SLOPE, range(100, 140, 5)), now=140)
    assert found.missing == ("These readings span 35 days. It takes 60 days or more to see the air at work.",)


def test_readings_without_air_ask_for_air() -> None:
    found = drift(regular(AIR, SLOPE, EVERY), air={})
    assert len(found.missing) == 1 and "none of them has the air’s humidity beside it" in found.missing[0]


def test_air_that_never_changes_is_said() -> None:
    steady = yearly_air(740, swing=0.5)
    found = drift(regular(steady, SLOPE, EVERY), air=steady)
    assert len(found.missing) == 1 and "hardly changed" in found.missing[0]


def test_with_a_turn_between_any_two_readings_little_can_be_told_of_the_air() -> None:
    past = Past()
    for number in range(0, 300, 40):
        past.read(number, 0.4)
        past.turn(number + 10, Part.ROD, 1)
    found, left_alone = drift(past, now=330), drift(regular(AIR, 0.0, range(0, 300, 40), base=0.4), now=330)
    assert found.fit is not None and left_alone.fit is not None
    assert found.fit.slope.half > 1.3 * left_alone.fit.slope.half
    assert "No clear pull of the air" in found.sentences[0]


def test_without_a_fit_what_the_rod_has_shown_takes_the_turns_out() -> None:
    past = Past()
    past.read(1, 0.6)
    past.turn(1.01, Part.ROD, 2)
    past.read(3, 0.45)
    past.read(20, 0.47)
    found = drift(past, now=30)
    assert found.fit is None
    assert [p.by_itself_mm for p in found.points] == pytest.approx([0.6, 0.6, 0.62], abs=0.03)
    assert [p.measured_mm for p in found.points] == [0.6, 0.45, 0.47]


def test_a_height_is_moved_by_its_own_saddle_and_by_the_rod_as_far_as_heights_go_with_relief() -> None:
    past = Past()
    past.read(1, 2.4, "height.4")
    past.turn(2, Part.SADDLE_HEIGHT, 8, string=4)
    past.turn(2, Part.SADDLE_HEIGHT, 8, string=1)
    past.turn(40, Part.ROD, 2)
    past.read(60, 2.7, "height.4")
    case = past.case(70)
    heights, relief = (
        drift_data(case, over_time(case, slot)) for slot in (Slot(Check.HEIGHT, string=4), RELIEF)
    )
    # A mm at the saddle shows as less at the 12th, where the string is held at the 1st (design, section 3).
    assert heights.moved[:, 1].tolist() == pytest.approx([0.0, 1 / 2.126], abs=0.002)
    assert heights.moved[:, 0].tolist() == pytest.approx([0.0, -2.0], abs=1e-6)
    assert heights.sizes[0, 0] == pytest.approx(2.3 * relief.sizes[0, 0], rel=0.05)
    # One of three threads, if nobody told: so far a whole turn may be off.
    assert 0.3 < heights.sizes[1, 0] < 1.0 and len(heights.sizes) == 2 + 2


# ranges


def test_a_card_stays_a_range_with_the_turns_taken_out() -> None:
    past = Past()
    past.read(1, 0.75, tool="card", detail={"method": "card", "low": 0.6, "high": 0.9})
    past.turn(1.01, Part.ROD, 2)
    past.read(3, 0.45, tool="card", detail={"method": "card", "low": 0.3, "high": 0.6})
    first, last = drift(past, now=30).points
    assert Say().reading(first.by_itself) == Say().reading(first.measured) == "0.60 to 0.90 mm"
    assert Say().reading(last.measured) == "0.30 to 0.60 mm"
    low, high = last.by_itself.detail["low"], last.by_itself.detail["high"]
    assert high - low == pytest.approx(0.3) and low > 0.35


def test_cards_alone_say_less_than_a_feeler_gauge() -> None:
    fine, coarse = regular(AIR, SLOPE, EVERY), Past()
    for number in EVERY:
        fits = int((0.7 + SLOPE * wood_behind(AIR, number)) // 0.3)
        ends = {"low": 0.3 * fits or None, "high": 0.3 * (fits + 1)}
        coarse.read(number, 0.15 + 0.3 * fits, tool="card", detail={"method": "card", **ends})
    sharp, wide = drift(fine).now, drift(coarse).now
    assert sharp is not None and wide is not None
    assert wide.half > 1.5 * sharp.half
    assert wide.low < 0.7 + SLOPE * wood_behind(AIR, 725) < wide.high


# what the air did between two readings


def explained(past: Past, now: float, back: int = -1) -> str:
    """Of the newest reading but so many."""
    case = past.case(now)
    readings = [e for journal in case.journals for e in journal.live if e.kind is EntryKind.READING]
    return by_the_air(case, drift(past, now), readings[back])


def test_what_the_air_did_since_the_reading_before_is_what_was_planted() -> None:
    past = regular(AIR, -0.1, [*range(3, 440, 18), 620], base=1.35)
    by_air = -0.1 * (wood_behind(AIR, 620) - wood_behind(AIR, 435))
    said = explained(past, 621)
    assert said.startswith("Since ") and "mm more relief, give or take 0." in said
    assert float(said.split("about ")[1].split(" mm")[0]) == pytest.approx(by_air, abs=0.03)


def test_what_was_turned_in_between_is_no_part_of_it() -> None:
    past = regular(AIR, -0.1, range(3, 440, 18), base=1.35)
    past.turn(500, Part.ROD, 2)
    past.read(620, 1.35 - 0.1 * wood_behind(AIR, 620) - 0.12)
    by_air = -0.1 * (wood_behind(AIR, 620) - wood_behind(AIR, 435))
    said = float(explained(past, 621).split("about ")[1].split(" mm")[0])
    assert said == pytest.approx(by_air, abs=0.05)


def test_a_still_room_explains_next_to_nothing() -> None:
    said = explained(regular(AIR, SLOPE, [*EVERY, EVERY[-1] + 2]), 722)
    assert said.endswith("the air has moved it by next to nothing.")


def test_of_a_neck_whose_ways_are_not_known_the_woods_own_moisture_is_told() -> None:
    past = Past()
    past.read(80, 0.3)
    past.read(260, 0.5)
    lost = wood_behind(AIR, 80) - wood_behind(AIR, 260)
    assert f"the wood has lost about {lost:.1f} % of moisture; how far this neck" in explained(past, 261)
    past.read(262, 0.5)
    assert "is not the air" in explained(past, 263)


def test_nothing_is_explained_of_a_first_reading_or_without_air() -> None:
    past = Past()
    past.read(80, 0.3)
    past.read(260, 0.5)
    assert explained(past, 261, back=-2) == ""
    case = past.case(261)
    assert by_the_air(case, drift_of(case, RELIEF, {}), case.journals[-1].live[-1]) == ""
