"""The quick check: one screen, the same judging, kept with the rest."""

from __future__ import annotations

import pytest

from tests.pages.conftest import Player, plain
from tests.pages.walk import READY


@pytest.fixture
def bass(player: Player) -> str:
    return player.once("bass_4_34 made", lambda: player.make("bass_4_34"))


def check(player: Player, bass: str, **filled: object) -> str:
    """Send a quick check; returns its result page's address."""
    location: str = player.fill(f"{bass}/quick", **filled).headers["location"]
    return location


def test_a_good_quick_check_says_so_and_stands_in_the_history(player: Player, bass: str) -> None:
    result = check(
        player, bass, relief="0.3", height_4="2.5", height_1="2.0", temperature="21", humidity="45"
    )
    assert "All is well" in player.get(result).text
    history = plain(player.get(f"{bass}/history").text)
    assert "Quick check" in history and "0.30 mm" in history


def test_what_has_moved_is_judged_and_shows_on_the_card(player: Player, bass: str) -> None:
    result = plain(player.get(check(player, bass, relief="0.75")).text)
    assert "Relief: too much bow" in result and "Too much bow: the middle" in result
    card = plain(player.get(bass).text)
    assert "too much bow" in card and "Not set up yet" in card
    assert "Put this right" in plain(player.get("/").text)
    assert "put the relief right Relief: too much bow, 0.75 mm." in plain(player.get("/due").text)


def test_was_and_now_stand_side_by_side(player: Player, bass: str) -> None:
    first = plain(player.get(check(player, bass, relief="0.3")).text)
    assert "→" not in first and "0.30" in first
    page = player.get(f"{bass}/quick").text
    assert "was 0.30 mm" in plain(page)
    result = plain(player.get(check(player, bass, relief="0.4")).text)
    assert "0.30 → 0.40" in result and "All is well" in result


def test_put_this_right_leads_to_the_turn_with_nothing_read_again(player: Player, bass: str) -> None:
    """What a quick check read stands in the setup that follows it."""
    result = player.get(check(player, bass, relief="0.75"))
    assert result.text.count("button-main") == 1
    begun = player.post(f"{bass}/setups", player.form(str(result.url), f"{bass}/setups"))
    setup = begun.headers["location"].removesuffix("/next")
    assert player.get(f"{setup}/next").url.path.endswith("/ask/start")
    player.fill(f"{setup}/ask/start", done=READY)
    assert player.get(f"{setup}/next").url.path == f"{setup}/adjust/relief"
    assert "0.75 mm" in plain(player.get(f"{setup}/adjust/relief").text)


def test_put_this_right_goes_on_with_the_setup_under_way(player: Player, bass: str) -> None:
    setup = player.begin(bass)
    html = player.get(check(player, bass, relief="0.75")).text
    assert f'href="{setup}/read/relief">Put this right' in html


def test_an_old_check_shows_what_it_found_and_asks_for_nothing(player: Player, bass: str) -> None:
    old = check(player, bass, relief="0.75")
    check(player, bass, relief="0.3")
    page = player.get(old).text
    assert "Relief: too much bow" in plain(page) and "Put this right" not in page


def test_the_air_is_typed_once_and_known_everywhere(player: Player, bass: str) -> None:
    check(player, bass, relief="0.3", temperature="70", temperature_unit="f", humidity="45")
    page = plain(player.get("/air").text)
    assert "45 % 21.1 °C" in page and "(typed)" in page
    again = player.form(f"{bass}/quick")
    assert (again["temperature"], again["humidity"]) == ("21.1", "45")
    assert "The air: 45 %, 21.1 °C today" in plain(player.get(f"{bass}/quick").text)
    player.fill("/air", temperature="20", humidity="52")
    assert player.form(f"{bass}/quick")["humidity"] == "52"


def test_what_the_bench_knows_of_the_air_is_not_typed_anew(player: Player, bass: str) -> None:
    player.fill("/air", temperature="20.04", humidity="52.4")
    check(player, bass, relief="0.3")
    assert "52 % 20.0 °C" in plain(player.get("/air").text)
    again = player.form(f"{bass}/quick")
    assert (again["temperature"], again["humidity"]) == ("20", "52")


def test_the_strings_age_goes_on_from_what_was_told(player: Player, bass: str) -> None:
    check(player, bass, relief="0.3", age="old")
    form = player.form(f"{bass}/quick")
    assert form["age"] == "old"


