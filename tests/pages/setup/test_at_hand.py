"""What the player has at hand decides what they are asked to measure with."""

from __future__ import annotations

import re
from html import unescape

import pytest

from tests.pages.conftest import Player, plain
from tests.pages.walk import READY, Walk
from webapp.trade.content import Trade

ASKED = "What do you have at hand?"


@pytest.fixture
def setup(player: Player) -> str:
    return player.begun("bass_4_34")


def get_ready(player: Player, setup: str, *have: str) -> None:
    player.fill(f"{setup}/ask/start", done=READY, have=list(have))


def offered(player: Player, setup: str, place: str) -> list[str]:
    """The tools of a reading page, the one in hand first."""
    page = player.get(f"{setup}/read/{place}").text
    chosen = re.search(r'name="tool" value="(\w+)"', page)
    assert chosen
    others = [key for key in re.findall(r"\?tool=(\w+)", page) if key != chosen[1]]
    return [chosen[1], *others]


def lacking(player: Player, setup: str, place: str) -> str:
    found = re.search(r"You have none of these at hand: ([^.]*)\.", player.get(f"{setup}/read/{place}").text)
    return unescape(found[1]) if found else ""


def test_a_new_bench_is_asked_once(player: Player, setup: str) -> None:
    page = player.get(f"{setup}/ask/start").text
    assert f"<legend>{ASKED}" in page and "At hand:" not in page
    get_ready(player, setup, "ruler", "tuner")
    again = player.begin(player.make("electric_6"))
    page = player.get(f"{again}/ask/start").text
    assert f"<legend>{ASKED}" not in page and "At hand: ruler, tuner</summary>" in page
    player.fill(f"{again}/ask/start", done=READY, have=["card"])
    assert "At hand: card</summary>" in player.get(f"{again}/ask/start").text


def test_who_ticks_nothing_at_first_is_not_taken_at_their_word(player: Player, setup: str) -> None:
    get_ready(player, setup)
    assert f"<legend>{ASKED}" in player.get(f"{setup}/ask/start").text
    assert offered(player, setup, "relief") == ["feeler", "card", "ear"]
    assert lacking(player, setup, "relief") == ""


@pytest.mark.parametrize(
    ("have", "relief", "height", "nut", "intonation"),
    [
        (["card", "tuner"], "card ear", "ruler gauge feeler", "card", "tuner"),
        (["ruler", "card"], "card ear", "ruler", "card", "tuner needle"),
        (["needle", "gauge"], "ear", "gauge", "gauge", "needle"),
        (["feeler", "ruler", "gauge"], "feeler ear", "ruler gauge feeler", "feeler gauge", "tuner needle"),
    ],
)
def test_only_what_is_at_hand_is_offered(
    player: Player, setup: str, have: list[str], relief: str, height: str, nut: str, intonation: str
) -> None:
    get_ready(player, setup, *have)
    wanted = {"relief": relief, "height": height, "nut": nut, "intonation": intonation}
    assert {place: " ".join(offered(player, setup, place)) for place in wanted} == wanted


def test_a_check_that_nothing_at_hand_reads_says_so_and_offers_all(player: Player, setup: str) -> None:
    get_ready(player, setup, "card", "tuner")
    assert lacking(player, setup, "height") == "ruler, string-height gauge, feeler gauge"
    assert {lacking(player, setup, place) for place in ("relief", "nut", "intonation")} == {""}
    assert f'href="/tools?setup={setup.rpartition("/")[2]}"' in player.get(f"{setup}/read/height").text


