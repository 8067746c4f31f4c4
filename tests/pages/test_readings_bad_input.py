"""Bad input: a plain sentence beside the field, everything typed still there, and nothing recorded."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping

import httpx
import pytest
from sqlalchemy import Engine
from sqlmodel import Session, select

from tests.pages.conftest import Form, Player, plain
from tests.pages.walk import READY
from webapp.store.tables import Entry

AFRESH = ("form_id", "seen")
BUTTONS = ("action", "clear", "sign", "strike", "value_take")


@pytest.fixture
def setup(player: Player) -> str:
    """A new setup of a four-string bass: its page."""
    return player.begin(player.make("bass_4_34"))


def entries(engine: Engine) -> list[Entry]:
    with Session(engine) as session:
        return list(session.exec(select(Entry).order_by(Entry.id)))  # type: ignore[arg-type]


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
    ("read/height.4", HEIGHT | {"value": "-2.4 mm"}, "value", "-2.40 mm is outside what this can be."),
    ("read/height.4", HEIGHT | {"value": "\u22122,4 mm"}, "value", "-2.40 mm is outside what this can be."),
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
    ("read/intonation.4.12", {"value": "201"}, "value", "between -200 and 200 cents can be recorded"),
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
    sent = {**player.form(path), "way": "minus", "amount": "3"}
    answer = player.post(path, {**sent, "action": "burn"}, 422)
    assert "Choose what you did." in plain(answer.text)
    still_there(answer, path, sent)
    answer = player.post(path, {**sent, "action": "turn", "way": "up"}, 422)
    assert sentence(answer, "way") == "Choose which way you turned."
    answer = player.post(path, {**sent, "action": "turn", "amount": "0"}, 422)
    assert sentence(answer, "amount") == "Choose how far you turned."
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
    assert entries(engine)[0].value == pytest.approx(0.56)


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
        ("ask/listen", {}),
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
