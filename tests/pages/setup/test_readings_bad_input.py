"""Bad input: a plain sentence beside the field, everything typed still there, and nothing recorded."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Mapping

import httpx
import pytest
from sqlalchemy import Engine
from sqlmodel import Session, select

from tests.pages.conftest import Form, Player, plain
from tests.pages.walk import READY
from webapp.store.tables import EntryRecord

AFRESH = ("form_id", "seen")
BUTTONS = ("action", "clear", "sign", "strike", "value_take")


@pytest.fixture
def setup(player: Player) -> str:
    """A new setup of a four-string bass: its page."""
    return player.begun("bass_4_34")


def entries(engine: Engine) -> list[EntryRecord]:
    with Session(engine) as session:
        return list(session.exec(select(EntryRecord).order_by(EntryRecord.id)))  # type: ignore[arg-type]


def sentence(answer: httpx.Response, field: str) -> str:
    """The sentence beside a field; the summary on top must lead there with the same words."""
    beside = re.search(rf'<p class="error" id="err-{field}">(.*?)</p>', answer.text, re.DOTALL)
    assert beside, (field, plain(answer.text)[:500])
    words = html.unescape(plain(beside[1])).strip().removeprefix("!").strip()
    summary = re.search(rf'<a href="#field-{field}">(.*?)</a>', answer.text, re.DOTALL)
    assert summary and html.unescape(summary[1]) == words
    assert f'id="field-{field}"' in answer.text
    return words


def still_there(answer: httpx.Response, path: str, sent: Mapping[str, object]) -> None:
    """Every field of the form shows what was sent."""
    shown = Form(answer.text, path).fields
    for name, value in sent.items():
        if name not in AFRESH + BUTTONS:
            assert html.unescape(shown[name]) == value, name


HEIGHT = {"value": "2.4", "value_unit": "in", "way": "0-12"}
RELIEF = {"value": "0.3", "value_unit": "mm", "hold": "1", "press": "13", "gap": "7"}
HIGH = {"value": "3", "fret": "19"}

BAD = [
    ("read/height.4", HEIGHT | {"value": ""}, "value", "Nothing was typed. Type a length from 0.000 in"),
    ("read/height.4", HEIGHT | {"value": "   "}, "value", "Nothing was typed."),
    ("read/height.4", HEIGHT | {"value": "rather high"}, "value", "That is not a length. Type a length from"),
    ("read/height.4", HEIGHT | {"value": "1e9"}, "value", "That is not a length."),
    ("read/height.4", HEIGHT | {"value": "1000000000"}, "value", "is outside what this can be."),
    ("read/height.4", HEIGHT | {"value": "nan"}, "value", "That is not a length."),
    ("read/height.4", HEIGHT | {"value": "inf"}, "value", "That is not a length."),
    ("read/height.4", HEIGHT | {"value": "0"}, "value", "A height is more than 0. A string that lies on the"),
    ("read/height.4", HEIGHT | {"value": "0.02 mm"}, "value", "A height is more than 0."),
    ("read/height.4", HEIGHT | {"value": "-2.4 mm"}, "value", "−2.40 mm is outside what this can be."),
    ("read/height.4", HEIGHT | {"value": "\u22122,4 mm"}, "value", "−2.40 mm is outside what this can be."),
    ("read/height.4", HEIGHT | {"value": "2.4 kg"}, "value", "“kg” is no unit used here. Use mm, in, thou"),
    ("read/height.4", HEIGHT | {"value": "2.4.1"}, "value", "That is not a length."),
    ("read/height.4", HEIGHT | {"value": "3/0"}, "value", "A fraction cannot end in /0."),
    ("read/height.4", HEIGHT | {"value": "<b>2.4</b>"}, "value", "That is not a length."),
    ("read/height.4", HEIGHT | {"value": "9" * 300}, "value", "That is not a length."),
    ("read/height.4", HEIGHT | {"way": "3-7"}, "way", "Choose how the string was held."),
    ("read/relief", RELIEF | {"press": "99"}, "press", "The fret you press: a whole number from 1 to 20."),
    ("read/relief", RELIEF | {"press": "21"}, "press", "The fret you press: a whole number from 1 to 20."),
    ("read/relief", RELIEF | {"hold": ""}, "hold", "The fret you hold: a whole number from 1 to 20."),
    ("read/relief", RELIEF | {"hold": "first"}, "hold", "The fret you hold: a whole number from 1 to 20."),
    ("read/relief", RELIEF | {"gap": "-7"}, "gap", "The fret of the gap: a whole number from 1 to 20."),
    ("read/relief", RELIEF | {"gap": "14"}, "gap", "must lie between the fret you hold and"),
    ("read/relief", RELIEF | {"hold": "13", "press": "1"}, "gap", "must lie between"),
    ("read/relief", RELIEF | {"value": "11"}, "value", "11.00 mm is outside what this can be."),
    ("read/nut.1", {"value": "0.4 m", "value_unit": "mm"}, "value", "“m” is no unit used here."),
    ("read/pickups.1.bass", {"value": "two", "value_unit": "64ths"}, "value", "That is not a length."),
    ("read/intonation.4.12", {"value": ""}, "value", "Type what the tuner shows, in cents; 0 if it"),
    ("read/intonation.4.12", {"value": "sharp"}, "value", "Type the cents that the tuner shows"),
    ("read/intonation.4.12", {"value": "1e9"}, "value", "Type the cents that the tuner shows"),
    ("read/intonation.4.12", {"value": "201"}, "value", "between −200 and 200 cents can be recorded"),
    ("read/intonation.4.12", {"value": "3 mm"}, "value", "Type the cents that the tuner shows"),
    ("read/intonation.4.high", HIGH | {"fret": "24"}, "fret", "The fret you played: a whole number from 13"),
    ("read/intonation.4.high", HIGH | {"fret": "12"}, "fret", "The fret you played: a whole number from 13"),
]  # fmt: skip


@pytest.mark.parametrize(("place", "filled", "field", "words"), BAD)
def test_a_bad_reading_is_told_so_beside_the_field(
    player: Player, engine: Engine, setup: str, place: str, filled: dict[str, str], field: str, words: str
) -> None:
    path = f"{setup}/{place}"
    sent: dict[str, object] = {**player.form(path), **filled}
    answer = player.post(path, sent, 422)
    assert words in sentence(answer, field)
    # A choice that is not in its list cannot be shown as chosen; what is typed can.
    impossible = {field} if field in ("way", "fret") else set()
    still_there(answer, path, {name: value for name, value in sent.items() if name not in impossible})
    assert entries(engine) == []


GOOD = [
    ("read/height.4", {"value": "2,4", "value_unit": "mm"}, 2.4),
    ("read/height.4", {"value": "3/32"}, 2.38125),
    ("read/height.4", {"value": "6/64\u2033", "value_unit": "mm"}, 2.38125),
    ("read/height.4", {"value": "94", "value_unit": "thou"}, 2.3876),
    ("read/relief", {"value": "\u22120.1", "value_unit": "mm"}, -0.1),
    ("read/relief", {"value": "0.012\"", "value_unit": "mm"}, 0.3048),
    ("read/intonation.4.12", {"value": "\u22123,5"}, -3.5),
    ("read/intonation.4.12", {"value": "+4 cents"}, 4.0),
]  # fmt: skip


@pytest.mark.parametrize(("place", "filled", "value"), GOOD)
def test_what_players_type_is_understood_and_kept_as_typed(
    player: Player, engine: Engine, setup: str, place: str, filled: dict[str, str], value: float
) -> None:
    path = f"{setup}/{place}"
    player.post(path, {**player.form(path), **filled})
    (entry,) = entries(engine)
    assert entry.value == pytest.approx(value, abs=1e-9)
    assert entry.typed == filled["value"]


QUESTIONS = [
    ("ask/buzz", {"touch": "gentle", "clear": "yes"}, "touch", "Choose how hard you plucked."),
    ("ask/buzz", {"touch": "light"}, "buzz", "Tap the notes that buzz, or say that none does."),
    ("ask/buzz", {"touch": "light", "buzz": ["4:21"]}, "buzz", "strings 1 to 4 and frets up to 20"),
    ("ask/buzz", {"touch": "light", "buzz": ["9:1"]}, "buzz", "strings 1 to 4 and frets up to 20"),
    ("ask/buzz", {"touch": "light", "buzz": ["4:3"], "clear": "yes"}, "buzz", "Some notes are marked."),
    ("ask/start", {"age": "ancient", "done": list(READY)}, "age", "Choose how old the strings are."),
    ("ask/start", {"age": "weeks", "done": list(READY[1:])}, "done_clean", "Not ticked yet"),
    ("log", {"part": "", "note": ""}, "part", "Choose what you turned, or write a note."),
    ("log", {"part": "saddle_height:9", "way": "plus"}, "part", "Choose what you turned."),
    ("log", {"part": "rod", "note": "felt stiff"}, "way", "Choose which way you turned."),
    ("log", {"part": "rod", "way": "plus", "amount": "400"}, "amount", "Choose how far you turned."),
    ("log", {"part": "", "note": "n" * 2001}, "note", "That is too long; 2000 characters at most."),
]


@pytest.mark.parametrize(("place", "filled", "field", "words"), QUESTIONS)
def test_a_bad_answer_is_told_so_beside_the_field(
    player: Player, engine: Engine, setup: str, place: str, filled: dict[str, object], field: str, words: str
) -> None:
    path = f"{setup}/{place}"
    answer = player.post(path, {**player.form(path), **filled}, 422)
    assert words in sentence(answer, field)
    assert entries(engine) == []


def test_ticks_and_notes_stay_when_an_answer_is_refused(player: Player, setup: str) -> None:
    path = f"{setup}/ask/start"
    answer = player.post(path, {**player.form(path), "age": "old", "done": list(READY[2:])}, 422)
    ticked = re.findall(r'name="done" value="(\w+)" checked', answer.text)
    assert tuple(ticked) == READY[2:]
    assert Form(answer.text, path).fields["age"] == "old"
    path = f"{setup}/ask/buzz"
    sent: dict[str, object] = {**player.form(path), "touch": "firm", "buzz": ["4:3", "1:0"], "clear": "yes"}
    answer = player.post(path, sent, 422)
    assert set(re.findall(r'value="(\d+:\d+)" checked', answer.text)) == {"4:3", "1:0"}
    assert Form(answer.text, path).fields["touch"] == "firm"
    path = f"{setup}/log"
    answer = player.post(
        path, {**player.form(path), "part": "rod", "amount": "3", "note": "it <creaked>"}, 422
    )
    assert "it &lt;creaked&gt;</textarea>" in answer.text
    shown = Form(answer.text, path).fields
    assert (shown["part"], shown["amount"]) == ("rod", "3")


def test_a_decision_not_in_the_list(player: Player, engine: Engine, setup: str) -> None:
    player.fill(f"{setup}/read/relief", value="0.7")
    path = f"{setup}/adjust/relief"
    sent = {**player.form(path), "way": "minus", "amount": "1"}
    answer = player.post(path, {**sent, "action": "burn"}, 422)
    assert "Choose what you did." in plain(answer.text)
    still_there(answer, path, sent)
    answer = player.post(path, {**sent, "action": "turn", "way": "up"}, 422)
    assert sentence(answer, "way") == "Choose which way you turned."
    answer = player.post(path, {**sent, "action": "turn", "amount": "9"}, 422)
    assert sentence(answer, "amount") == "Choose how far you turned."
    # The other way than was said, and no amount: that is no "as said".
    answer = player.post(path, {**sent, "action": "turn", "amount": ""}, 422)
    assert sentence(answer, "amount") == "Choose how far you turned."
    answer = player.post(path, {**sent, "action": "turn:relief", "amount": "0"}, 422)
    assert sentence(answer, "amount") == "Choose how far you turned."
    for said in ("-2", "9", "", "x", "²"):
        answer = player.post(path, {**sent, "action": "turn", "said": said}, 422)
        assert "has changed since this page was shown" in plain(answer.text)
    assert [entry.kind for entry in entries(engine)] == ["reading"]


@pytest.mark.parametrize("tool", ["laser", "card"])
def test_a_way_of_measuring_that_this_check_does_not_have(player: Player, setup: str, tool: str) -> None:
    path = f"{setup}/read/height.4"
    answer = player.post(path, {**player.form(path), "tool": tool, "value": "2.4"}, 422)
    assert "Choose how you measured." in plain(answer.text)
    still_there(answer, path, {"value": "2.4"})


def test_a_card_answer_not_in_the_list_and_a_card_too_thick(
    player: Player, engine: Engine, setup: str
) -> None:
    path = f"{setup}/read/relief"
    sent: dict[str, object] = {**player.form(f"{path}?tool=card", path), "answer": "seven", "card": "0.28"}
    answer = player.post(path, sent, 422)
    assert sentence(answer, "answer") == "Choose one of the answers."
    still_there(answer, path, {"card": "0.28", "tool": "card"})
    answer = player.post(path, {**sent, "answer": "one", "card": "3 mm"}, 422)
    assert "3.00 mm is outside what this can be" in sentence(answer, "card")
    still_there(answer, path, {"card": "3 mm", "answer": "one", "tool": "card"})
    assert entries(engine) == []
    player.post(path, {**sent, "answer": "two"})
    (entry,) = entries(engine)
    detail = json.loads(entry.detail)
    assert (detail["card_mm"], detail["answer"]) == (0.28, "two")
    assert (detail["low"], detail["high"]) == pytest.approx((0.56, 0.84))


@pytest.mark.parametrize(
    "place",
    ["read/height.5", "read/height.0", "read/nut.12", "read/intonation.4.13", "read/pickups.3.bass",
     "read/soup", "adjust/height.5", "ask/soup", "check/soup", "read/relief?corrects=999"],
)  # fmt: skip
def test_what_is_not_on_this_instrument_is_not_there(player: Player, setup: str, place: str) -> None:
    answer = player.get(f"{setup}/{place}", 404)
    assert "Nothing here" in plain(answer.text)
    if "corrects" not in place:
        player.post(f"{setup}/{place}", {"form_id": "x", "value": "2.4", "tool": "ruler"},
                    405 if place.startswith("check") else 404)  # fmt: skip


@pytest.mark.parametrize("page", ["", "/next", "/read/relief", "/journal", "/log", "/finish", "/report"])
def test_a_setup_that_is_not_there(player: Player, page: str) -> None:
    player.get(f"/setups/nothing{page}", 404)


# Several readings in one form


HEIGHTS = {"height_4": "2.6", "height_3": "2.4", "height_2": "2.2", "height_1": "2.1"}


def test_one_form_records_every_row_that_was_filled(player: Player, engine: Engine, setup: str) -> None:
    path = f"{setup}/read/height"
    assert player.form(path)["rows"] == "height.4 height.3 height.2 height.1"
    player.fill(path, **HEIGHTS | {"height_1": "", "height_2": "  "}, step="1", way="0-12")
    made = {entry.slot: entry for entry in entries(engine)}
    assert {slot: entry.value for slot, entry in made.items()} == {"height.4": 2.6, "height.3": 2.4}
    detail = json.loads(made["height.3"].detail)
    assert (detail["step"], detail["hold"], detail["gap"], detail["method"]) == (1.0, 0, 12, "ruler")
    # What was left out is asked again, and the ruler is known by now.
    again = player.form(path)
    assert "height.1" in again["rows"].split() and "height.4" not in again["rows"].split()
    assert (again["step"], again["way"]) == ("1", "0-12")


def test_nothing_filled_in_is_told(player: Player, engine: Engine, setup: str) -> None:
    answer = player.post(f"{setup}/read/nut", player.form(f"{setup}/read/nut"), 422)
    assert sentence(answer, "nut_4") == "Type at least one reading."
    assert entries(engine) == []


def test_faults_stand_beside_their_rows_and_the_good_ones_stay(
    player: Player, engine: Engine, setup: str
) -> None:
    path = f"{setup}/read/height"
    sent: dict[str, object] = {**player.form(path), **HEIGHTS, "height_4": "tall", "height_1": "0"}
    answer = player.post(path, sent, 422)
    assert "That is not a length" in sentence(answer, "height_4")
    assert "A height is more than 0" in sentence(answer, "height_1")
    assert 'id="err-height_3"' not in answer.text
    still_there(answer, path, sent)
    assert entries(engine) == []


def test_a_guess_taken_in_one_row_stays_taken_while_another_is_mended(
    player: Player, engine: Engine, setup: str
) -> None:
    path = f"{setup}/read/height"
    sent: dict[str, object] = {**player.form(path), "height_4": "94", "height_3": "90"}
    answer = player.post(path, sent, 422)
    assert "Did you mean 94 thou" in sentence(answer, "height_4")
    again = Form(answer.text, path).fields
    answer = player.post(path, {**again, "height_4_take": "94 thou"}, 422)
    shown = Form(answer.text, path).fields
    assert (shown["height_4"], shown["height_3"]) == ("94 thou", "90")
    assert 'id="err-height_4"' not in answer.text
    player.post(path, {**shown, "height_3_take": "90 thou"})
    assert [entry.value for entry in entries(engine)] == pytest.approx([2.3876, 2.286])


def test_one_row_that_was_recorded_meanwhile_is_told_and_nothing_is_lost(
    player: Player, engine: Engine, setup: str
) -> None:
    path = f"{setup}/read/height"
    stale: dict[str, object] = {**player.form(path), **HEIGHTS}
    player.fill(f"{setup}/read/height.3", value="2.9")
    answer = player.post(path, stale, 409)
    assert "Meanwhile 2.90 mm was recorded here" in sentence(answer, "height_3")
    assert 'id="err-height_4"' not in answer.text
    still_there(answer, path, stale)
    assert len(entries(engine)) == 1
    player.post(path, dict(Form(answer.text, path).fields))
    assert [entry.slot for entry in entries(engine)] == [
        "height.3", "height.4", "height.1", "height.3", "height.2",
    ]  # fmt: skip


def test_a_row_that_is_left_empty_minds_nobody(player: Player, engine: Engine, setup: str) -> None:
    path = f"{setup}/read/height"
    mine: dict[str, object] = {**player.form(path), "height_4": "2.6"}
    player.fill(f"{setup}/read/height.3", value="2.4")
    player.post(path, mine)
    assert [entry.slot for entry in entries(engine)] == ["height.3", "height.4"]


def test_a_form_of_several_sent_twice_is_recorded_once(player: Player, engine: Engine, setup: str) -> None:
    path = f"{setup}/read/pickups"
    sent: dict[str, object] = {
        **player.form(path), "pickups_1_bass": "2.4", "pickups_1_treble": "2", "pickups_2_bass": "2.2",
    }  # fmt: skip
    player.post(path, sent)
    answer = player.post(path, sent, 409)
    assert "This was recorded already" in plain(answer.text)
    assert len(entries(engine)) == 3


@pytest.mark.parametrize("rows", ["", "soup", "height.9", "nut.4 height.4", "height.level", "relief"])
def test_odd_rows_are_no_failure(player: Player, engine: Engine, setup: str, rows: str) -> None:
    path = f"{setup}/read/height"
    player.post(path, {**player.form(path), "rows": rows, "height_4": "2.4"})
    assert [entry.slot for entry in entries(engine)] == ["height.4"]


@pytest.mark.parametrize("rows", ["", "soup", "height.9", "nut.4", "height.level"])
def test_odd_places_to_turn_are_no_failure(player: Player, engine: Engine, setup: str, rows: str) -> None:
    player.fill(f"{setup}/read/relief", value="0.3")
    player.fill(f"{setup}/read/height", height_4="4", height_3="4", height_2="4", height_1="4")
    before = len(entries(engine))
    path = f"{setup}/adjust/height"
    form = player.form(path)
    player.post(path, {**form, "rows": rows, "action": "keep:height.9"}, 422)
    player.post(path, {**form, "rows": rows, "action": "no_room:nut.4"}, 422)
    player.post(path, {**form, "rows": rows, "action": "turn", "said_height_4": "7"}, 422)
    assert len(entries(engine)) == before


ODD = ("1e5", "0", "-0.2", "-1", "7.99", "8", "0.3", "0,05", "19.9", "3/64", "٣", "1" * 40)


@pytest.mark.parametrize("value", ODD)
def test_no_odd_value_is_a_failure_here_or_on_any_page_after_it(
    player: Player, setup: str, value: str
) -> None:
    for place, name in (("relief", "value"), ("height", "height_4"), ("nut", "nut_1"),
                        ("intonation", "intonation_4_12"), ("pickups", "pickups_1_bass")):  # fmt: skip
        path = f"{setup}/read/{place}"
        answer = player.client.post(path, data={**player.form(path), name: value}, follow_redirects=False)
        assert answer.status_code in (303, 422), (place, value)
    for page in ("", "/next", "/check/relief", "/check/height", "/adjust/relief", "/adjust/height.4",
                 "/adjust/height", "/finish", "/read/height", "/read/intonation", "/journal"):  # fmt: skip
        player.get(setup + page)


# Readings that are ranges


CARDS = [
    ("none", {"card_kind": "business"}, (None, 0.30), "less than 0.30 mm"),
    ("one", {"card_kind": "business"}, (0.30, 0.60), "0.30 to 0.60 mm"),
    ("two", {"card_kind": "bank"}, (1.52, 2.28), "1.52 to 2.28 mm"),
    ("more", {"card": "0.25"}, (0.75, None), "more than 0.75 mm"),
]


@pytest.mark.parametrize(("answer", "card", "ends", "words"), CARDS)
def test_a_card_is_kept_and_shown_as_the_range_it_is(
    player: Player, engine: Engine, setup: str, answer: str, card: dict[str, str],
    ends: tuple[float | None, float | None], words: str,
) -> None:  # fmt: skip
    path = f"{setup}/read/relief"
    player.post(path, {**player.form(f"{path}?tool=card", path), "answer": answer, **card})
    detail = json.loads(entries(engine)[0].detail)
    for end, wanted in zip((detail["low"], detail["high"]), ends, strict=True):
        assert end == (None if wanted is None else pytest.approx(wanted))
    for page in ("journal", "check/relief", "read/relief"):
        assert words in plain(player.get(f"{setup}/{page}").text), page


def test_the_card_is_remembered_by_what_it_was(player: Player, engine: Engine, setup: str) -> None:
    path = f"{setup}/read/relief"
    player.post(path, {**player.form(f"{path}?tool=card", path), "answer": "one", "card": "0.41"})
    nut = f"{setup}/read/nut"
    form = player.form(f"{nut}?tool=card", nut)
    assert form["card_kind"] == "before"
    assert "The same as before, 0.41 mm" in player.get(f"{nut}?tool=card").text
    player.post(nut, {**form, "nut_4": "one", "nut_1": "none"})
    kept = [json.loads(entry.detail) for entry in entries(engine) if entry.slot.startswith("nut")]
    assert [detail["card_mm"] for detail in kept] == [0.41, 0.41]
    assert "0.41 to 0.82 mm" in plain(player.get(f"{setup}/check/nut").text)


def test_a_card_that_is_not_in_the_list(player: Player, setup: str) -> None:
    path = f"{setup}/read/relief"
    sent = {**player.form(f"{path}?tool=card", path), "answer": "one", "card_kind": "playing"}
    assert sentence(player.post(path, sent, 422), "card_kind") == "Choose which card it is."


def test_a_tuner_without_numbers_and_an_ear_say_ranges_too(player: Player, setup: str) -> None:
    path = f"{setup}/read/intonation"
    form = player.form(f"{path}?tool=needle", path)
    player.post(path, {**form, "intonation_4_12": "little_flat", "intonation_4_high": "sharp"})
    words = plain(player.get(f"{setup}/check/intonation").text)
    assert "−8 to −2.5 cents" in words and "more than 8 cents sharp" in words
    player.post(path, {**form, "form_id": "another", "intonation_3_12": "loud"}, 422)
    relief = f"{setup}/read/relief"
    player.post(relief, {**player.form(f"{relief}?tool=ear", relief), "answer": "slight"})
    assert "0.10 to 0.45 mm" in plain(player.get(f"{setup}/check/relief").text)


def test_more_room_or_less_is_asked_only_of_a_card_or_an_ear_after_a_turn(
    player: Player, engine: Engine, setup: str
) -> None:
    path = f"{setup}/read/relief"
    asked = "More room or less than before the turn?"
    assert asked not in player.get(f"{path}?tool=card").text
    player.post(path, {**player.form(f"{path}?tool=card", path), "answer": "two"})
    player.post(path, {**player.form(f"{path}?tool=card", path), "answer": "two"})
    adjust = f"{setup}/adjust/relief"
    player.post(adjust, {**player.form(adjust), "action": "turn"})
    assert asked not in player.get(f"{path}?tool=feeler").text
    form = player.form(f"{path}?tool=card", path)
    assert form["compared"] == ""
    player.post(path, {**form, "answer": "two", "compared": "less"})
    assert json.loads(entries(engine)[-1].detail)["compared"] == "less"
    assert asked not in player.get(path).text


@pytest.mark.parametrize(("unit", "step"), [("mm", "0.5"), ("64ths", "0.396875"), ("thou", "0.396875")])
def test_a_ruler_is_asked_for_its_division_and_starts_from_a_likely_one(
    player: Player, engine: Engine, setup: str, unit: str, step: str
) -> None:
    player.client.post("/units", data={"unit": unit})
    path = f"{setup}/read/height"
    form = player.form(path)
    assert form["step"] == step
    assert "<details" not in player.get(path).text.split('id="field-step"')[0].split("<form")[1]
    player.post(path, {**form, "height_4": "2.5", "value_unit": "mm", "step": "0.25"})
    assert json.loads(entries(engine)[0].detail)["step"] == 0.25
    pickups = player.get(f"{setup}/read/pickups").text
    assert Form(pickups, f"{setup}/read/pickups").fields["step"] == "0.25"
    # Known by now, it is folded away.
    assert "<details" in pickups.split('id="field-step"')[0].split("<form")[1]


# Another unit


def test_a_bare_number_in_another_unit_is_asked_about_and_taken_when_confirmed(
    player: Player, engine: Engine, setup: str
) -> None:
    path = f"{setup}/read/relief"
    sent: dict[str, object] = {**player.form(path), "value": "12", "press": "15", "gap": "8"}
    answer = player.post(path, sent, 422)
    assert "Did you mean 12 thou (0.30 mm)" in sentence(answer, "value")
    still_there(answer, path, sent)
    (taken,) = re.findall(r'name="value_take" value="(12 thou)"', answer.text)
    again: dict[str, object] = {**Form(answer.text, path).fields, "value_take": taken}
    assert again["value"] == "12"
    player.post(path, again)
    (entry,) = entries(engine)
    assert entry.value == pytest.approx(0.3048)
    assert entry.unit == "thou" and entry.typed == "12 thou"
    assert '"press": 15' in entry.detail and '"gap": 8' in entry.detail


# Two tabs, and ends


def test_the_same_form_sent_twice_is_recorded_once(player: Player, engine: Engine, setup: str) -> None:
    path = f"{setup}/read/height.4"
    sent: dict[str, object] = {**player.form(path), "value": "2.4", "way": "0-12"}
    player.post(path, sent)
    answer = player.post(path, sent, 409)
    assert sentence(answer, "value") == "This was recorded already; nothing was recorded twice."
    still_there(answer, path, sent)
    assert len(entries(engine)) == 1


def test_a_stale_tab_is_told_and_may_then_record_after_all(
    player: Player, engine: Engine, setup: str
) -> None:
    path = f"{setup}/read/height.4"
    stale: dict[str, object] = {**player.form(path), "value": "2.6", "value_unit": "mm", "way": "0-12"}
    player.fill(path, value="2.4")
    answer = player.post(path, stale, 409)
    assert re.fullmatch(
        r"Meanwhile 2\.40 mm was recorded here, at \d\d:\d\d\. Send again to record yours after it\.",
        sentence(answer, "value"),
    )
    still_there(answer, path, stale)
    player.post(path, dict(Form(answer.text, path).fields))
    assert [entry.value for entry in entries(engine)] == [2.4, 2.6]


def test_a_stale_decision_is_told(player: Player, engine: Engine, setup: str) -> None:
    player.fill(f"{setup}/read/relief", value="0.7")
    path = f"{setup}/adjust/relief"
    stale: dict[str, object] = {**player.form(path), "action": "turn", "amount": "2"}
    player.fill(f"{setup}/read/relief", value="0.5")
    answer = player.post(path, stale, 409)
    assert "Meanwhile 0.50 mm was recorded here" in plain(answer.text)
    still_there(answer, path, {"amount": "2", "way": stale["way"]})
    assert [entry.kind for entry in entries(engine)] == ["reading", "reading"]


def test_two_tabs_may_read_different_strings(player: Player, engine: Engine, setup: str) -> None:
    first: dict[str, object] = {**player.form(f"{setup}/read/height.4"), "value": "2.4"}
    player.fill(f"{setup}/read/height.1", value="2.0")
    player.post(f"{setup}/read/height.4", first)
    assert len(entries(engine)) == 2


@pytest.mark.parametrize(
    ("place", "filled"),
    [
        ("read/relief", {"value": "0.3"}),
        ("ask/start", {"done": list(READY)}),
        ("ask/ear", {}),
        ("ask/playtest", {"sign": "yes"}),
    ],
)
def test_a_finished_setup_takes_nothing_more(
    player: Player, engine: Engine, setup: str, place: str, filled: dict[str, object]
) -> None:
    path = f"{setup}/{place}"
    sent = {**player.form(path), **filled}
    player.fill(f"{setup}/finish")
    answer = player.post(path, sent, 409)
    assert "This setup is finished, so nothing more can be written in it." in plain(answer.text)
    assert entries(engine) == []


def test_a_finished_setup_takes_no_turn_and_no_note(player: Player, engine: Engine, setup: str) -> None:
    player.fill(f"{setup}/read/relief", value="0.7")
    turn = {**player.form(f"{setup}/adjust/relief"), "action": "turn"}
    note = {**player.form(f"{setup}/log"), "note": "too late"}
    end = player.form(f"{setup}/finish")
    player.post(f"{setup}/finish", dict(end))
    for place, sent in (("adjust/relief", turn), ("log", note), ("finish", end)):
        answer = player.post(f"{setup}/{place}", dict(sent), 409)
        assert "This setup is finished" in plain(answer.text)
    assert len(entries(engine)) == 1


def test_a_form_without_its_name_is_not_recorded(player: Player, engine: Engine, setup: str) -> None:
    path = f"{setup}/read/relief"
    sent: dict[str, object] = {**player.form(path), "value": "0.3", "form_id": ""}
    answer = player.post(path, sent, 409)
    assert sentence(answer, "value") == "This form was incomplete. Send it again from this page."
    still_there(answer, path, sent)
    assert entries(engine) == []
    player.post(path, dict(Form(answer.text, path).fields))
    assert len(entries(engine)) == 1


@pytest.mark.parametrize("seen", ["", "x", "-1", "9" * 40])
def test_an_odd_mark_of_what_was_seen_counts_as_nothing_seen(player: Player, setup: str, seen: str) -> None:
    path = f"{setup}/read/relief"
    player.fill(path, value="0.3")
    player.post(path, {**player.form(path), "value": "0.4", "seen": seen}, 409)


def test_more_than_a_megabyte_is_refused_whole(player: Player, engine: Engine, setup: str) -> None:
    path = f"{setup}/log"
    player.post(path, {**player.form(path), "note": "n" * 1_100_000}, 413)
    assert entries(engine) == []


def test_a_body_of_another_kind_is_an_empty_form(player: Player, setup: str) -> None:
    answer = player.client.post(f"{setup}/read/relief", json={"value": "0.3"})
    assert answer.status_code == 422
    files = {"value": ("a.txt", b"0.3", "text/plain")}
    assert player.client.post(f"{setup}/read/relief", files=files).status_code in (400, 422)