def test_it_is_changed_on_a_page_of_its_own(player: Player, setup: str) -> None:
    get_ready(player, setup, "card", "tuner")
    tools = f"/tools?setup={setup.rpartition('/')[2]}"
    page = player.get(tools).text
    assert re.findall(r'value="(\w+)" checked', page) == ["card", "tuner"]
    done = player.fill(tools, action="/tools", have=["ruler", "feeler"])
    assert done.headers["location"] == f"{setup}/next"
    assert offered(player, setup, "height") == ["ruler", "feeler"]
    # Nothing at all is an answer here.
    assert player.fill("/tools", have=[]).headers["location"] == "/"
    assert "At hand: nothing</summary>" in player.get(f"{setup}/ask/start").text
    assert offered(player, setup, "relief") == ["ear"]


def test_another_tool_can_be_asked_for_by_its_address(player: Player, setup: str) -> None:
    get_ready(player, setup, "card")
    page = f"{setup}/read/relief"
    player.fill(f"{page}?tool=feeler", action=page, value="0.3", step="0.05")
    # The last one that was used is the one offered first only as long as it is at hand.
    assert offered(player, setup, "relief") == ["card", "ear"]


def test_what_was_read_with_a_tool_that_is_gone_can_be_corrected(player: Player, setup: str) -> None:
    Walk(player, setup).until("read/relief").step()
    entry = re.search(r"corrects=(\d+)", player.get(f"{setup}/journal").text)
    assert entry
    player.fill("/tools", have=["card"])
    page = f"{setup}/read/relief"
    assert player.form(f"{page}?corrects={entry[1]}", page)["tool"] == "feeler"
    player.fill(f"{page}?corrects={entry[1]}", action=page, value="0.2")
    assert "0.2" in plain(player.get(f"{setup}/journal").text)


def test_a_tool_that_is_none_is_refused(player: Player, setup: str) -> None:
    assert "Choose among these." in player.fill("/tools", 422, have=["hammer"]).text
    page = player.fill(f"{setup}/ask/start", 422, done=READY, have=["hammer"]).text
    assert "Choose among these." in page


def test_a_mistake_beside_it_keeps_the_ticks(player: Player, setup: str) -> None:
    page = player.fill(f"{setup}/ask/start", 422, done=["clean"], have=["ruler"]).text
    assert re.findall(r'name="have" value="(\w+)" checked', page) == ["ruler"]
    assert f"<legend>{ASKED}" in player.get(f"{setup}/ask/start").text


@pytest.mark.parametrize(
    ("have", "held"),
    [([], "a capo, or a helper’s finger"), (["card", "capo"], "a capo"), (["card"], "a helper’s finger")],
)
def test_who_holds_the_string(player: Player, setup: str, have: list[str], held: str) -> None:
    get_ready(player, setup, *have)
    for place in ("relief", "height"):
        assert f"down at fret 1 ({held})" in player.get(f"{setup}/read/{place}").text


def test_the_quick_check_goes_by_it_too(player: Player, setup: str) -> None:
    get_ready(player, setup, "card", "ruler")
    instrument = re.search(r'href="(/instruments/[\w-]+)"', player.get(setup).text)
    assert instrument
    quick = player.form(f"{instrument[1]}/quick")
    assert (quick["relief_tool"], quick["height_tool"]) == ("card", "ruler")


def test_every_tool_that_someone_may_lack_is_asked_for(player: Player, setup: str, trade: Trade) -> None:
    page = player.get("/tools").text
    keys = re.findall(r'name="have" value="(\w+)"', page)
    assert keys == ["feeler", "ruler", "gauge", "card", "tuner", "needle", "capo"]
    assert set(keys) >= {method.tool for method in trade.methods} - {"ear", "phone"}


def test_a_unit_typed_behind_one_number_is_that_numbers_alone_and_a_chosen_one_is_kept(
    player: Player,
) -> None:
    setup = player.begin(player.make("bass_4_34"))
    get_ready(player, setup)
    player.fill(f"{setup}/read/relief", value="12 thou")
    assert player.form(f"{setup}/read/relief")["value_unit"] == "mm"
    player.fill(f"{setup}/read/relief", value="0.012", value_unit="in")
    assert player.form(f"{setup}/read/relief")["value_unit"] == "in"