def test_a_card_reads_a_range_here_too(player: Player, bass: str) -> None:
    page = f"{bass}/quick?relief_tool=card"
    form = player.form(page, f"{bass}/quick")
    assert (form["relief_tool"], form["relief_card_kind"]) == ("card", "business")
    assert form["height_tool"] == "ruler"
    answer = player.post(f"{bass}/quick", {**form, "relief": "two", "height_4": "2.5", "height_step": "1"})
    result = plain(player.get(answer.headers["location"]).text)
    assert "0.60 to 0.90 mm" in result and "2.50 mm" in result
    # The next one starts from the same card and the same ruler.
    again = player.form(f"{bass}/quick")
    assert (again["relief_tool"], again["height_step"]) == ("card", "1")
    sent = {**again, "relief": "soup"}
    assert "Choose one of the answers" in plain(player.post(f"{bass}/quick", sent, 422).text)


def test_one_tool_is_changed_and_the_other_stays(player: Player, bass: str) -> None:
    html = player.get(f"{bass}/quick?relief_tool=ear&height_tool=gauge").text
    assert f'href="{bass}/quick?relief_tool=card&amp;height_tool=gauge"' in html
    assert f'href="{bass}/quick?relief_tool=ear&amp;height_tool=feeler"' in html


def test_the_result_is_what_is_believed_of_the_instrument(player: Player, bass: str) -> None:
    """What was read in setups before counts: a reading far from it is doubted, and asked for once more."""
    setup = player.begin(bass)
    player.fill(f"{setup}/read/relief", value="0.3")
    player.fill(f"{setup}/read/height.1", value="2.2")
    player.fill(f"{setup}/finish")
    result = plain(player.get(check(player, bass, height_1="2.2", height_tool="gauge")).text)
    assert "good" in result and "All is well" in result
    result = plain(player.get(check(player, bass, height_1="4.2", height_tool="gauge")).text)
    assert "measure again" in result and "Read again" in result and "Put this right" not in result
    # Read so twice, it is believed.
    result = plain(player.get(check(player, bass, height_1="4.2", height_tool="gauge")).text)
    assert "too high" in result and "measure again" not in result


def test_a_floating_bridge_is_read_at_its_outer_strings(player: Player) -> None:
    html = player.get(f"{player.make('electric_6_floating')}/quick").text
    assert 'name="height_6"' in html and 'name="height_1"' in html and "height_level" not in html


def test_it_does_not_hide_a_setup_under_way(player: Player, bass: str) -> None:
    player.begin(bass)
    check(player, bass, relief="0.3")
    assert "Setup under way" in plain(player.get(bass).text)


def test_the_drift_is_kept_in_words(player: Player, bass: str) -> None:
    result = check(player, bass, drift_4="-12", drift_1="3")
    setup = "/setups/" + result.rsplit("/", 1)[1]
    words = plain(player.get(f"{setup}/journal").text)
    assert "Tuning drift" in words and "E string −12 cents; G string +3 cents" in words


@pytest.mark.parametrize(
    ("filled", "sentence"),
    [
        ({}, "Read at least one thing"),
        ({"relief": "much"}, "as"),
        ({"relief": "12"}, "12 thou"),
        ({"height_4": "1e9"}, "That is not a length"),
        ({"height_4": "0"}, "A height is more than 0"),
        ({"relief": "0.3", "temperature": "21", "humidity": "150"}, "humidity goes from 0 to 100 %"),
        ({"relief": "0.3", "temperature": "warm"}, "is not a temperature"),
        ({"relief": "0.3", "humidity": "45"}, "Type the temperature in the room"),
        ({"relief": "0.3", "drift_4": "flat"}, "Type the cents"),
        ({"relief": "0.3", "age": "ancient"}, "how old the strings are"),
    ],
)
def test_bad_input_is_refused_beside_its_field(
    player: Player, bass: str, filled: dict[str, object], sentence: str
) -> None:
    answer = player.fill(f"{bass}/quick", status=422, **filled)
    assert sentence in plain(answer.text)
    assert 'id="errors"' in answer.text
    for value in filled.values():
        if value != "ancient":
            assert f'value="{value}"' in answer.text
    assert "Quick check" not in plain(player.get(f"{bass}/history").text).replace("Quick check ·", "")


def test_sent_twice_is_recorded_once(player: Player, bass: str) -> None:
    form = {**player.form(f"{bass}/quick"), "relief": "0.3"}
    player.post(f"{bass}/quick", form)
    assert "recorded already" in player.post(f"{bass}/quick", form, 409).text
    assert player.get(f"{bass}/history").text.count("<small>Quick check</small>") == 1
